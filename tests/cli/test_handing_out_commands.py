"""Handing out at the command line: exports, packs, sheets, a day in one command, and the update after a mend."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from taskdb.errors import ExitCode

REGION = """code,name,latitude_deg,longitude_deg,elevation_m,landable
001,Ormsau,48.8720000,11.8105000,389,aerodrome
002,Kelmried,48.5610000,11.5220000,467,
003,Tannwöhr,49.0510000,12.4730000,497,
004,Greifenlohe,48.6310000,12.3260000,423,field
"""
FORMATS = "gpx,kml,geojson,csv,igc"


@pytest.fixture
def cup(taskdb, tmp_path: Path):
    path = tmp_path / "region.csv"
    path.write_text(REGION, encoding="utf-8")
    for words in (
        ("set", "import", path, "--into", "region"),
        ("contest", "new", "Cup", "--set", "region", "--site", "001"),
        ("task", "new", "A", "001", "003", "004", "001", "--contest", "Cup", "--day", "1", "--time", "2:30"),
        ("task", "new", "B", "001", "002", "001", "--contest", "Cup", "--day", "1", "--variant", "B"),
        ("task", "new", "C", "001", "002", "001", "--set", "region", "--type", "declared"),
    ):
        assert taskdb(*words).exit_code == ExitCode.DONE
    return taskdb


def test_tasks_are_exported_in_every_format_and_the_declaration_says_what_it_is_not(cup, tmp_path: Path):
    done = cup("export", "task", "A", "--format", FORMATS, "--to", tmp_path / "out", "--json")
    assert done.exit_code == ExitCode.DONE
    assert {f["format"] for f in done.result()["files"]} == set(FORMATS.split(","))
    assert any("no badge declaration" in warning for warning in done.json()["warnings"])
    assert "no badge declaration" in cup("export", "task", "A", "--format", "igc", "--to", tmp_path / "o2").stderr
    assert cup("export", "task", "A", "--format", "gpx", "--to", tmp_path / "o3", "--json").json()["warnings"] == []
    assert cup("export", "verify", tmp_path / "out").exit_code == ExitCode.DONE


def test_a_filter_of_find_chooses_tasks_and_points_come_along(cup, tmp_path: Path):
    given = ("--through", "003", "--format", "gpx,csv", "--with-points", "--to", tmp_path / "out", "--json")
    paths = [f["path"] for f in cup("export", "task", *given).result()["files"]]
    assert paths == ["Cup A.csv", "Cup A.gpx", "points.csv", "points.gpx"]
    rows = (tmp_path / "out/points.csv").read_text(encoding="utf-8").splitlines()
    assert [row[:3] for row in rows[1:]] == ["001", "003", "004"]
    declared = cup("export", "task", "--type", "declared", "--format", "gpx", "--to", tmp_path / "o2", "--json")
    assert [f["task"] for f in declared.result()["files"]] == ["C@1"]
    none = cup("export", "task", "--distance", "900km..", "--format", "gpx", "--to", tmp_path / "o3")
    assert none.exit_code == ExitCode.NOT_FOUND
    both = cup("export", "task", "A", "--through", "003", "--format", "gpx", "--to", tmp_path / "o4")
    assert both.exit_code == ExitCode.USAGE


def codes_in(path: Path) -> list[str]:
    return [row.split(",")[0] for row in path.read_text(encoding="utf-8").splitlines()[1:]]


def test_a_part_of_a_set_is_what_is_near_or_what_tasks_use(cup, tmp_path: Path):
    common = ("export", "set", "region", "--format", "csv")
    assert cup(*common, "--near", "001", "--within", "42km", "--to", tmp_path / "a").exit_code == ExitCode.DONE
    assert codes_in(tmp_path / "a/region.csv") == ["001", "002"]
    assert cup(*common, "--used-by", "B", "--used-by", "A", "--to", tmp_path / "b").exit_code == ExitCode.DONE
    assert codes_in(tmp_path / "b/region.csv") == ["001", "002", "003", "004"]
    assert cup(*common, "--near", "001", "--to", tmp_path / "c").exit_code == ExitCode.USAGE
    nowhere = cup(*common, "--near", "10,10", "--within", "1km", "--to", tmp_path / "d")
    assert nowhere.exit_code == ExitCode.NOT_FOUND


def test_a_day_is_handed_out_and_the_log_tells(cup, tmp_path: Path):
    day = ("handout", "--contest", "Cup", "--day", "1")
    undecided = cup(*day, "--to", tmp_path / "day.zip", "--json")
    assert undecided.exit_code == ExitCode.REFUSED and undecided.error()["details"]["choices"] == [["A", "B"]]
    done = cup(*day, "--to", tmp_path / "day.zip", "--to-whom", "all", "--proposed", "--json")
    result = done.result()
    assert result["tasks"] == ["A@1", "B@1"] and result["to_whom"] == "all" and result["handout"] == 1
    assert [task["new"] for task in result["differences"]] == [True, True] and result["withdrawn"] == []
    assert any("no badge declaration" in warning for warning in done.json()["warnings"])
    handed = cup("task", "log", "A", "--json").result()["handed_out"]
    assert [(h["to_whom"], h["revision"]) for h in handed] == [("all", 1)]
    assert [h["since"] for h in handed] == ["unchanged"]
    cup("task", "choose", "A")
    assert "status: proposed, not issued → issued" in cup("task", "log", "A").stdout
    assert cup("handout", "--to", tmp_path / "x").exit_code == ExitCode.USAGE
    assert cup("handout", "--contest", "Cup", "--day", "9", "--to", tmp_path / "x").exit_code == ExitCode.NOT_FOUND


def test_a_stale_task_is_not_handed_out_unasked(cup, tmp_path: Path):
    cup("waypoint", "edit", "003", "--set", "region", "--at", "49.052,12.473")
    cup("contest", "pin", "Cup", "region@2")
    cup("task", "choose", "A")
    refused = cup("handout", "--contest", "Cup", "--day", "1", "--to", tmp_path / "x", "--json")
    assert refused.exit_code == ExitCode.REFUSED
    assert any("A is stale" in fault for fault in refused.error()["details"]["faults"])
    assert not (tmp_path / "x").exists()
    assert cup("handout", "--contest", "Cup", "--day", "1", "--to", tmp_path / "x", "--yes").exit_code == ExitCode.DONE


def test_warnings_of_the_review_are_shown_and_errors_ask(cup, tmp_path: Path):
    cup("contest", "limits", "Cup", "--shortest-leg", "200km")
    cup("task", "choose", "A")
    words = ("handout", "--contest", "Cup", "--day", "1", "--to", tmp_path / "x")
    assert "warning: The leg from" in cup(*words).stdout
    told = cup(*words, "--yes", "--json").result()["findings"]
    assert told[0]["task"].startswith("A@") and "short-leg" in {finding["rule"] for finding in told[0]["findings"]}
    # A point that lies in another country than it says is an error of its set's checks.
    cup("waypoint", "edit", "003", "--set", "region", "--at", "-49.051,12.473", "--yes")
    cup("contest", "pin", "Cup", "region")
    cup("task", "refresh", "A", "--yes")
    asked = cup("handout", "--contest", "Cup", "--day", "1", "--to", tmp_path / "y", "--json")
    assert asked.exit_code == ExitCode.REFUSED, asked.stdout
    assert asked.error()["details"]["faults"] and not (tmp_path / "y").exists()
    preview = cup(*words, "--yes", "--preview")
    assert preview.exit_code == ExitCode.DONE and "error: " in preview.stdout


def test_update_shows_one_table_asks_once_and_is_one_operation(cup):
    cup("waypoint", "edit", "003", "--set", "region", "--at", "49.052,12.473")
    asked = cup("task", "update", "--contest", "Cup", "--day", "1", "--json")
    assert asked.exit_code == ExitCode.REFUSED
    assert asked.error()["details"]["would"]["tasks"][0]["changes"][0]["code"] == "003"
    looked = cup("task", "update", "--contest", "Cup", "--day", "1", "--preview")
    assert "would" in looked.stdout and "003 moved 111 m" in looked.stdout
    declined = cup("task", "update", "--contest", "Cup", "--day", "1", stdin="n\n", terminal=True)
    assert declined.exit_code == ExitCode.REFUSED and "003 moved 111 m" in declined.stderr
    before = len(cup("log", "--json").result()["operations"])
    done = cup("task", "update", "--contest", "Cup", "--day", "1", stdin="y\n", terminal=True)
    assert done.exit_code == ExitCode.DONE and done.stderr.count("[y/N]") == 1
    assert len(cup("log", "--json").result()["operations"]) == before + 1
    assert cup("task", "show", "A", "--json").result()["stale"] == []
    again = cup("task", "update", "--contest", "Cup", "--day", "1")
    assert again.exit_code == ExitCode.DONE and "Nothing to do" in again.stdout


def test_variants_stand_on_a_page_before_the_sheets(cup, tmp_path: Path):
    path = tmp_path / "sheet.html"
    given = ("sheet", "--contest", "Cup", "--day", "1", "--variants", "--to", path)
    assert cup(*given).exit_code == ExitCode.DONE
    assert path.read_text(encoding="utf-8").count('<section class="task">') == 3
    assert cup("sheet", "A", "--variants", "--to", tmp_path / "one.html").exit_code == ExitCode.USAGE


def test_a_manifest_names_task_set_fingerprint_and_digest(cup, tmp_path: Path):
    cup("export", "task", "A", "--format", "gpx", "--to", tmp_path / "out")
    (entry,) = json.loads((tmp_path / "out/MANIFEST.json").read_text(encoding="utf-8"))["files"]
    shown = cup("task", "show", "A", "--json").result()
    assert (entry["task"], entry["on_set"], entry["fingerprint"]) == ("A@1", "region@1", shown["fingerprint"])
    (tmp_path / "out" / entry["path"]).write_bytes(b"other")
    assert cup("export", "verify", tmp_path / "out").exit_code == ExitCode.ACT
