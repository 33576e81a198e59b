"""`task propose --type assigned-area`: areas of one radius in place of turn points, fitted as `task fit` fits them."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from pyproj import Geod

from taskdb.errors import ExitCode

ROOT = Path(__file__).parents[2]
GEOD = Geod(ellps="WGS84")
COURSES = ("task", "propose", "--from", "001", "--shape", "triangle", "--distance", "180km..260km", "--limit", "3")
SPEEDS = ("--slowest", "70km/h", "--fastest", "105km/h")
AREAS = (*COURSES, "--type", "assigned-area", *SPEEDS)
IN_WIND = (*AREAS, "--time", "3:00", "--wind", "270/20km/h")


@pytest.fixture
def region(built):
    return built(("set", "import", ROOT / "demo/region.csv", "--into", "region"))


@pytest.fixture
def cup(built):
    return built(
        ("set", "import", ROOT / "demo/region.csv", "--into", "region"),
        (
            "contest",
            "new",
            "Cup",
            "--set",
            "region",
            "--site",
            "001",
            "--start",
            "line 8km",
            "--finish",
            "cylinder 3km",
        ),
        ("contest", "day", "Cup", "1", "--wind", "240/28km/h"),
        ("contest", "classes", "Cup", "--class", "Club=70km/h..105km/h"),
    )


def test_areas_are_those_that_task_fit_finds_for_the_task_that_is_kept(region) -> None:
    result = region(*IN_WIND, "--save", "AAT", "--json").result()
    assert result["saved"] == ["AAT 1", "AAT 2", "AAT 3"]
    radii = set()
    for name, proposal in zip(result["saved"], result["proposals"], strict=True):
        kept = region("task", "show", name, "--json").result()
        areas = [point["zone"]["radius_m"] for point in kept["points"] if point["role"] == "area"]
        assert (kept["type"], kept["time"]["time_s"], len(areas)) == ("assigned-area", 10800, 2)
        found = region("task", "fit", name, *SPEEDS, "--wind", "270/20km/h", "--json").result()
        assert set(areas) == {found["radius_m"]}
        assert proposal["areas"] == {key: found[key] for key in proposal["areas"]}
        radii.add(found["radius_m"])
    assert len(radii) > 1


def test_the_slowest_arrive_in_time_and_the_fastest_not_before(region) -> None:
    """In calm air a time is the distance over the speed; areas reach no further than their points are apart (PROJ)."""
    waypoints = region("set", "show", "region", "--json").result()["waypoints"]
    at = {one["code"]: (one["longitude_deg"], one["latitude_deg"]) for one in waypoints}
    result = region(*AREAS, "--time", "3:00", "--json").result()
    assert len(result["proposals"]) == 3
    for proposal in result["proposals"]:
        areas, codes = proposal["areas"], proposal["codes"]
        for end, is_in_time in (("slowest", True), ("fastest", False)):
            assert areas[end]["time_s"] == pytest.approx(areas[end]["distance_m"] / areas[end]["speed_kmh"] * 3.6, 1e-6)
            assert (areas[end]["time_s"] <= 10800) is is_in_time
        assert areas["slowest"]["distance_m"] < proposal["distance_m"] < areas["fastest"]["distance_m"]
        legs = [GEOD.inv(*at[a], *at[b])[2] for a, b in pairwise(codes)]
        assert areas["radius_m"] < areas["cap_m"]
        assert areas["cap_m"] == pytest.approx(min(legs[0], legs[1] / 2, legs[2]), abs=0.01)


def test_courses_that_no_areas_suit_are_left_out_counted_and_told_with_a_time_that_would(region) -> None:
    result = region(*IN_WIND, "--json").result()
    tried = result["areas"]
    unsuited = tried["unsuited"]
    assert len(result["proposals"]) == 3 == tried["tried"] - unsuited and unsuited > 0
    assert (tried["too_long"], tried["too_short"]) == (0, unsuited)
    assert tried["asked"]["time_s"] == 10800 and tried["asked"]["wind"]["speed_kmh"] == 20
    told = region(*IN_WIND).stdout
    assert "a minimum time of 3:00" in told and f"{unsuited} too short for the fastest" in told
    hours, minutes = divmod(int(tried["time_that_fits_s"]) // 60, 60)
    time = f"{hours}:{minutes:02d}"
    assert hours == 2 and f"--time {time} would suit the best of these" in told
    shown = {tuple(proposal["codes"]) for proposal in result["proposals"]}
    sooner = region(*AREAS, "--time", time, "--wind", "270/20km/h", "--json").result()
    assert {tuple(proposal["codes"]) for proposal in sooner["proposals"]} - shown


def test_where_no_areas_suit_nothing_is_shown_or_kept(region) -> None:
    done = region(*AREAS, "--time", "6:00", "--limit", "1", "--save", "AAT")
    assert done.exit_code == ExitCode.DONE
    assert "5 too short for the fastest" in done.stdout and "choose another time" in done.stdout
    assert region("task", "find", "--json").result()["tasks"] == []


def test_speeds_and_wind_are_those_of_the_contest_unless_given(cup) -> None:
    asked = (*COURSES, "--contest", "Cup", "--type", "assigned-area", "--time", "2:30", "--class", "Club", "--day", "1")
    known = cup(*asked, "--json").result()["areas"]["asked"]
    assert (known["slowest_kmh"], known["fastest_kmh"]) == (70, 105)
    assert (known["wind"]["from_deg"], known["wind"]["speed_kmh"]) == (240, 28)
    given = cup(*asked, "--slowest", "60km/h", "--wind", "100/10km/h", "--json").result()["areas"]["asked"]
    assert (given["slowest_kmh"], given["fastest_kmh"], given["wind"]["from_deg"]) == (60, 105, 100)


def test_radii_come_in_the_steps_asked_for(region) -> None:
    result = region(*IN_WIND, "--step", "2nmi", "--json").result()
    assert result["proposals"]
    for proposal in result["proposals"]:
        assert proposal["areas"]["radius_m"] / 3704 == pytest.approx(round(proposal["areas"]["radius_m"] / 3704))


def test_the_page_says_what_the_areas_suit_and_draws_them(region, tmp_path) -> None:
    page = tmp_path / "page.html"
    region(*IN_WIND, "--to", str(page))
    text = page.read_text(encoding="utf-8")
    assert text.count("areas of ") == 4 and "a minimum time of 3:00" in text and "assigned area" in text


@pytest.mark.parametrize(
    ("words", "code", "hint"),
    [
        (AREAS, "no-time", "--time 3:00"),
        ((*COURSES, "--time", "3:00"), "areas-only", "--type assigned-area"),
        ((*COURSES, "--step", "1km"), "areas-only", "--type assigned-area"),
        ((*AREAS, "--time", "2:30", "--all"), "all-and-areas", "Not both"),
        ((*COURSES, "--type", "assigned-area", "--time", "3:00"), "no-speeds", "--slowest"),
        ((*AREAS, "--time", "2:30", "--slowest", "120km/h"), "bad-range", "Exchange"),
    ],
)  # fmt: skip
def test_half_of_what_areas_need_is_refused_with_the_other_half(region, words, code, hint) -> None:
    failed = region(*words, "--json")
    assert failed.exit_code == ExitCode.USAGE
    error = failed.error()
    assert error["code"] == code and hint in error["hint"]
