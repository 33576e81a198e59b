"""`task propose` at the command line: what it shows, its JSON, what it refuses, and tasks that are kept of it."""

from __future__ import annotations

import shlex
from itertools import pairwise
from pathlib import Path

import pytest
from pyproj import Geod

from taskdb.core.course.likeness import likeness
from taskdb.core.model import Position
from taskdb.errors import ExitCode

ROOT = Path(__file__).parents[2]
GEOD = Geod(ellps="WGS84")
TRIANGLES = ("task", "propose", "--from", "001", "--shape", "fai-triangle", "--distance", "140km..180km")


@pytest.fixture
def region(built):
    return built(("set", "import", ROOT / "demo/region.csv", "--into", "region"))


@pytest.fixture
def cup(built):
    lines = (
        "contest new Cup --set region --site 001 --timezone Europe/Berlin --start 'line 8km' --finish 'cylinder 3km'",
        "contest day Cup 1 --date 2027-05-14 --start-opens 13:15 --wind 240/28km/h --speed 85km/h",
        "contest limits Cup --cover-glide 30 --working-altitude '1500m MSL'",
        "airspace import demo/airspace.geojson --into varn",
        "contest edit Cup --airspace varn",
        "task new A 001 004 003 001 --contest Cup",
        "task flown A --on 2027-03-14 --starters 20 --finishers 13",
    )
    words = [[str(ROOT / word) if word.startswith("demo/") else word for word in shlex.split(line)] for line in lines]
    return built(("set", "import", ROOT / "demo/region.csv", "--into", "region"), *words)


def places(run):
    waypoints = run("set", "show", "region", "--json").result()["waypoints"]
    return {one["code"]: Position(one["latitude_deg"], one["longitude_deg"]) for one in waypoints}


def lengths(course):
    return [GEOD.inv(a.longitude_deg, a.latitude_deg, b.longitude_deg, b.latitude_deg)[2] for a, b in pairwise(course)]


def test_all_fai_triangles_are_those_of_plain_loops(region) -> None:
    """Every two turn points by PROJ one at a time: 28 % a side (Sporting Code Section 3, 1.4.3d, as restated 2003)."""
    at = places(region)
    codes = sorted(at)
    expected = set()
    for n, a in enumerate(codes):
        for b in codes[n + 1 :]:
            if "001" in (a, b):
                continue
            sides = lengths([at["001"], at[a], at[b], at["001"]])
            if 140e3 <= sum(sides) <= 180e3 and min(sides) >= 0.28 * sum(sides):
                expected.add((a, b))
    result = region(*TRIANGLES, "--all", "--json").result()
    found = [tuple(proposal["codes"]) for proposal in result["proposals"]]
    assert {tuple(sorted(codes[1:3])) for codes in found} == expected
    assert len(found) == len(expected) == result["total"] == result["shown"] > 100
    assert found == sorted(found)
    assert {proposal["score"] for proposal in result["proposals"]} == {None}


def test_ten_are_shown_best_first_that_differ_and_the_total_is_told(region) -> None:
    at = places(region)
    result = region(*TRIANGLES, "--wind", "240/20km/h", "--limit", "8", "--json").result()
    shown = result["proposals"]
    assert (result["shown"], len(shown)) == (8, 8)
    assert result["total"] > 100
    scores = [proposal["score"] for proposal in shown]
    assert scores == sorted(scores, reverse=True) and 0 < scores[0] <= 1
    courses = [[at[code] for code in proposal["codes"]] for proposal in shown]
    assert all(likeness(a, b).apart_m >= 20_000 for n, a in enumerate(courses) for b in courses[:n])
    first = shown[0]
    sides = lengths(courses[0])
    assert (first["codes"][0], first["codes"][-1]) == ("001", "001")
    assert first["distance_m"] == pytest.approx(sum(sides), abs=0.01)
    assert first["perimeter_m"] == pytest.approx(sum(sides), abs=0.01)
    assert first["margin_percent"] == pytest.approx(100 * min(sides) / sum(sides) - 28, abs=1e-6)
    counted = {criterion["criterion"] for criterion in result["criteria"]}
    left_out = {one["criterion"] for one in result["left_out"]}
    assert set(first["figures"]) == counted
    assert {"into-wind", "wind-home", "features", "landable", "angle", "margin"} <= counted
    assert {"out-of-reach", "sun", "nearest-airspace", "last-flown", "finishers"} <= left_out


def test_the_screen_names_courses_figures_and_what_could_not_count(region) -> None:
    shown = region(
        *TRIANGLES, "--wind", "240/20km/h", "--limit", "3", "--no-color", env={"COLUMNS": "80"}, terminal=True
    ).stdout
    assert "FAI triangles, 140 to 180 km, from 001 Ormsau" in shown
    assert "head wind on the first leg" in shown
    assert "not counted: sun (not known: date, opening of the start, planned speed, time zone)" in " ".join(
        shown.split()
    )
    assert "not for primary navigation" in shown
    assert all(len(line) <= 80 for line in shown.splitlines())


def test_a_contests_day_brings_wind_sun_airspace_reach_and_what_was_flown(cup) -> None:
    rough = cup(*TRIANGLES, "--contest", "Cup", "--day", "1", "--json").result()
    # The shipped grid is rough here: of most courses nothing is told, and that is said.
    assert any(note.startswith("out-of-reach is not known of") and "300 m" in note for note in rough["notes"])
    result = cup(*TRIANGLES, "--contest", "Cup", "--day", "1", "--ignore-terrain", "--json").result()
    assert result["left_out"] == []
    figures = [proposal["figures"] for proposal in result["proposals"]]
    assert all(0 <= one["sun"] <= 180 and 0 <= one["nearest-airspace"] <= 10_000 for one in figures)
    assert all(one["out-of-reach"] % 1000 == 0 for one in figures)
    assert any("straight glide" in note.lower() for note in result["notes"])
    # On the 14th of May something flown on the 14th of March is two months old.
    alike = cup(*TRIANGLES, "--contest", "Cup", "--day", "1", "--apart", "40km", "--json").result()["proposals"]
    near = [one for one in alike if one["like"]]
    assert near and all(one["like"] == ["A"] for one in near)
    assert near[0]["figures"]["last-flown"] == pytest.approx(61 / (365.2425 / 12))
    assert near[0]["figures"]["finishers"] == pytest.approx(65.0)


@pytest.mark.parametrize(
    ("options", "holds"),
    [
        (["--landable", "aerodrome", "--landable", "field"], lambda w: w["landable"] in ("aerodrome", "field")),
        (["--feature", "water", "--feature", "structure"], lambda w: w["feature"] in ("water", "structure")),
        (["--inspected-since", "2026-04-01"], lambda w: (w["inspected_on"] or "") >= "2026-04-01"),
    ],
)
def test_turn_points_are_of_the_kinds_asked_for(region, options, holds) -> None:
    waypoints = {one["code"]: one for one in region("set", "show", "region", "--json").result()["waypoints"]}
    result = region(*TRIANGLES[:-1], "100km..200km", *options, "--all", "--json").result()
    used = {code for proposal in result["proposals"] for code in proposal["codes"][1:-1]}
    assert used and all(holds(waypoints[code]) for code in used)


def test_courses_keep_to_directions_to_distance_and_clear_of_airspace(region) -> None:
    at = places(region)
    home = at["001"]
    wide = ("--heading", "180..270", "--heading-home", "200..320", "--farthest", "55km", "--all", "--json")
    found = region(*TRIANGLES, *wide).result()["proposals"]
    assert found
    for proposal in found:
        first, last = at[proposal["codes"][1]], at[proposal["codes"][-2]]
        out, _, _ = GEOD.inv(home.longitude_deg, home.latitude_deg, first.longitude_deg, first.latitude_deg)
        back, _, off = GEOD.inv(last.longitude_deg, last.latitude_deg, home.longitude_deg, home.latitude_deg)
        assert 180 <= out % 360 <= 270
        assert 200 <= back % 360 <= 320
        assert off <= 55_000
    every = region(*TRIANGLES, "--all", "--json").result()["total"]
    assert region("airspace", "add", "Woods", "North", "--round", "001", "--radius", "3km").exit_code is ExitCode.DONE
    # All courses leave home: nothing is left.
    none = region(*TRIANGLES, "--avoid", "Woods", "--json").result()
    assert every > 0 and (none["total"], none["proposals"]) == (0, [])


def test_what_is_left_clear_of_airspace_is_what_keeps_off_it(region) -> None:
    """Against places each 200 m of every leg, by PROJ; within 150 m of the circle's edge nothing is decided."""
    at = places(region)
    assert region("airspace", "add", "Woods", "South", "--round", "002", "--radius", "6km").exit_code is ExitCode.DONE
    every = {tuple(one["codes"]) for one in region(*TRIANGLES, "--all", "--json").result()["proposals"]}
    clear = {
        tuple(one["codes"]) for one in region(*TRIANGLES, "--avoid", "Woods", "--all", "--json").result()["proposals"]
    }
    middle = at["002"]

    def off_m(course):
        spots = [spot for a, b in pairwise(course) for spot in GEOD.npts(
            at[a].longitude_deg, at[a].latitude_deg, at[b].longitude_deg, at[b].latitude_deg, 400)]  # fmt: skip
        spots += [(at[code].longitude_deg, at[code].latitude_deg) for code in course]
        here = ([middle.longitude_deg] * len(spots), [middle.latitude_deg] * len(spots))
        return min(GEOD.inv(*here, *zip(*spots, strict=True))[2])

    distances = {course: off_m(course) for course in every}
    assert clear < every
    assert {course for course in every if distances[course] > 6_150} <= clear
    assert not any(distances[course] < 5_850 for course in clear)


def test_proposals_become_tasks_in_one_operation(cup) -> None:
    given = (*TRIANGLES, "--contest", "Cup", "--day", "1", "--limit", "3", "--save", "Morning")
    preview = cup(*given, "--preview", "--json")
    assert preview.result()["saved"] == ["Morning 1", "Morning 2", "Morning 3"]
    assert cup("task", "find", "morning", "--json").result()["total"] == 0
    done = cup(*given, "--json").result()
    shown = cup("task", "show", "Morning 1", "--json").result()
    assert [point["code"] for point in shown["points"]] == done["proposals"][0]["codes"]
    assert shown["points"][0]["zone"]["text"] == "line 8km"
    assert (shown["contest"], shown["day"]) == ("Cup", 1)
    assert shown["distance"]["centres_m"] == pytest.approx(done["proposals"][0]["distance_m"], abs=0.01)
    assert shown["shape"]["fai_margin_percent"] == pytest.approx(done["proposals"][0]["margin_percent"], abs=1e-4)
    again = cup(*given)
    assert again.exit_code is ExitCode.REFUSED and "Morning 1" in again.stderr
    assert cup("undo").exit_code is ExitCode.DONE
    assert cup("task", "find", "morning", "--json").result()["total"] == 0


def test_home_on_a_side_starts_at_home_with_the_three_turn_points(region) -> None:
    side = (*TRIANGLES, "--start", "side", "--limit", "2", "--save", "Side", "--json")
    first = region(*side).result()["proposals"][0]
    assert len(first["codes"]) == 5 and first["distance_m"] >= first["perimeter_m"]
    shown = region("task", "show", "Side 1", "--json").result()
    assert [point["code"] for point in shown["points"]] == first["codes"]


def test_a_page_of_maps_is_written_and_not_written_over(region, tmp_path) -> None:
    page, maps = tmp_path / "p.html", tmp_path / "p.svg"
    done = region(*TRIANGLES, "--limit", "3", "--to", page, "--json").result()
    assert done["page"] == {"path": str(page), "bytes": page.stat().st_size}
    assert page.read_text(encoding="utf-8").count('<section class="card">') == 3
    assert region(*TRIANGLES, "--limit", "3", "--to", page).exit_code is ExitCode.REFUSED
    assert region(*TRIANGLES, "--limit", "3", "--to", page, "--yes").exit_code is ExitCode.DONE
    assert region(*TRIANGLES, "--limit", "3", "--to", maps, "--preview").exit_code is ExitCode.DONE
    assert not maps.exists()
    assert region(*TRIANGLES, "--to", tmp_path / "p.txt").exit_code is ExitCode.USAGE


def test_fewer_than_asked_for_are_told(region) -> None:
    few = region(
        "task", "propose", "--from", "001", "--shape", "out-and-return", "--distance", "140km..180km",
        "--apart", "60km",
    )  # fmt: skip
    assert "Only" in few.stdout and "60 km" in few.stdout


@pytest.mark.parametrize(
    ("options", "code", "told"),
    [
        (["--from", "nowhere"], ExitCode.NOT_FOUND, "nowhere"),
        (["--shape", "pentagon"], ExitCode.USAGE, "pentagon"),
        (["--distance", "300..310"], ExitCode.USAGE, "unit"),
        (["--distance", "300km.."], ExitCode.USAGE, "both ends"),
        (["--distance", "310km..300km"], ExitCode.USAGE, "ends before it begins"),
        (["--weigh", "speed=2"], ExitCode.USAGE, "no criterion 'speed'"),
        (["--weigh", "angle=much"], ExitCode.USAGE, "no number"),
        (["--weigh", "angle"], ExitCode.USAGE, "CRITERION=N"),
        (["--avoid", "nothing"], ExitCode.NOT_FOUND, "nothing"),
        (["--working-altitude", "1500m AGL", "--glide", "30"], ExitCode.USAGE, "above ground"),
        (["--all", "--save", "X"], ExitCode.USAGE, "--save"),
        (["--shape", "out-and-return", "--start", "side"], ExitCode.USAGE, "side"),
        (["--contest", "None"], ExitCode.NOT_FOUND, "None"),
    ],
)
def test_what_describes_no_course_is_refused(region, options, code, told) -> None:
    done = region(*TRIANGLES, *options)
    assert done.exit_code is code, done.stderr
    assert told in done.stderr


def test_a_set_that_offers_nothing_is_no_failure(region) -> None:
    done = region(*TRIANGLES[:-1], "900km..910km")
    assert done.exit_code is ExitCode.DONE
    assert "0 courses" in done.stdout and "widen --distance" in done.stdout


def test_a_list_that_tells_nothing_but_positions_still_shows_courses_and_says_that_nothing_counts(built, tmp_path):
    (tmp_path / "bare.csv").write_text("code,latitude_deg,longitude_deg\nH,50,10\nA,50.9,10.1\nB,50.5,11.2\n")
    bare = built(("set", "import", tmp_path / "bare.csv", "--into", "bare"))
    there_and_back = ("task", "propose", "--from", "H", "--shape", "out-and-return", "--set", "bare")
    done = bare(*there_and_back, "--distance", "100km..500km")
    assert done.exit_code is ExitCode.DONE
    assert "weighed by nothing" in done.stdout and "All that there are." in done.stdout
    assert [one["score"] for one in bare(*there_and_back, "--distance", "100km..500km", "--json").result()["proposals"]]
    nothing = bare(*there_and_back, "--distance", "900km..901km", "--to", tmp_path / "maps.svg")
    assert "no page is written" in nothing.stdout and not (tmp_path / "maps.svg").exists()


def test_what_is_avoided_without_knowing_its_height_is_named(cup):
    words = ("task", "propose", "--from", "001", "--shape", "out-and-return", "--distance", "120km..160km")
    done = cup(*words, "--contest", "Cup", "--avoid", "varn")
    assert "1 course " not in done.stdout and "0 courses" in done.stdout
    assert "though it may lie above what is flown: Varn shelf" in done.stdout


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--day", "3"), "--day is of a contest"),
        (("--class", "Club"), "--class is of a contest"),
        (("--distance", "0km..20km"), "0 to 20 km is no band of length"),
    ],
)
def test_what_cannot_hold_is_refused_and_not_left_aside(region, words, told):
    done = region(*TRIANGLES, *words)
    assert done.exit_code is ExitCode.USAGE and told in done.stderr
