"""`task fit` at the command line: what people read, what programs get, the variant that is kept, and each refusal."""

from __future__ import annotations

from pathlib import Path

import pytest

from taskdb.core.quantities import STATUTE_MILE_M
from taskdb.errors import ExitCode

ROOT = Path(__file__).parents[2]
SPEEDS = ("--slowest", "70km/h", "--fastest", "85km/h")


@pytest.fixture
def cup(built):
    return built(
        ("set", "import", ROOT / "demo/region.csv", "--into", "region"),
        ("contest", "new", "Cup", "--set", "region", "--site", "001", "--finish", "cylinder 3km"),
        ("contest", "classes", "Cup", "--class", "Club=70km/h..85km/h"),
        ("contest", "day", "Cup", "2", "--wind", "240/15kt"),
        (
            "task", "new", "Day 2 A", "045", "232", "area 10km..25km 180..300", "004", "area 20km", "236",
            "area 25km", "001", "--contest", "Cup", "--type", "assigned-area", "--day", "2", "--class", "Club",
            "--variant", "A", "--time", "2:45",
        ),
        ("task", "new", "Race", "001", "003", "004", "001", "--contest", "Cup"),
    )  # fmt: skip


def fitted(run, *words):
    done = run("task", "fit", "Day 2 A", *words, "--json")
    assert done.exit_code is ExitCode.DONE, done.stderr
    return done.result()


def test_the_answer_has_everything_that_the_contract_names(cup):
    found = fitted(cup, *SPEEDS)
    assert {
        "task", "radius_m", "radii_m", "cap_m", "slowest", "fastest", "time_window_s", "out_of_reach", "saved",
    } <= set(found)  # fmt: skip
    assert found["task"] == "Day 2 A" and found["saved"] is None and found["out_of_reach"] == []
    assert found["radius_m"] == 14_000 and found["radius_m"] < found["cap_m"]
    assert [(area["number"], area["radius_m"]) for area in found["radii_m"]] == [(n, 14_000) for n in (1, 2, 3)]
    slow, fast = found["slowest"], found["fastest"]
    assert (slow["speed_kmh"], fast["speed_kmh"], slow["fits"], fast["fits"]) == (70, 85, True, True)
    assert found["time_window_s"] == [slow["time_s"], fast["time_s"]]
    assert slow["time_s"] <= 9900 <= fast["time_s"]
    assert slow["distance_m"] < fast["distance_m"]


def test_speeds_and_wind_are_those_of_the_class_and_its_day_where_none_are_given(cup):
    assert fitted(cup) == fitted(cup, *SPEEDS, "--wind", "240/15kt") | {"wind_from": "day"}
    assert fitted(cup)["slowest"]["time_s"] != fitted(cup, "--wind", "060/15kt")["slowest"]["time_s"]
    said = cup("task", "fit", "Day 2 A").stdout
    assert "240°/15 kt (the day's)" in said and "class Club" in said


def test_people_read_the_radius_what_it_means_and_whose_rules_decide(cup):
    said = cup("task", "fit", "Day 2 A").stdout
    assert said.startswith("Day 2 A, revision 1: radius 14 km\n")
    assert "minimum times from 2:42 to 3:16" in said
    assert "the areas 2 (004) and 3 (236) begin to overlap" in said
    assert "Of the ring at 1 the outer radius is sized" in said
    assert "the pilot in command" in said and "no promise" in said


def test_where_none_suits_it_is_told_what_is_out_of_reach_and_which_time_would_do(cup):
    done = cup("task", "fit", "Day 2 A", "--time", "2:00", "--slowest", "60km/h", "--fastest", "90km/h")
    assert done.exit_code is ExitCode.DONE
    assert "no radius suits both" in done.stdout
    assert "Out of reach: for the slow" in done.stdout and "--time 2:45" in done.stdout
    found = fitted(cup, "--time", "2:00", "--slowest", "60km/h", "--fastest", "90km/h")
    assert found["radius_m"] is None and found["out_of_reach"] == ["slowest"]
    assert {area["radius_m"] for area in found["radii_m"]} == {found["cap_m"]}
    assert found["time_that_fits_s"] == 9900
    assert fitted(cup, "--time", "2:45", "--slowest", "60km/h", "--fastest", "90km/h")["radius_m"] is not None


def test_radii_stand_in_the_unit_that_was_asked_for(cup):
    found = fitted(cup, "--step", "1mi", "--save", "M")
    assert found["radius_m"] / STATUTE_MILE_M == pytest.approx(9, abs=1e-6)
    zones = [point["zone"]["text"] for point in cup("task", "show", "Day 2 M", "--json").result()["points"]]
    assert zones[1:4] == ["area 10km..9mi 180..300", "area 9mi", "area 9mi"]
    assert "radius 9 mi" in cup("task", "fit", "Day 2 A", "--step", "1mi").stdout


def test_each_and_shares_and_what_is_kept(cup):
    each = {area["code"]: area["radius_m"] for area in fitted(cup, "--each")["radii_m"]}
    assert each["232"] == each["236"] > each["004"]
    found = fitted(cup, "--share", "1=2", "--keep", "3")
    assert found["radius_m"] is None and [area["number"] for area in found["radii_m"]] == [1, 2]
    assert "Kept as it is: 3 (236), area 25km." in cup("task", "fit", "Day 2 A", "--share", "1=2", "--keep", "3").stdout


def test_a_variant_is_one_operation_and_its_preview_none(cup):
    before = cup("store", "info", "--json").result()
    preview = cup("task", "fit", "Day 2 A", "--save", "B", "--preview")
    assert preview.exit_code is ExitCode.DONE and preview.stdout.startswith("would")
    assert cup("store", "info", "--json").result() == before
    found = fitted(cup, "--time", "2:50", "--save", "B")
    assert found["saved"] == "Day 2 B"
    made = cup("task", "show", "Day 2 B", "--json").result()
    assert (made["variant"], made["status"], made["time"]["time_s"]) == ("B", "proposed", 10200)
    assert made["distance"]["minimum_m"] == pytest.approx(found["slowest"]["distance_m"], abs=0.002)
    assert made["distance"]["maximum_m"] == pytest.approx(found["fastest"]["distance_m"], abs=0.002)
    assert made["points"][1]["zone"]["from_radial_deg"] == 180
    assert [point["zone_from"] for point in made["points"]][1:4] == ["own"] * 3
    assert cup("task", "show", "Day 2 A", "--json").result()["revision"] == 1
    assert cup("undo", "--yes").exit_code is ExitCode.DONE
    assert all(row["task"] != "Day 2 B" for row in cup("task", "list", "--json").result()["tasks"])


REFUSED = [
    (("Race",), ExitCode.REFUSED, "no-areas", "--type assigned-area"),
    (("Day 2 A", "--save", "A"), ExitCode.REFUSED, "task-exists", "task edit"),
    (("Day 2 A", "--time", "0:20", "--save", "B"), ExitCode.REFUSED, "nothing-suits", "--time "),
    (("Day 2 A", "--save", " "), ExitCode.USAGE, "bad-name", "variant"),
    (("Day 2 A", "--keep", "0"), ExitCode.USAGE, "no-such-area", "1, 2, 3"),
    (("Day 2 A", "--share", "1=0"), ExitCode.USAGE, "bad-value", "--share 1=2"),
    (("Day 2 A", "--share", "1=2", "--each"), ExitCode.USAGE, "each-or-share", "one of them"),
    (("Day 2 A", "--share", "1=2", "--keep", "1"), ExitCode.USAGE, "keep-or-share", "one of them"),
    (("Day 2 A", "--keep", "1", "--keep", "2", "--keep", "3"), ExitCode.USAGE, "all-kept", "--keep"),
    (("Day 2 A", "--step", "1"), ExitCode.USAGE, "missing-unit", "1km"),
    (("Day 2 A", "--slowest", "90km/h"), ExitCode.USAGE, "bad-range", "Exchange"),
    (("Day 3 A",), ExitCode.NOT_FOUND, "task-not-found", "Day 2 A"),
]


@pytest.mark.parametrize(("words", "exit_code", "code", "way_out"), REFUSED, ids=lambda value: str(value)[:40])
def test_what_cannot_be_sized_is_refused_with_a_way_out(cup, words, exit_code, code, way_out):
    done = cup("task", "fit", *words, "--json")
    assert done.exit_code is exit_code
    error = done.error()
    assert error["code"] == code and way_out in f"{error['message']} {error['hint']}"


def test_other_tasks_that_cannot_be_sized(cup):
    made = [
        ("Free", ("001", "003", "001", "--contest", "Cup", "--type", "modified", "--time", "3:00"), "open-ended"),
        ("Odd", ("001", "003", "sector 90deg 20km 45", "004", "area 9km", "001", "--set", "region", "--type", "area"),
         "no-time"),
        ("At home", ("001", "line 1km 90", "001", "area 9km", "003", "--set", "region", "--time", "1:00"), "no-room"),
    ]  # fmt: skip
    for name, words, code in made:
        assert cup("task", "new", name, *words).exit_code is ExitCode.DONE
        done = cup("task", "fit", name, *SPEEDS, "--json")
        assert done.error()["code"] == code, name
    sector = cup("task", "fit", "Odd", *SPEEDS, "--time", "2:00", "--json")
    assert (sector.exit_code, sector.error()["code"]) == (ExitCode.REFUSED, "no-one-radius")
    assert "--keep 1" in sector.error()["hint"]
    assert cup("task", "fit", "Odd", *SPEEDS, "--time", "2:00", "--keep", "1").exit_code is ExitCode.DONE
    alone = cup("task", "fit", "Odd", "--time", "2:00", "--json")
    assert alone.error()["code"] == "no-speeds"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--slowest", "0km/h", "--fastest", "85km/h"), "--slowest: nobody flies at 0 km/h"),
        ((*SPEEDS, "--time", "0:00"), "0:00 is no minimum time"),
    ],
)
def test_a_speed_or_a_time_of_nothing_is_refused_and_not_taken_for_none_given(cup, words, told):
    done = cup("task", "fit", "Day 2 A", *words)
    assert done.exit_code is ExitCode.USAGE and told in done.stderr


def test_a_wind_that_nobody_beats_is_named_as_the_reason(cup):
    said = cup("task", "fit", "Day 2 A", *SPEEDS, "--wind", "240/90km/h").stdout
    assert "Out of reach by the wind" in said and "whoever makes 85 km/h or less" in said
    assert "areas would have to be larger" not in said
