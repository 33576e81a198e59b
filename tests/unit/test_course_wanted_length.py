"""The points for a wanted length: they lie in their areas and make that length as the task counts it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from taskdb.core.course.contains import contains
from taskdb.core.course.deductions import dues, take
from taskdb.core.course.extremes import path_through
from taskdb.core.course.measure import measure_course
from taskdb.core.course.wanted import path_of_length
from taskdb.core.model import Role, Task, TaskType
from taskdb.errors import RefusedError
from tests import building

ZONES = [
    "area 20km",
    "cylinder 500m",
    "area 5km..30km",
    "area 10km..30km 120..250",
    "area 10km..30km 300..040",
    "area 0km..30km 250..020",
    "sector 300deg 20km",
    "keyhole 5km 60deg 25km",
]


def task(*areas: str, start: str = "cylinder 5km") -> Task:
    home, *places = [(51.0, 10.0), (51.5, 11.0), (52.0, 10.2), (51.6, 9.2)][: len(areas) + 1]
    stops = [(home, start), *zip(places, areas, strict=True), (home, "line 1km")]
    return building.task(*stops, type=TaskType.ASSIGNED_AREA, name="B")


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("part", [0.0, 0.03, 0.4, 0.5, 0.9, 1.0])
def test_the_points_make_the_wanted_length_within_their_areas(zone: str, part: float) -> None:
    given = task(zone, "area 15km", zone)
    distances = measure_course(given).distances
    assert distances.minimum_m is not None
    assert distances.maximum_m is not None
    wanted = distances.minimum_m + part * (distances.maximum_m - distances.minimum_m)
    found = path_of_length(given, wanted)
    assert found.length_m == pytest.approx(wanted, abs=2e-3)
    # Measured again from the points: after the start cylinder's radius.
    path = path_through(found.points, given.rules.earth)
    assert take(path.legs_m, dues(given))[0] == pytest.approx(wanted, abs=2e-3)
    for point, at in zip(given.points[1:-1], found.points[1:-1], strict=True):
        assert contains(point.zone, point.place.position, at, tolerance_m=2e-3)


def test_the_length_through_the_centres_gives_the_centres() -> None:
    given = task("area 20km", "area 15km")
    found = path_of_length(given, measure_course(given).distances.task_m)
    for point, at in zip(given.points, found.points, strict=True):
        assert abs(point.place.position.latitude_deg - at.latitude_deg) < 1e-6
        assert abs(point.place.position.longitude_deg - at.longitude_deg) < 1e-6


@pytest.mark.parametrize("beyond_m", [-1.0, 1.0])
def test_a_length_out_of_reach_is_refused_with_the_limits(beyond_m: float) -> None:
    given = task("area 20km")
    distances = measure_course(given).distances
    limit = distances.minimum_m if beyond_m < 0 else distances.maximum_m
    assert limit is not None
    with pytest.raises(RefusedError) as refused:
        path_of_length(given, limit + beyond_m)
    assert refused.value.code == "length-out-of-reach"
    assert refused.value.details["minimum_m"] == pytest.approx(distances.minimum_m)
    assert refused.value.details["maximum_m"] == pytest.approx(distances.maximum_m)


def test_a_task_without_areas_leaves_no_choice() -> None:
    given = task("area 20km")
    turned = replace(given, points=tuple(replace(p, role=Role.TURN) for p in given.points))
    with pytest.raises(RefusedError) as refused:
        path_of_length(turned, 100_000)
    assert refused.value.code == "no-areas"
