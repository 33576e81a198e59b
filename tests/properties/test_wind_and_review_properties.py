"""What must hold for any wind, any course and any pair of zones."""

from __future__ import annotations

import pytest
from hypothesis import assume, given, settings, strategies as st

from taskdb.core.course.wind import Air, fly_leg, wind_triangle
from taskdb.core.course.zones import parse_zone
from taskdb.core.geodesy import destination
from taskdb.core.model import Place, Position, Role, Task, TaskPoint, TaskType, ZoneFrom
from taskdb.core.quantities import Wind
from taskdb.core.review.sameness import Sameness, sameness
from taskdb.core.review.shared_ground import shared_place

positions = st.builds(Position.at, st.floats(-70, 70), st.floats(-180, 179.99))
bearings = st.floats(0, 359.99)
speeds = st.floats(40, 150)
winds = st.builds(Wind, bearings, st.floats(0, 100))


@given(bearings, speeds, winds)
def test_own_motion_and_wind_add_up_to_the_way_over_the_ground(course: float, speed: float, wind: Wind) -> None:
    import cmath
    import math

    found = wind_triangle(course, Air(speed, wind))
    assume(found.ground_kmh is not None and found.heading_deg is not None)
    own = cmath.rect(speed, math.radians(found.heading_deg or 0.0))
    air = cmath.rect(wind.speed_kmh, math.radians(wind.from_deg + 180))
    assert own + air == pytest.approx(cmath.rect(found.ground_kmh or 0.0, math.radians(course)), abs=1e-6)


@given(positions, bearings, st.floats(5_000, 150_000), speeds, winds)
@settings(max_examples=60, deadline=None)
def test_a_faster_glider_is_never_later(at: Position, bearing: float, length: float, speed: float, wind: Wind) -> None:
    goal = destination(at, bearing, length)
    slow, fast = (fly_leg(at, goal, Air(v, wind)).time_s for v in (speed, speed * 1.1))
    if slow is not None:
        assert fast is not None
        assert fast <= slow * (1 + 1e-9)


@given(positions, bearings, st.floats(5_000, 150_000), speeds, winds)
@settings(max_examples=60, deadline=None)
def test_there_and_back_is_never_faster_than_in_calm_air(
    at: Position, bearing: float, length: float, speed: float, wind: Wind
) -> None:
    goal = destination(at, bearing, length)
    there, back = fly_leg(at, goal, Air(speed, wind)).time_s, fly_leg(goal, at, Air(speed, wind)).time_s
    calm = fly_leg(at, goal, Air(speed)).time_s
    if there is not None and back is not None and calm is not None:
        # On the globe a course home is not quite the course out turned round, so calm air may lose by a hair.
        assert there + back >= 2 * calm * (1 - 1e-3)


ZONES = st.one_of(
    st.builds("cylinder {}m".format, st.integers(100, 20_000)),
    st.builds("area {}m..{}m".format, st.integers(100, 9_000), st.integers(9_001, 25_000)),
    st.builds(
        "area {}m..{}m {}..{}".format,
        st.integers(100, 9_000), st.integers(9_001, 25_000), st.integers(0, 359), st.integers(0, 359),
    ),
    st.builds("sector 90deg {}m {}".format, st.integers(500, 20_000), st.integers(0, 359)),
    st.builds("line {}m {}".format, st.integers(500, 20_000), st.integers(0, 359)),
)  # fmt: skip


@given(positions, bearings, st.floats(0, 40_000), ZONES, ZONES)
@settings(max_examples=80, deadline=None)
def test_sharing_ground_does_not_depend_on_the_order(
    at: Position, bearing: float, apart: float, one: str, two: str
) -> None:
    first, second, other = parse_zone(one), parse_zone(two), destination(at, bearing, apart)
    there = shared_place(first, at, second, other)
    assert (there is None) == (shared_place(second, other, first, at) is None)


def loop(order: list[int]) -> Task:
    """A closed course through numbered places."""
    codes = [*order, order[0]]
    last = len(codes) - 1
    points = tuple(
        TaskPoint(
            Place(f"P{code}", f"P{code}", Position.at(50 + code / 10, 10)),
            Role.START if n == 0 else Role.FINISH if n == last else Role.TURN,
            parse_zone("cylinder 500m"),
            ZoneFrom.OWN,
        )
        for n, code in enumerate(codes)
    )
    return Task("A", TaskType.RACING, points, "region", 1)


@given(st.permutations(list(range(5))), st.integers(0, 4), st.booleans())
def test_a_loop_is_known_however_it_is_begun_and_flown(order: list[int], begin: int, turned: bool) -> None:
    other = [*order[begin:], *order[:begin]]
    if turned:
        other = [other[0], *other[:0:-1]]
    expected = {
        (True, False): Sameness.SAME,
        (True, True): Sameness.REVERSED,
        (False, False): Sameness.SHIFTED,
        (False, True): Sameness.SHIFTED_REVERSED,
    }[(begin == 0, turned)]
    assert sameness(loop(order), loop(other)) is expected
    assert sameness(loop(other), loop(order)) is expected


@given(st.permutations(list(range(5))))
def test_another_order_is_another_course(order: list[int]) -> None:
    neighbours = {frozenset(pair) for pair in zip(order, [*order[1:], order[0]], strict=True)}
    base = {frozenset((n, (n + 1) % 5)) for n in range(5)}
    assert (sameness(loop(list(range(5))), loop(list(order))) is None) == (neighbours != base)
