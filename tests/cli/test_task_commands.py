"""Contests and tasks at the command line, to the files and the sheet: for people, for programs, with exit codes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from taskdb.errors import ExitCode

ROOT = Path(__file__).parents[2]
ZONES = [
    "cylinder 5km", "sector 90deg", "sector 90deg 20km", "keyhole 500m 90deg 10km", "area 20km",
    "area 5km..30km", "area 0km..30km", "area 5km..30km 040..110", "sector 90deg 20km bisector",
    "keyhole 500m 90deg 10km towards-next", "line 1km 310", "cylinder 3nmi", "cylinder 1500ft",
]  # fmt: skip


@pytest.fixture
def cup(built):
    return built(
        ("set", "import", ROOT / "demo/region.csv", "--into", "region"),
        ("contest", "new", "Cup", "--set", "region", "--site", "1", "--finish", "cylinder 3km"),
    )


def new(run, name, *words):
    done = run("task", "new", name, *words, "--json")
    assert done.exit_code is ExitCode.DONE, done.stderr
    return done.result()


@pytest.mark.parametrize("zone", ZONES)
def test_every_zone_is_taken_printed_and_kept(cup, zone):
    made = new(cup, "A", "001", "004", zone, "003", "001", "--contest", "Cup")
    kept = cup("task", "show", "A", "--json").result()["points"][1]
    assert kept["zone"]["text"] == made["points"][1]["zone"]["text"]
    assert kept["zone_from"] == "own"
    again = new(cup, "B", "001", "004", kept["zone"]["text"], "003", "001", "--contest", "Cup")
    assert again["points"][1]["zone"] == kept["zone"]
    assert again["fingerprint"] == made["fingerprint"]


def test_a_task_has_everything_that_the_contract_names(cup):
    task = new(cup, "A", "001", "004", "003", "001", "--contest", "Cup", "--day", "2", "--time", "3:00")
    assert {
        "task", "revision", "contest", "day", "class", "variant", "status", "set", "type", "fingerprint", "free",
        "take_off", "landing", "stale", "points", "legs", "distance", "shape", "time",
    } <= set(task)  # fmt: skip
    assert task["time"]["kind"] == "expected" and task["time"]["time_s"] == 10800
    distance = task["distance"]
    assert distance["task_m"] == pytest.approx(distance["centres_m"] - 3000, abs=0.002)
    assert distance["minimum_m"] == distance["maximum_m"] == distance["task_m"]
    (less,) = distance["deductions"]
    assert (less["number"], less["m"]) == (3, 3000.0)
    assert task["shape"]["kind"] == "triangle" and task["shape"]["closed"] is True
    assert sum(task["shape"]["side_percent"]) == pytest.approx(100, abs=0.001)
    assert task["points"][1]["zone_from"] == "built-in" and task["points"][3]["zone_from"] == "contest"


def test_an_area_task_has_a_minimum_a_maximum_and_a_minimum_time(cup):
    task = new(cup, "B", "001", "004", "area 20km", "003", "001", "--contest", "Cup", "--time", "3:00")
    distance, speed = task["distance"], task["time"]["speed_kmh"]
    assert task["type"] == "assigned-area" and task["time"]["kind"] == "minimum"
    assert distance["minimum_m"] < distance["task_m"] < distance["maximum_m"]
    assert speed["minimum"] == pytest.approx(distance["minimum_m"] * 3.6 / 10800, abs=1e-3)
    assert len(distance["minimum_at"]) == 4


def test_people_read_zones_in_words_and_every_screen_has_its_caution(cup):
    new(cup, "A", "001", "004", "area 20km", "003", "001", "--contest", "Cup")
    page = cup("task", "show", "A").stdout
    assert "area, radius 20 km" in page and "line 1 km, 500 m each side" in page
    assert "WGS84 ellipsoid" in page and "not for primary navigation" in page
    in_miles = cup("--units", "nmi", "task", "show", "A").stdout
    assert " nmi" in in_miles and " km/h" not in in_miles


def test_an_edit_is_a_revision_and_a_preview_is_none(cup):
    new(cup, "A", "001", "004", "003", "001", "--contest", "Cup")
    preview = cup("task", "edit", "A", "--drop", "2", "--preview")
    assert "would" in preview.stdout.lower()
    assert cup("task", "show", "A", "--json").result()["revision"] == 1
    edited = cup("task", "edit", "A", "--drop", "2", "--json").result()
    assert (edited["revision"], [p["code"] for p in edited["points"]]) == (2, ["001", "004", "001"])
    assert cup("task", "edit", "A", "--drop", "1", "--move", "0=1").exit_code is ExitCode.USAGE
    same = cup("task", "edit", "A", "--reverse", "--json").result()
    assert same["revision"] == 2, "out and return is the same the other way round: no revision"


def test_variants_stand_side_by_side(cup):
    new(cup, "A", "001", "004", "003", "001", "--contest", "Cup")
    new(cup, "B", "001", "002", "004", "cylinder 2km", "003", "001", "--contest", "Cup")
    result = cup("task", "compare", "A", "B", "--json").result()
    assert result["baseline"] == "A"
    (difference,) = result["differences"]
    assert [p["change"] for p in difference["points"]] == ["same", "added", "zone", "same", "same"]
    page = cup("task", "compare", "A", "B").stdout
    assert "A@1" in page and "B@1" in page and "+ point 1 002 is new" in page
    assert cup("task", "compare", "A").exit_code is ExitCode.USAGE


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["001"], ExitCode.USAGE),
        (["001", "nowhere"], ExitCode.NOT_FOUND),
        (["001", "Kleinquarn", "001"], ExitCode.REFUSED),
        (["line 1km", "001", "004"], ExitCode.USAGE),
        (["001", "cylinder 5", "004"], ExitCode.USAGE),
        (["001", "004", "line 1km", "001"], ExitCode.REFUSED),
        (["001", "004", "--time", "3"], ExitCode.USAGE),
        (["001", "004", "--speed", "95"], ExitCode.USAGE),
        (["001", "004", "--zone", "areas=area 5km"], ExitCode.USAGE),
        (["001", "004", "--zone", "1=cylinder 5"], ExitCode.USAGE),
        (["001", "004", "001", "--type", "area", "--zone", "1=line 1km"], ExitCode.REFUSED),
        (["001", "004", "001", "--zone", "1=sector 90deg"], ExitCode.DONE),
        (["001", "-33.9,151.2", "001"], ExitCode.DONE),
        (["001", "004", "--contst", "Cup"], ExitCode.USAGE),
        (["001", "004", "--set", "region", "--contest", "Cup"], ExitCode.USAGE),
    ],
)
def test_a_slip_in_a_new_task_is_refused_and_nothing_kept(cup, words, code):
    contest = [] if "--contest" in words else ["--contest", "Cup"]
    done = cup("task", "new", "A", *words, *contest)
    assert done.exit_code is code, done.stderr
    kept = cup("task", "list", "--json").result()["tasks"]
    assert bool(kept) is (code is ExitCode.DONE)
    assert "Traceback" not in done.stderr


def test_the_contest_of_the_environment_is_said(cup):
    done = cup("task", "new", "A", "001", "004", "--json", env={"TASKDB_CONTEST": "Cup"})
    assert done.result()["contest"] == "Cup"
    assert "TASKDB_CONTEST" in done.stderr


def test_changed_defaults_make_tasks_stale_and_refreshing_brings_them_up(cup):
    new(cup, "A", "001", "004", "003", "001", "--contest", "Cup")
    changed = cup("contest", "zones", "Cup", "--turn", "cylinder 2km", "--json").result()
    assert changed["stale_tasks"] == ["A"]
    assert len(cup("task", "show", "A", "--json").result()["stale"]) == 2
    refreshed = cup("task", "refresh", "--contest", "Cup", "--json")
    assert refreshed.exit_code is ExitCode.DONE
    task = cup("task", "show", "A", "--json").result()
    assert task["stale"] == [] and task["points"][1]["zone"]["text"] == "cylinder 2km" and task["revision"] == 2


def test_a_task_that_would_be_carried_onto_a_slip_is_left_undone(cup, tmp_path):
    new(cup, "A", "001", "004", "003", "001", "--contest", "Cup")
    slip = tmp_path / "slip.csv"
    slip.write_text("code,name,latitude_deg,longitude_deg\n004,Greifenlohe,48.731,12.326\n", encoding="utf-8")
    assert cup("set", "import", str(slip), "--into", "region").exit_code is ExitCode.DONE
    left = cup("task", "carry", "A", "--to", "region", "--json")
    assert left.exit_code is ExitCode.ACT
    (outcome,) = left.result()["tasks"]
    assert outcome["revision"] is None
    (doubt,) = outcome["unresolved"]
    assert doubt["code"] == "004" and doubt["candidates"][0]["code"] == "004"
    decided = cup("task", "carry", "A", "--to", "region", "--map", "004=004", "--json")
    assert decided.exit_code is ExitCode.DONE
    assert decided.result()["tasks"][0]["revision"] == 2


def test_files_are_packed_verified_and_never_written_over_unasked(cup, tmp_path):
    new(cup, "A: long/<b>", "001", "004", "003", "001", "--contest", "Cup")
    out = tmp_path / "out"
    packed = cup("export", "task", "--contest", "Cup", "--format", "gpx,geojson,csv", "--to", str(out), "--json")
    files = packed.result()["files"]
    assert {file["format"] for file in files} == {"gpx", "geojson", "csv"}
    assert all((out / file["path"]).is_file() and file["sha256"] for file in files)
    assert cup("export", "verify", str(out)).exit_code is ExitCode.DONE
    (out / files[0]["path"]).write_text("changed", encoding="utf-8")
    differs = cup("export", "verify", str(out), "--json")
    assert differs.exit_code is ExitCode.ACT
    assert differs.result()["differences"][0]["kind"] == "changed"
    zipped = [tmp_path / "a.zip", tmp_path / "b.zip"]
    for path in zipped:
        done = cup("export", "task", "--all", "--format", "gpx,csv", "--to", str(path))
        assert done.exit_code is ExitCode.DONE, done.stderr
    assert zipped[0].read_bytes() == zipped[1].read_bytes()
    other = tmp_path / "other"
    other.mkdir()
    (other / files[0]["path"]).write_text("mine", encoding="utf-8")
    refused = cup("export", "task", "--all", "--format", "csv,geojson,gpx", "--to", str(other))
    assert refused.exit_code is ExitCode.REFUSED and "--yes" in refused.stderr
    assert cup("export", "task", "--all", "--format", "doc", "--to", str(other)).exit_code is ExitCode.USAGE


def test_the_sheet_and_the_map_are_written(cup, tmp_path):
    new(cup, "A", "001", "004", "area 20km", "003", "001", "--contest", "Cup", "--day", "1")
    sheet, chart = tmp_path / "A.html", tmp_path / "A.svg"
    assert cup("sheet", "A", "--to", str(sheet)).exit_code is ExitCode.DONE
    page = sheet.read_text(encoding="utf-8")
    assert "radius 20 km" in page and "500 m each side" in page and "WGS84" in page
    assert "not for primary navigation" in page.lower() and "<script" not in page
    assert cup("sheet", "A", "--to", str(chart)).exit_code is ExitCode.DONE
    assert chart.read_text(encoding="utf-8").startswith("<svg")
    assert cup("sheet", "A", "--to", str(sheet)).exit_code is ExitCode.REFUSED
    assert cup("sheet", "--to", str(sheet)).exit_code is ExitCode.USAGE


def test_a_position_of_the_tasks_own_travels_with_it(cup, tmp_path):
    task = new(cup, "A", "001", "48.7,12.0", "003", "001", "--contest", "Cup")
    assert (task["points"][1]["latitude_deg"], task["points"][1]["longitude_deg"]) == (48.7, 12.0)
    out = tmp_path / "out"
    cup("export", "task", "A", "--format", "geojson", "--to", str(out))
    (path,) = out.glob("*.geojson")
    assert json.loads(path.read_text(encoding="utf-8"))["type"] == "FeatureCollection"


def test_the_points_for_a_speed_lie_in_their_areas_and_make_the_length(cup):
    new(cup, "B", "001", "004", "area 20km", "003", "area 10km..30km 300..100", "001", "--time", "2:00")
    result = cup("task", "path", "B", "--speed", "80km/h", "--json").result()
    # 80 km/h for two hours are 160 km; the finish cylinder's 3 km are none of it here (built-in lines).
    assert result["wanted_m"] == 160_000.0
    assert result["length_m"] == pytest.approx(160_000.0, abs=0.01)
    assert result["points"][1]["from_point_m"] <= 20_000.001
    assert 9_999.999 <= result["points"][2]["from_point_m"] <= 30_000.001
    assert "turn at" in cup("task", "path", "B", "--distance", "160km").stdout
    assert cup("task", "path", "B", "--distance", "900km").exit_code is ExitCode.REFUSED
    assert cup("task", "path", "B").exit_code is ExitCode.USAGE
    new(cup, "A", "001", "004", "003", "001")
    assert cup("task", "path", "A", "--distance", "100km").exit_code is ExitCode.REFUSED


def test_a_declared_course_shows_both_distances_and_promises_nothing(cup):
    task = new(
        cup, "D", "001", "004", "003", "001", "--set", "region", "--type", "declared", "--zone", "turns=cylinder 500m"
    )
    declared = task["declared"]
    # FAI Sporting Code Section 3, edition of about 2008, 1.2.11: 0.5 km for each crossing, so 1 km a turn cylinder.
    assert declared["sectors"]["distance_m"] - declared["cylinders"]["distance_m"] == pytest.approx(2000, abs=0.01)
    page = cup("task", "show", "D").stdout
    assert "sectors" in page and "cylinders" in page and "no promise" in page


def test_a_map_is_written_beside_the_page(cup, tmp_path):
    new(cup, "A", "001", "004", "003", "001", "--contest", "Cup")
    chart = tmp_path / "map.svg"
    assert cup("task", "show", "A", "--map", str(chart)).exit_code is ExitCode.DONE
    assert "<svg" in chart.read_text(encoding="utf-8")
    assert cup("task", "show", "A", "--map", str(chart)).exit_code is ExitCode.REFUSED
    assert cup("task", "show", "A", "--map", "map.png").exit_code is ExitCode.USAGE
