"""A librarian's commands: differences, patches between two stores, labels, copies, single waypoints, undo."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from taskdb.errors import ExitCode

pytestmark = pytest.mark.both_engines

ROOT = Path(__file__).parents[2]


@pytest.fixture
def region(built):
    files = (ROOT / "demo" / name for name in ("region.csv", "mends.csv"))
    return built(*(("set", "import", file, "--into", "region", "--author", "Anna") for file in files))


def test_a_difference_tells_counts_moves_and_changed_fields_only(region):
    result = region("set", "diff", "region@1", "region@2", "--json").result()
    assert (len(result["added"]), len(result["retired"]), len(result["changed"])) == (0, 0, 9)
    moved = {c["code"]: c for c in result["changed"] if c["moved_m"] is not None}
    assert set(moved) == {"106", "116", "271", "272", "304"}
    # demo/faults.md: 304 lies 22 km off its true place, due east of where it stood.
    assert moved["304"]["moved_m"] == pytest.approx(22_100, abs=50)
    assert moved["304"]["moved_bearing_deg"] == pytest.approx(90, abs=1)
    renamed = next(c for c in result["changed"] if c["code"] == "141")
    assert renamed["fields"] == {"name": ["Kleinquarn", "Kleinquarn im Moos"]}
    page = region("set", "diff", "region@1", "region@2").stdout
    assert "9 changed" in page.splitlines()[0] and "towards 090°" in page


def test_a_difference_of_roundings_names_the_tolerance(taskdb, tmp_path):
    rows = [("A", 48.1234567, 11.1234567), ("B", 48.2345678, 11.2345678), ("C", 48.3, 11.3)]
    for decimals, name in ((7, "fine"), (6, "coarse")):
        table = "".join(f"{code},{code},{lat:.{decimals}f},{lon:.{decimals}f}\n" for code, lat, lon in rows)
        (tmp_path / f"{name}.csv").write_text(f"code,name,latitude_deg,longitude_deg\n{table}")
        assert taskdb("set", "import", tmp_path / f"{name}.csv", "--into", name).exit_code is ExitCode.DONE
    told = taskdb("set", "diff", "fine", "coarse", "--json")
    (warning,) = told.json()["warnings"]
    assert warning.startswith("2 of 2 moves are below 1 m") and "--tolerance 1m" in warning
    assert "--tolerance 1m" in taskdb("set", "diff", "fine", "coarse", "--stat").stderr
    left = taskdb("set", "diff", "fine", "coarse", "--tolerance", "1m", "--json")
    assert left.json()["warnings"] == [] and left.result()["left_out"]["moves"] == 2
    assert taskdb("waypoint", "edit", "fine:C", "--at", "48.4,11.3", "--yes").exit_code is ExitCode.DONE
    assert taskdb("set", "diff", "fine", "--json").json()["warnings"] == []


def test_a_difference_is_an_exit_code_where_it_is_asked_for(region):
    assert region("set", "diff", "region@1", "region@2", "--exit-code").exit_code is ExitCode.ACT
    assert region("set", "diff", "region@2", "region@2", "--exit-code").exit_code is ExitCode.DONE


def test_a_difference_names_the_saved_tasks_that_it_touches(region):
    region("task", "new", "A", "001", "304", "001")
    result = region("set", "diff", "region@1", "region@2", "--tasks", "--json").result()
    assert result["tasks"] == [{"task": "A", "contest": None, "points": ["304"]}]


def test_a_patch_lands_in_another_store_and_a_conflict_keeps_everything(region, tmp_path):
    patch, other = str(tmp_path / "p.json"), ("--store", str(tmp_path / "other.sqlite"))
    assert region("set", "patch", "region@1", "region@2", "--to", patch).exit_code is ExitCode.DONE
    assert json.loads(Path(patch).read_text(encoding="utf-8"))
    region("set", "import", str(ROOT / "demo/region.csv"), "--into", "mine", *other)
    applied = region("set", "apply", patch, "--into", "mine", *other, "--json")
    assert applied.exit_code is ExitCode.DONE, applied.stdout
    here = region("waypoint", "show", "304", *other, "--json").result()
    there = region("waypoint", "show", "304", "--json").result()
    assert (here["latitude_deg"], here["longitude_deg"]) == (there["latitude_deg"], there["longitude_deg"])
    third = ("--store", str(tmp_path / "third.sqlite"))
    region("set", "import", str(ROOT / "demo/region.csv"), "--into", "mine", *third)
    region("waypoint", "edit", "304", "--at", "48.9,12.9", *third, "--yes")
    clash = region("set", "apply", patch, "--into", "mine", *third, "--json")
    assert clash.exit_code is ExitCode.REFUSED
    assert "304" in json.dumps(clash.error()["details"])
    assert region("set", "log", "mine", *third, "--json").result()["revisions"][0]["revision"] == 2
    theirs = region("set", "apply", patch, "--into", "mine", "--take", "theirs", *third)
    assert theirs.exit_code is ExitCode.DONE, theirs.stderr


def test_a_waypoint_is_added_edited_retired_and_brought_back(region):
    added = region("waypoint", "add", "region", "900", "--at", "48.5,11.7", "--name", "Turm", "--note", "new mast")
    assert added.exit_code is ExitCode.DONE, added.stderr
    edited = region("waypoint", "edit", "900", "--elevation", "1476ft", "--json")
    assert edited.exit_code is ExitCode.DONE
    # 1476 ft are 449.9 m (ICAO Annex 5: 1 ft = 0.3048 m).
    assert region("waypoint", "show", "900", "--json").result()["elevation_m"] == pytest.approx(449.9, abs=0.05)
    assert region("waypoint", "edit", "900", "--elevation", "450").exit_code is ExitCode.USAGE
    assert region("waypoint", "retire", "900").exit_code is ExitCode.DONE
    assert region("waypoint", "show", "900").exit_code is ExitCode.NOT_FOUND
    assert region("waypoint", "restore", "900").exit_code is ExitCode.DONE
    states = region("waypoint", "show", "900", "--history", "--json").result()["states"]
    assert [state["waypoint"]["elevation_m"] is None for state in states] == [True, False, False]


def test_retiring_a_used_point_asks_and_names_the_tasks(region):
    region("task", "new", "A", "001", "304", "001")
    refused = region("waypoint", "retire", "304")
    assert refused.exit_code is ExitCode.REFUSED and "A" in refused.stderr and "--yes" in refused.stderr
    assert region("waypoint", "retire", "304", "--yes").exit_code is ExitCode.DONE
    assert "retired" in region("task", "show", "A", "--json").result()["stale"][0]


def test_undo_walks_back_and_another_authors_operation_must_be_named(region):
    region("waypoint", "edit", "001", "--name", "Ormsau Süd", "--author", "Anna")
    undone = region("undo", "--author", "Anna")
    assert undone.exit_code is ExitCode.DONE, undone.stderr
    assert region("waypoint", "show", "001", "--json").result()["name"] == "Ormsau"
    other = region("undo", "--author", "Bert")
    assert other.exit_code in (ExitCode.REFUSED, ExitCode.NOT_FOUND)


def test_a_set_is_labelled_restored_and_copied_with_its_identities(region):
    assert region("set", "label", "region@2", "2027 edition").exit_code is ExitCode.DONE
    assert region("set", "list", "--json").result()["sets"][0]["label"] == "2027 edition"
    restored = region("set", "restore", "region@1", "--json")
    assert restored.exit_code is ExitCode.DONE
    assert region("set", "diff", "region@1", "region@3", "--exit-code").exit_code is ExitCode.DONE
    assert region("set", "copy", "region@2", "Cup points").exit_code is ExitCode.DONE
    first = region("waypoint", "show", "Cup points:001", "--json").result()
    assert first["identity"] == region("waypoint", "show", "region:001", "--json").result()["identity"]


def test_the_notice_for_members_is_one_page_with_its_caution(region, tmp_path):
    page = tmp_path / "notice.html"
    assert region("set", "notice", "region@1", "region@2", "--to", str(page)).exit_code is ExitCode.DONE
    text = page.read_text(encoding="utf-8")
    assert "Bahnhof Eschlwang" in text and "<script" not in text
    assert "navigation" in text.lower()


def test_the_day_from_which_an_edition_counts_is_shown_and_stands_in_its_notice(taskdb, tmp_path):
    rows = tmp_path / "region.csv"
    rows.write_text("code,name,latitude_deg,longitude_deg\n001,Ormsau,48.8720000,11.8105000\n", encoding="utf-8")
    taskdb("set", "import", str(rows), "--into", "region")
    taskdb("waypoint", "edit", "region:001", "--name", "Ormsau Nord")
    taskdb("set", "label", "region", "2027 edition", "--valid-from", "2027-05-01")
    assert "2027 edition, valid from 2027-05-01" in taskdb("set", "show", "region").stdout
    assert taskdb("set", "show", "region", "--json").result()["valid_from"] == "2027-05-01"
    assert taskdb("set", "show", "region@1", "--json").result()["valid_from"] is None
    page = tmp_path / "notice.html"
    assert taskdb("set", "notice", "region@1", "region", "--to", str(page)).exit_code is ExitCode.DONE
    assert "valid from <b>2027-05-01</b>" in page.read_text(encoding="utf-8")
