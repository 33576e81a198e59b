"""Where a class is on its day and when: the first and the last over each point, by hand in calm air."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from taskdb.core.course.measure import measure_course
from taskdb.core.course.schedule import Extent
from taskdb.core.course.wind import Air, SpeedRange
from taskdb.core.geodesy import distance_m
from taskdb.core.judgement.presence import Presence, Times, on_leg, presences
from taskdb.core.model import Task
from taskdb.core.quantities import Wind
from tests.unit.review_examples import day, task

RING = "HOME cylinder 10km; E60 cylinder 500m; N60 cylinder 500m; HOME cylinder 3km"
AREAS = "HOME line 1km; E60 area 20km; N60 area 20km; HOME line 1km"
SPEEDS = SpeedRange(60.0, 120.0, "class Club")


def ways(made: Task, opens: str | None = "13:00", last: str = "18:00", speed: float | None = 90.0) -> list[Presence]:
    sheet = day(made, last, opens=opens, air=Air(speed) if speed else None)
    assert sheet.last_finish is not None
    minutes = int(last[:2]) * 60 + int(last[3:]) - 14 * 60
    sheet = replace(sheet, last_finish=replace(sheet.last_finish, flight_s=minutes * 60.0))
    return list(presences(made, measure_course(made), sheet, SPEEDS))


def times_of(way: Presence) -> Times:
    assert way.times is not None
    return way.times


def test_a_racing_class_is_between_its_fastest_at_the_opening_and_its_slowest_at_the_close() -> None:
    # Rings come off: 50 km, 84.853 km (a right angle between legs of 60 km) and 57 km. The last start is at 14:00.
    # At 60 km/h all of it takes 3:12.
    (way,) = ways(task(RING), last="17:12")
    times = times_of(way)
    assert [distance_m(a, b) / 1000 for a, b in pairwise(way.path)] == pytest.approx([50.0, 84.85, 57.0], abs=0.02)
    assert times.earliest == pytest.approx([780, 780 + 25, 780 + 25 + 42.43, 780 + 25 + 42.43 + 28.5], abs=0.02)
    assert times.latest == pytest.approx([840, 840 + 50, 840 + 50 + 84.85, 840 + 192], abs=0.05)
    assert times.planned[-1] == pytest.approx(780 + 191.85 / 90 * 60, abs=0.02)
    assert on_leg(times, 1) == pytest.approx((805, 840 + 50 + 84.85), abs=0.05)


def test_of_areas_nobody_is_home_before_the_minimum_time_and_the_start_opens_when_it_does() -> None:
    made = task(AREAS, "assigned-area", time_s=3 * 3600)
    found = ways(made)
    assert [way.extent for way in found] == [Extent.MINIMUM, Extent.TASK, Extent.MAXIMUM]
    for way in found:
        times = times_of(way)
        assert times.earliest[0] == 780 and times.latest[0] == 840
        assert times.earliest[-1] >= 780 + 180 and times.latest[-1] >= 840 + 180
        for band in (times.earliest, times.latest):
            assert list(band) == sorted(band)
        assert all(first <= last for first, last in zip(times.earliest, times.latest, strict=True))
        # The planned flight is one of them: planned flights meet within the time in which both can be there.
        bands = zip(times.earliest, times.planned, times.latest, strict=True)
        assert all(first <= planned <= last for first, planned, last in bands)
    # The slowest fly the minimum distance of 151 km in 2:31; in three hours they are over its second area after 2:08.
    minimum = times_of(found[0])
    share = sum(distance_m(a, b) for a, b in list(pairwise(found[0].path))[:2]) / sum(
        distance_m(a, b) for a, b in pairwise(found[0].path)
    )
    assert minimum.earliest[2] == pytest.approx(780 + 180 * share, abs=0.1)


def test_without_an_opening_or_a_speed_no_time_is_known() -> None:
    assert [way.times for way in ways(task(RING), opens=None)] == [None]
    made = task(RING)
    assert [way.times for way in presences(made, measure_course(made), None, SPEEDS)] == [None]


def test_without_a_planned_speed_the_middle_of_the_class_is_planned() -> None:
    (way,) = ways(task(RING), speed=None)
    assert times_of(way).planned_kmh == 90.0


def test_a_wind_that_nobody_beats_leaves_no_times() -> None:
    made = task(RING)
    sheet = replace(day(made, "18:00", air=Air(90.0, Wind(90, 130))), wind=Wind(90, 130))
    assert [way.times for way in presences(made, measure_course(made), sheet, SPEEDS)] == [None]
