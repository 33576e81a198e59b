"""Legs in the wind and times over points: what is flown, what cannot be made, what the clock says."""

from __future__ import annotations

from dataclasses import replace

import pytest

from taskdb.core.course.measure import measure_course
from taskdb.core.course.schedule import Extent, clock_after, timetable, timetables
from taskdb.core.course.wind import Air, fly_leg, wind_triangle
from taskdb.core.geodesy import destination, distance_m
from taskdb.core.model import Position, TaskType
from taskdb.core.quantities import Wind
from tests import building

HOME, EAST, NORTH = Position.at(50, 10), Position.at(50, 11), Position.at(50.6, 10.4)


RING = building.task((HOME, "cylinder 10km"), (EAST, "cylinder 500m"), (NORTH, "cylinder 500m"), (HOME, "cylinder 3km"))


def test_in_calm_air_a_leg_takes_its_length_by_the_speed() -> None:
    flown = fly_leg(HOME, EAST, Air(90))
    assert flown.time_s == pytest.approx(distance_m(HOME, EAST) / 25, rel=1e-12)
    assert flown.ground_kmh == pytest.approx(90)


def test_the_components_are_named_from_ahead_and_from_the_right() -> None:
    found = wind_triangle(0.0, Air(100, Wind(45, 20)))
    assert found.headwind_kmh == pytest.approx(14.142, abs=1e-3)
    assert found.crosswind_kmh == pytest.approx(14.142, abs=1e-3)
    assert found.heading_deg is not None and 0 < found.heading_deg < 45


@pytest.mark.parametrize(
    ("wind", "reason"),
    [
        (Wind(90, 80), "from ahead leave no way"),
        (Wind(90, 95), "from ahead leave no way"),
        (Wind(10, 95), "across are too much"),
        (Wind(90, 79), "more than a day"),
    ],
)
def test_a_leg_that_cannot_be_made_says_so(wind: Wind, reason: str) -> None:
    flown = fly_leg(HOME, Position.at(50, 11.5), Air(80, wind))
    assert flown.time_s is None
    assert flown.reason is not None and reason in flown.reason


def test_a_wind_stronger_than_the_glider_from_behind_carries_it() -> None:
    flown = fly_leg(HOME, EAST, Air(80, Wind(270, 95)))
    assert flown.ground_kmh == pytest.approx(175, rel=0.001)


def test_a_speed_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="still-air speed"):
        fly_leg(HOME, EAST, Air(0))


def test_a_leg_without_length_takes_no_time() -> None:
    assert fly_leg(HOME, HOME, Air(80)).time_s == 0.0
    assert fly_leg(HOME, EAST, Air(80), off_start_m=60_000, off_end_m=20_000).time_s == 0.0


def test_the_clock_runs_from_ring_to_ring() -> None:
    flight = timetables(RING, measure_course(RING), Air(90))[0]
    assert flight.extent is Extent.TASK
    flown = [leg.distance_m for leg in flight.legs]
    assert flown[0] == pytest.approx(distance_m(HOME, EAST) - 10_000)
    assert flown[2] == pytest.approx(distance_m(NORTH, HOME) - 3_000)
    assert sum(flown) == pytest.approx(measure_course(RING).distances.task_m)
    assert flight.after_s[0] == 0.0
    assert flight.time_s == pytest.approx(measure_course(RING).distances.task_m / 25)


def test_what_comes_off_is_flown_neither_at_the_start_nor_at_the_finish() -> None:
    # Against the wind outbound and with it home: taking the ring off the wrong end of the task changes the time.
    wind = Wind(90, 30)
    flight = timetable(RING, [p.place.position for p in RING.points], Air(90, wind), Extent.TASK)
    begin = destination(HOME, measure_course(RING).legs[0].course_true_deg or 0.0, 10_000)
    assert flight.after_s[1] == pytest.approx(fly_leg(begin, EAST, Air(90, wind)).time_s, rel=1e-9)


def test_after_a_leg_that_cannot_be_made_no_time_is_told() -> None:
    flight = timetables(RING, measure_course(RING), Air(60, Wind(92, 70)))[0]
    assert flight.after_s == (0.0, None, None, None)
    assert flight.time_s is None


def test_areas_have_a_flight_over_each_distance() -> None:
    areas = building.task(
        (HOME, "line 5km"), (EAST, "area 20km"), (NORTH, "area 15km"), (HOME, "line 1km"), type=TaskType.ASSIGNED_AREA
    )
    course = measure_course(areas)
    flights = timetables(areas, course, Air(90))
    assert [flight.extent for flight in flights] == [Extent.MINIMUM, Extent.TASK, Extent.MAXIMUM]
    for flight, metres in zip(flights, ("minimum_m", "task_m", "maximum_m"), strict=True):
        assert flight.time_s == pytest.approx(getattr(course.distances, metres) / 25, rel=1e-9)


def test_a_racing_task_has_one_flight_and_an_unmeasured_extreme_none() -> None:
    assert len(timetables(RING, measure_course(RING), Air(90))) == 1
    areas = replace(RING, type=TaskType.ASSIGNED_AREA)
    assert len(timetables(areas, measure_course(areas, extremes=False), Air(90))) == 1


def test_a_path_must_have_a_position_for_each_point() -> None:
    with pytest.raises(ValueError, match="path"):
        timetable(RING, [HOME, EAST], Air(90), Extent.TASK)


@pytest.mark.parametrize(
    ("start", "seconds", "clock"),
    [
        ("13:15", 0, "13:15"),
        ("13:15", 3 * 3600 + 29, "16:15"),
        ("13:15", 3 * 3600 + 31, "16:16"),
        ("22:00", 3 * 3600, "01:00 (+1)"),
        ("23:59", 30, "00:00 (+1)"),
    ],
)
def test_the_clock_never_prints_60_and_tells_the_next_day(start: str, seconds: float, clock: str) -> None:
    assert clock_after(start, seconds) == clock
