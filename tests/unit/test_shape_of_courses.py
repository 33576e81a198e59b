"""What kind of course it is, whether it closes, and how a triangle stands to the published rules.

Rules: FAI Sporting Code Section 3, 1.4.3d(iii), edition of about 2008 (25/45 % from 750 km on, below it 28 %); the
threshold was 500 km before (a national association's ladder rules of 2003).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from taskdb.core.course.plain import point_plain, shape_plain
from taskdb.core.course.shape import CourseShape, course_shape, round_share, triangle_shares
from taskdb.core.course.zones import parse_zone
from taskdb.core.geodesy import destination, inverse
from taskdb.core.model import (
    Position,
    Rules,
    ShapeKind,
    Task,
    TriangleRules,
)
from tests import building

RULES = TriangleRules()
HOME = Position.at(50, 10)


def task(*positions: Position, start: str = "line 1km 0", rules: Rules = Rules()) -> Task:  # noqa: B008
    stops = [(at, "cylinder 500m") for at in positions]
    stops[0] = (positions[0], start)
    return replace(building.task(*stops, rules=rules), points=building.points(*stops))


def corner(bearing: float, kilometres: float, origin: Position = HOME) -> Position:
    return destination(origin, bearing, kilometres * 1000)


A, B = corner(30, 100), corner(90, 100)


@pytest.mark.parametrize(
    ("perimeter_km", "percent", "is_fai", "margin"),
    [
        (750.0, (25, 30, 45), True, 0.0),
        (749.9, (25, 30, 45), False, -3.0),
        (1200.0, (25, 30, 45), True, 0.0),
        (100.0, (28, 28, 44), True, 0.0),
        (1000.0, (28, 28, 44), True, 1.0),
        (300.0, (27.9, 33, 39.1), False, -0.1),
        (800.0, (27.9, 33, 39.1), True, 2.9),
        (800.0, (24.9, 35.1, 40), False, -0.1),
        (800.0, (25.5, 29, 45.5), False, -0.5),
        (500.0, (33.5, 33, 33.5), True, 5.0),
    ],
)
def test_the_triangle_rules_hold_on_their_limits(
    perimeter_km: float, percent: tuple[float, float, float], is_fai: bool, margin: float
) -> None:
    sides = tuple(perimeter_km * 10 * share for share in percent)
    shares = triangle_shares((sides[0], sides[1], sides[2]), RULES)
    assert shares.percent == pytest.approx(percent)
    assert shares.is_fai is is_fai
    assert shares.margin_percent == pytest.approx(margin, abs=1e-9)


def test_the_threshold_and_the_limits_are_settings() -> None:
    sides = (150_000.0, 180_000.0, 270_000.0)  # 25, 30, 45 % of 600 km
    assert not triangle_shares(sides, RULES).is_fai
    assert triangle_shares(sides, replace(RULES, large_from_m=500_000)).is_fai
    assert triangle_shares(sides, replace(RULES, small_shortest_percent=25)).is_fai


def test_a_millimetre_below_the_limit_misses_it() -> None:
    assert not triangle_shares((280_000 - 0.001, 320_000.0, 400_000 + 0.001), replace(RULES, large_from_m=2e6)).is_fai


def test_shown_shares_never_cross_a_limit() -> None:
    assert round_share(27.96, RULES) == 27.9
    assert round_share(27.9999999, RULES) == 27.9
    assert round_share(45.04, RULES) == 45.1
    assert round_share(24.99, RULES) == 24.9
    assert round_share(28.04, RULES) == 28.0
    assert round_share(28.0, RULES) == 28.0
    assert round_share(45.0, RULES) == 45.0
    assert round_share(33.26, RULES) == 33.3


def test_turn_points_and_closing_make_the_kind() -> None:
    far = corner(200, 150)
    kinds = [
        (task(HOME, A), ShapeKind.GOAL, False),
        (task(HOME, A, B), ShapeKind.DOG_LEG, False),
        (task(HOME, A, HOME), ShapeKind.OUT_AND_RETURN, True),
        (task(HOME, A, B, HOME), ShapeKind.TRIANGLE, True),
        (task(HOME, A, B, far), ShapeKind.MULTI_TURN, False),
        (task(HOME, A, B, far, HOME), ShapeKind.MULTI_TURN, True),
        (task(HOME, A, A, HOME), ShapeKind.MULTI_TURN, True),
        (task(HOME), ShapeKind.GOAL, False),
    ]
    assert [(course_shape(t).kind, course_shape(t).is_closed) for t, _, _ in kinds] == [(k, c) for _, k, c in kinds]


def test_an_equilateral_triangle_has_thirds_and_the_margin_of_the_28_percent_rule() -> None:
    shape = course_shape(task(HOME, A, B, HOME))
    assert shape.side_percent == pytest.approx([100 / 3] * 3, abs=0.1)
    assert shape.is_fai_triangle
    assert shape.fai_margin_percent == pytest.approx(min(shape.side_percent) - 28)


def test_a_flat_triangle_is_none_for_the_rules_and_says_by_how_much() -> None:
    shape = course_shape(task(HOME, corner(30, 100), corner(40, 100), HOME))
    assert shape.kind is ShapeKind.TRIANGLE
    assert not shape.is_fai_triangle
    assert shape.fai_margin_percent is not None
    assert shape.fai_margin_percent < -19


def test_start_and_finish_within_the_tolerance_close_a_course_for_a_contest_only() -> None:
    near, far = corner(180, 0.999), corner(180, 1.001)
    closed, gaping = course_shape(task(HOME, A, B, near)), course_shape(task(HOME, A, B, far))
    assert (closed.kind, gaping.kind) == (ShapeKind.TRIANGLE, ShapeKind.MULTI_TURN)
    assert closed.gap_m == pytest.approx(999)
    assert "records and badges" in (closed.note or "")
    assert course_shape(task(HOME, A, B, HOME)).note is None
    strict = Rules(closed_within_m=0)
    assert course_shape(task(HOME, A, B, near, rules=strict)).kind is ShapeKind.MULTI_TURN


def test_one_waypoint_at_both_ends_closes_a_course() -> None:
    open_ended = task(HOME, A, corner(180, 5))
    ends = {0: "same", 2: "same"}
    points = tuple(replace(p, place=replace(p.place, identity=ends.get(n))) for n, p in enumerate(open_ended.points))
    assert course_shape(replace(open_ended, points=points)).kind is ShapeKind.OUT_AND_RETURN


def test_three_turn_points_are_a_triangle_where_start_and_finish_lie_on_a_side() -> None:
    c = corner(150, 100)
    line = inverse(c, A)
    assert line.bearing_deg is not None
    on_side = destination(c, line.bearing_deg, 0.4 * line.distance_m)
    shape = course_shape(task(on_side, A, B, c, on_side))
    assert shape.kind is ShapeKind.TRIANGLE
    assert sum(shape.side_percent) == pytest.approx(100)
    # The sides are those of the turn points: the last one holds the start.
    assert shape.side_percent[2] > max(shape.side_percent[:2])
    assert "start on the side" in (shape.note or "")
    assert course_shape(task(HOME, A, B, c, HOME)).kind is ShapeKind.MULTI_TURN
    no_variant = Rules(triangle=replace(RULES, start_on_side=False))
    assert course_shape(task(on_side, A, B, c, on_side, rules=no_variant)).kind is ShapeKind.MULTI_TURN


@pytest.mark.parametrize(("start", "within_m"), [("line 1km 0", 500), ("cylinder 3km", 3000), ("line 6km 0", 3000)])
def test_a_start_is_on_a_side_within_its_radius_or_half_line(start: str, within_m: float) -> None:
    c = corner(150, 100)
    line = inverse(c, A)
    assert line.bearing_deg is not None
    foot = destination(c, line.bearing_deg, 0.5 * line.distance_m)
    along = inverse(foot, A).bearing_deg
    assert along is not None
    inside, outside = (destination(foot, along + 90, within_m + off) for off in (-1, 1))
    assert course_shape(task(inside, A, B, c, inside, start=start)).kind is ShapeKind.TRIANGLE
    assert course_shape(task(outside, A, B, c, outside, start=start)).kind is ShapeKind.MULTI_TURN


def test_a_hair_below_the_limit_is_not_shown_as_met() -> None:
    sides = (28.0 - 1e-10, 32.0, 40.0 + 1e-10)
    shares = triangle_shares(sides, RULES)
    shape = CourseShape(ShapeKind.TRIANGLE, True, 0.0, shares.percent, shares.is_fai, shares.margin_percent)
    shown = shape_plain(shape)
    assert not shown["fai_triangle"]
    assert shown["fai_margin_percent"] < 0


def test_an_orientation_that_comes_from_the_role_is_shown() -> None:
    points = task(HOME, A, HOME).points
    sectors = [replace(point, zone=parse_zone("sector 90deg")) for point in points]
    shown = [point_plain(point, n)["zone"]["orientation"] for n, point in enumerate(sectors)]
    assert shown == ["away-from-next", "bisector", "away-from-previous"]
