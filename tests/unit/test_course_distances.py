"""What a contest counts: legs, deductions, minimum and maximum after them, time and speeds.

On the equator and along meridians, where lengths are plain: one degree east is 111 319.490793 m (WGS84).
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from geographiclib.geodesic import Geodesic
from scipy.optimize import brentq

from taskdb.core.course.contains import contains
from taskdb.core.course.measure import measure_course
from taskdb.core.geodesy import EQUATOR_RADIUS_M, distance_m, path_length_m, sphere_distance_m
from taskdb.core.model import (
    Deduction,
    Earth,
    FreeChoice,
    Position,
    Rules,
    Task,
    TaskType,
)
from tests import building

DEGREE_M = 111_319.490793


def task(*stops: tuple[float, float, str], type: TaskType = TaskType.RACING, **fields: Any) -> Task:
    return building.task(*(((lat, lon), zone) for lat, lon, zone in stops), type=type, **fields)


def test_a_start_and_a_finish_cylinder_give_their_radius_where_the_contest_says_so() -> None:
    ring = task((0, 0, "cylinder 10km"), (0, 1, "cylinder 500m"), (0, 2, "cylinder 3km"))
    distances = measure_course(ring).distances
    assert distances.centres_m == pytest.approx(2 * DEGREE_M, abs=1e-5)
    assert distances.task_m == pytest.approx(2 * DEGREE_M - 13_000, abs=1e-5)
    assert [(t.number, t.metres) for t in distances.deductions] == [(0, 10_000), (2, 3_000)]
    assert distances.minimum_m == distances.maximum_m == distances.task_m
    to_centre = Rules(start_deduction=Deduction.TO_CENTRE, finish_deduction=Deduction.TO_CENTRE)
    assert measure_course(replace(ring, rules=to_centre)).distances.task_m == pytest.approx(2 * DEGREE_M, abs=1e-5)
    half = replace(ring, rules=Rules(finish_deduction=Deduction.TO_CENTRE))
    assert [t.number for t in measure_course(half).distances.deductions] == [0]


@pytest.mark.parametrize("zone", ["line 1km", "sector 90deg 10km", "keyhole 500m 90deg 10km"])
def test_lines_sectors_and_keyholes_take_nothing_off(zone: str) -> None:
    for kind in (TaskType.RACING, TaskType.DECLARED):
        course = measure_course(task((0, 0, zone), (0, 1, "sector 90deg 3"), (0, 2, zone), type=kind))
        assert course.distances.deductions == ()
        assert course.distances.task_m == course.distances.centres_m


def test_a_deduction_is_at_most_the_leg_that_it_is_taken_from() -> None:
    short = task((0, 0, "cylinder 20km"), (0, 0.1, "cylinder 500m"), (0, 1, "cylinder 3km"))
    distances = measure_course(short).distances
    assert distances.deductions[0].metres == pytest.approx(0.1 * DEGREE_M, abs=1e-5)
    assert distances.task_m == pytest.approx(0.9 * DEGREE_M - 3000, abs=1e-5)
    # Two deductions from the only leg leave nothing, not less.
    only = measure_course(task((0, 0, "cylinder 70km"), (0, 1, "cylinder 70km"))).distances
    assert only.task_m == 0
    assert sum(t.metres for t in only.deductions) == pytest.approx(DEGREE_M, abs=1e-5)


def test_a_declared_course_gives_half_a_kilometre_for_each_crossing_of_a_cylinder() -> None:
    # FAI Sporting Code Section 3, 1.2.11 (edition of about 2008): 0.5 km each time a leg crosses a cylinder.
    stops = ((0, 0, "cylinder 500m"), (0, 1, "cylinder 500m"), (1, 1, "sector 90deg 45"), (1, 0, "cylinder 500m"))
    distances = measure_course(task(*stops, type=TaskType.DECLARED)).distances
    assert distances.task_m == pytest.approx(distances.centres_m - 4 * 500, abs=1e-6)
    assert [t.number for t in distances.deductions] == [0, 1, 1, 3]
    assert [t.reason for t in distances.deductions[:2]] == [
        "cylinder: 0.5 km off the leg out of it",
        "cylinder: 0.5 km off the leg into it",
    ]
    larger = measure_course(task((0, 0, "cylinder 501m"), (0, 1, "line 1km"), type=TaskType.DECLARED)).distances
    assert [t.reason for t in larger.deductions] == ["cylinder: its radius, larger than 0.5 km, off the leg out of it"]


def test_an_area_task_counts_its_extremes_less_the_same_deductions() -> None:
    area = task((0, 0, "cylinder 10km"), (0, 1, "area 20km"), (0, 0, "cylinder 3km"), type=TaskType.ASSIGNED_AREA)
    distances = measure_course(area).distances
    assert distances.task_m == pytest.approx(2 * DEGREE_M - 13_000, abs=1e-4)
    assert distances.minimum_m == pytest.approx(2 * (DEGREE_M - 20_000) - 13_000, abs=1e-3)
    assert distances.maximum_m == pytest.approx(2 * (DEGREE_M + 20_000) - 13_000, abs=1e-3)
    assert distances.minimum_at is not None
    assert distances.maximum_at is not None
    for path, length in ((distances.minimum_at, distances.minimum_m), (distances.maximum_at, distances.maximum_m)):
        assert path_length_m(path, Earth.WGS84) - 13_000 == pytest.approx(length, abs=1e-6)
        assert contains(area.points[1].zone, area.points[1].place.position, path[1], tolerance_m=1e-3)
        assert (path[0], path[-1]) == (area.points[0].place.position, area.points[2].place.position)
    # Touching every zone, it begins on one ring round the home and ends on the other.
    assert distances.shortest_touching_m == pytest.approx(2 * (DEGREE_M - 20_000) - 13_000, abs=1e-3)


def test_an_area_on_the_way_costs_nothing_at_the_least() -> None:
    through = task((0, 0, "line 1km"), (0, 1, "area 20km"), (0, 2, "line 1km"), type=TaskType.ASSIGNED_AREA)
    assert measure_course(through).distances.minimum_m == pytest.approx(2 * DEGREE_M, abs=1e-3)


def test_the_shortest_touching_path_touches_lines_sectors_and_cylinders() -> None:
    racing = task((0, 0, "line 10km"), (0, 1, "cylinder 500m"), (0, 0, "line 10km"))
    # Both lines run through the home, square to the leg: the path begins and ends on them, at the cylinder's height.
    assert measure_course(racing).distances.shortest_touching_m == pytest.approx(2 * (DEGREE_M - 500), abs=0.01)
    # An unbounded sector that opens away is touched at its apex.
    sector = task((0, 0, "line 1km"), (0, 1, "sector 90deg"), (0, 0, "line 1km"))
    assert measure_course(sector).distances.shortest_touching_m == pytest.approx(2 * DEGREE_M, abs=0.3)
    # One that opens towards the course holds all of it.
    towards = task((0, 0, "cylinder 1km"), (0, 1, "sector 90deg 270"), (0, 0.5, "cylinder 1km"))
    assert measure_course(towards).distances.shortest_touching_m == pytest.approx(DEGREE_M / 2 - 2000, abs=0.01)
    # A start within a turn's zone: nothing to fly.
    nested = task((0, 0, "cylinder 10km"), (0, 0.01, "cylinder 500m"), (0, 0, "cylinder 5km"))
    assert measure_course(nested).distances.shortest_touching_m == pytest.approx(0, abs=1e-6)


def test_a_ring_segment_counts_through_its_middle_and_a_full_ring_at_its_centre() -> None:
    def centres(zone: str) -> float:
        stops = ((0, 0, "line 1km"), (0, 1, zone), (0, 0, "line 1km"))
        return measure_course(task(*stops, type=TaskType.ASSIGNED_AREA)).distances.centres_m

    assert centres("area 10km..30km 080..100") == pytest.approx(2 * (DEGREE_M + 20_000), abs=1e-4)
    assert centres("area 10km..30km 350..010") == pytest.approx(
        2 * distance_m(Position(0, 0), Position(0.180874, 1)), abs=0.2
    )
    assert centres("area 10km..30km") == pytest.approx(2 * DEGREE_M, abs=1e-4)
    # A segment that begins at its point holds it.
    assert centres("area 0km..30km 080..100") == pytest.approx(2 * DEGREE_M, abs=1e-4)


def test_a_modified_task_has_no_maximum() -> None:
    modified = task(
        (0, 0, "line 1km"), (0, 1, "cylinder 500m"), (0, 0, "line 1km"),
        type=TaskType.MODIFIED, free=FreeChoice(most_points=3), time_s=7200,
    )  # fmt: skip
    course = measure_course(modified)
    assert course.distances.minimum_m == pytest.approx(2 * DEGREE_M, abs=1e-4)
    assert course.distances.maximum_m is None
    assert course.distances.maximum_at is None
    assert course.time.kind == "minimum"
    assert course.time.maximum_kmh is None


def test_the_sphere_measures_lengths_and_leaves_zones_on_the_ellipsoid() -> None:
    stops = ((50, 9, "line 1km"), (50, 11, "area 20km"), (50, 9, "line 1km"))
    sphere = task(*stops, type=TaskType.ASSIGNED_AREA, rules=Rules(earth=Earth.FAI_SPHERE))
    distances = measure_course(sphere).distances
    home, there = Position(50, 9), Position(50, 11)
    assert distances.centres_m == pytest.approx(2 * sphere_distance_m(home, there), abs=1e-6)
    assert distances.maximum_at is not None
    at = distances.maximum_at[1]
    # The furthest place lies 20 km off by the ellipsoid, which is 19.94 km by the sphere.
    assert distance_m(there, at) == pytest.approx(20_000, abs=1e-3)
    assert distances.maximum_m == pytest.approx(2 * sphere_distance_m(home, at), abs=1e-6)
    assert sphere_distance_m(there, at) < 19_950


def test_time_makes_speeds_and_speed_makes_time() -> None:
    stops = ((0, 0, "line 1km"), (0, 1, "area 20km"), (0, 0, "line 1km"))
    timed = measure_course(task(*stops, type=TaskType.ASSIGNED_AREA, time_s=10_800)).time
    assert (timed.kind, timed.time_s) == ("minimum", 10_800)
    assert timed.minimum_kmh == pytest.approx(2 * (DEGREE_M - 20_000) / 3000, abs=1e-4)
    assert timed.task_kmh == pytest.approx(2 * DEGREE_M / 3000, abs=1e-4)
    assert timed.maximum_kmh == pytest.approx(2 * (DEGREE_M + 20_000) / 3000, abs=1e-4)
    racing = measure_course(task((0, 0, "line 1km"), (0, 1, "line 1km"), speed_kmh=100.0)).time
    assert racing.kind == "expected"
    assert racing.time_s == pytest.approx(DEGREE_M / 100_000 * 3600, abs=1e-3)
    assert racing.task_kmh == pytest.approx(100)
    none = measure_course(task((0, 0, "line 1km"), (0, 1, "line 1km"))).time
    assert (none.kind, none.time_s, none.task_kmh) == (None, None, None)


def test_a_leg_without_length_has_no_course() -> None:
    legs = measure_course(task((0, 0, "cylinder 1km"), (0, 0, "cylinder 2km"), (0, 1, "line 1km"))).legs
    assert [(leg.from_number, leg.to_number, leg.course_true_deg) for leg in legs] == [(0, 1, None), (1, 2, 90)]


def test_what_is_no_course_yet_measures_nothing_and_breaks_nothing() -> None:
    assert measure_course(task()).distances.centres_m == 0
    assert measure_course(task((0, 0, "cylinder 1km"))).legs == ()


def test_without_extremes_only_they_are_missing() -> None:
    area = task((0, 0, "line 1km"), (0, 1, "area 20km"), (0, 0, "line 1km"), type=TaskType.ASSIGNED_AREA)
    quick, whole = measure_course(area, extremes=False), measure_course(area)
    assert quick.legs == whole.legs
    assert quick.distances.task_m == whole.distances.task_m
    assert (quick.distances.minimum_m, quick.distances.shortest_touching_m) == (None, None)


@pytest.mark.parametrize(
    ("earth", "metres_a_radian"), [(Earth.WGS84, EQUATOR_RADIUS_M), (Earth.FAI_SPHERE, 6_371_000.0)]
)
def test_extremes_are_found_between_the_samples_of_an_edge(earth: Earth, metres_a_radian: float) -> None:
    # On the equator both lie due west and due east of the area's point; from 013° on, samples lie 2° and 3° beside
    # them, where the way is 12 m longer and more. The zone is on the ellipsoid, whatever lengths are measured on.
    stops = ((0, 0, "line 1km 0"), (0, 1, "area 20km 013..308"), (0, 0, "line 1km 0"))
    task_ = task(*stops, type=TaskType.ASSIGNED_AREA, rules=Rules(earth=earth))
    distances, reach = measure_course(task_).distances, 20_000 / EQUATOR_RADIUS_M
    assert distances.minimum_m == pytest.approx(2 * metres_a_radian * (math.radians(1) - reach), abs=1e-3)
    assert distances.maximum_m == pytest.approx(2 * metres_a_radian * (math.radians(1) + reach), abs=1e-3)


@pytest.mark.parametrize("home_deg", [0.6, 0.9])
@pytest.mark.parametrize("gap", ["", " 020..340", " 355..350"])
def test_the_shortest_way_into_areas_that_overlap_turns_where_their_edges_cross(home_deg: float, gap: str) -> None:
    # Home lies on the meridian between both, so that the edges cross on it, where they slope by 0.39: below 1 it does
    # not pay to touch them one after the other (a way of 2δ more for 2 · 0.39δ less).
    def off_m(latitude: float) -> float:
        return float(Geodesic.WGS84.Inverse(0, 1.0, latitude, 1.1)["s12"]) - 30_000

    crossing = brentq(off_m, 0.0, 0.5, xtol=1e-12)
    home = (home_deg, 1.1)
    stops = ((*home, "line 1km 0"), (0, 1.0, f"area 30km{gap}"), (0, 1.2, "area 30km"), (*home, "line 1km 0"))
    distances = measure_course(task(*stops, type=TaskType.ASSIGNED_AREA)).distances
    expected = 2 * float(Geodesic.WGS84.Inverse(*home, crossing, 1.1)["s12"])
    assert distances.minimum_m == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize("finish", [0.02, 0.2])
@pytest.mark.parametrize("radii", [(20, 20), (20, 30), (30, 20)])
def test_a_task_mirrored_at_the_equator_has_the_same_extremes(finish: float, radii: tuple[int, int]) -> None:
    # The longest way is a zigzag, of which there are two: the one that comes to the finish from the other side.
    def extremes(latitude: float) -> tuple[float | None, float | None]:
        areas = ((0, 0.5, f"area {radii[0]}km"), (0, 1, f"area {radii[1]}km"))
        stops = ((0, 0, "line 1km 0"), *areas, (latitude, 1.5, "line 1km 0"))
        distances = measure_course(task(*stops, type=TaskType.ASSIGNED_AREA)).distances
        assert distances.maximum_at is not None
        first, second = (place.latitude_deg for place in distances.maximum_at[1:3])
        assert (first < 0 < second) if latitude < 0 else (first > 0 > second)
        return distances.minimum_m, distances.maximum_m

    assert extremes(finish) == pytest.approx(extremes(-finish), abs=1e-3)
