"""What speaks for proposals: each figure as it is computed one course at a time, values on their scales, one score."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from taskdb.core.course.likeness import likeness
from taskdb.core.course.wind import Air, fly_leg, wind_triangle
from taskdb.core.geodesy import distance_m
from taskdb.core.judgement.glare import SunPosition, degrees_off_sun
from taskdb.core.kinds import HomeAt, ProposedShape
from taskdb.core.model import Feature, Landable
from taskdb.core.proposing import criteria as by
from taskdb.core.proposing.blocks import FlownCourse
from taskdb.core.proposing.criteria import CRITERIA, weights_with
from taskdb.core.proposing.judging import Judge
from taskdb.core.proposing.legs import LegTable
from taskdb.core.proposing.sunlight import STEP_MIN, SunOnLastLegs
from taskdb.core.proposing.words import reasons
from taskdb.core.quantities import Wind
from taskdb.errors import UsageError
from tests.building import waypoint
from tests.unit.proposals import HOME, all_pairs, block, given, turn_points

GEOD = Geodesic.WGS84
WIND = Wind(240.0, 28.0)
EQUAL = weights_with({criterion.name: 1.0 for criterion in CRITERIA})


def course_deg(a, b):
    """Return the true course at `a` by geographiclib, an implementation of its own of Karney's geodesics."""
    return GEOD.Inverse(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)["azi1"] % 360


def test_wind_on_first_and_last_leg_is_the_head_and_tail_wind_of_the_wind_triangle() -> None:
    points = turn_points(8, 1)
    judge = Judge(given(points, wind=WIND), EQUAL)
    rows = all_pairs(8)
    figures = judge.figures(block(rows, points))
    for (a, b), first, last in zip(rows, figures[by.INTO_WIND], figures[by.WIND_HOME], strict=True):
        out = wind_triangle(course_deg(HOME, points[a].position), Air(300.0, WIND))
        back = wind_triangle(course_deg(points[b].position, HOME), Air(300.0, WIND))
        assert first == pytest.approx(out.headwind_kmh, abs=1e-6)
        assert last == pytest.approx(-back.headwind_kmh, abs=1e-6)


def test_smallest_angle_of_a_triangle_is_that_between_its_courses() -> None:
    points = turn_points(9, 2)
    judge = Judge(given(points), EQUAL)
    rows = all_pairs(9)
    for (a, b), angle in zip(rows, judge.figures(block(rows, points))[by.ANGLE], strict=True):
        corners = [HOME, points[a].position, points[b].position]
        angles = []
        for n in range(3):
            at, one, other = corners[n], corners[n - 1], corners[n - 2]
            angles.append(abs((course_deg(at, one) - course_deg(at, other) + 180) % 360 - 180))
        assert angle == pytest.approx(min(angles), abs=0.2)


def test_with_home_on_a_side_the_corners_are_the_turn_points_alone() -> None:
    # An equilateral triangle of about 111 km sides whose one side leads past home: all angles are 60 degrees.
    points = [waypoint("A", "A", 0.0, -0.5), waypoint("B", "B", 0.0, 0.5), waypoint("C", "C", 0.8717, 0.0)]
    home = waypoint("H", "H", 0.0, 0.1).position
    judge = Judge(given(points, home, start=HomeAt.SIDE), EQUAL)
    figures = judge.figures(block([(1, 2, 0)], points, home))
    assert figures[by.ANGLE][0] == pytest.approx(60.0, abs=0.5)


def test_a_square_has_four_right_angles() -> None:
    points = [waypoint("A", "A", 0.0, 1.0), waypoint("B", "B", 1.0, 1.0), waypoint("C", "C", 1.0, 0.0)]
    home = waypoint("H", "H", 0.0, 0.0).position
    judge = Judge(given(points, home, shape=ProposedShape.QUADRILATERAL), EQUAL)
    assert judge.figures(block([(0, 1, 2)], points, home))[by.ANGLE][0] == pytest.approx(90.0, abs=0.6)


def test_turn_points_count_by_feature_inspection_and_whether_one_can_land() -> None:
    points = [
        waypoint("A", "A", 49.0, 12.0, feature=Feature.WATER, landable=Landable.NO, inspected_on="2026-05-01"),
        waypoint("B", "B", 49.1, 12.3, landable=Landable.AERODROME, inspected_on="2026-04-30"),
        waypoint("C", "C", 48.5, 12.3, feature=Feature.WATER, landable=Landable.EMERGENCY),
        waypoint("D", "D", 48.4, 12.1, feature=Feature.CONTEST_POINT, landable=Landable.FIELD),
    ]
    figures = Judge(given(points), EQUAL).figures(block([(0, 1), (0, 2), (1, 3), (2, 3)], points))
    # An aerodrome is seen, a point that is one for contests alone is not.
    assert figures[by.FEATURES].tolist() == [2, 2, 1, 1]
    assert figures[by.INSPECTED].tolist() == [1, 1, 0, 0]
    assert figures[by.LANDABLE].tolist() == [1, 0, 2, 1]


def test_figures_of_legs_are_summed_or_the_least_taken() -> None:
    points = turn_points(3, 4)
    table = LegTable(3, lambda a, b: 100.0 * (a + 2) * (b + 2), both_ways=True)
    judge = Judge(given(points, out_of_reach_m=table, airspace_m=table), EQUAL)
    figures = judge.figures(block([(0, 2)], points))
    # Home is -1: 1, the places 2 and 4 in this measure.
    assert figures[by.OUT_OF_REACH].tolist() == [100.0 * (2 + 8 + 4)]
    assert figures[by.AIRSPACE].tolist() == [200.0]


def test_months_and_finishers_are_those_of_flown_courses_that_are_alike() -> None:
    points = turn_points(12, 5)
    rows = all_pairs(12)
    flown = [
        FlownCourse(tuple(p.position for p in (points[0], points[1], points[2])), 3.0, 50.0),
        FlownCourse((HOME, points[1].position, points[2].position, HOME), 7.0, 80.0),
        FlownCourse((HOME, points[1].position, points[3].position, HOME), 2.0, None),
        FlownCourse((HOME, points[4].position, points[5].position, HOME), 30.0, 100.0),
    ]
    figures = Judge(given(points, flown=flown, alike_m=80_000.0), EQUAL).figures(block(rows, points))
    seen = set()
    for (a, b), months, finishers in zip(rows, figures[by.LAST_FLOWN], figures[by.FINISHERS], strict=True):
        course = (HOME, points[a].position, points[b].position, HOME)
        alike = [one for one in flown if likeness(course, one.positions).apart_m < 80_000.0]
        assert months == min((one.months_ago for one in alike), default=math.inf)
        rates = [one.finishers_percent for one in alike if one.finishers_percent is not None]
        assert (math.isnan(finishers) and not rates) or finishers == pytest.approx(sum(rates) / len(rates))
        seen.add(len(alike))
    assert {0, 1, 2} <= seen


def test_the_sun_is_looked_at_while_the_last_leg_is_flown() -> None:
    points = turn_points(6, 6)
    air = Air(80.0, WIND)
    # An invented sun that goes round once a day and rises at 06:00.
    sun = [SunPosition(m / 4 % 360, 50 * math.sin((m - 360) / 720 * math.pi)) for m in range(0, 1440, STEP_MIN)]
    data = given(points)
    judge = Judge(given(points, sun_deg=SunOnLastLegs(data.places, air, 11 * 60.0, sun)), EQUAL)
    rows = all_pairs(6)
    for (a, b), angle in zip(rows, judge.figures(block(rows, points))[by.SUN], strict=True):
        path = [HOME, points[a].position, points[b].position, HOME]
        minutes = [(fly_leg(p, q, air).time_s or 0.0) / 60 for p, q in pairwise(path)]
        begin, end = 660 + sum(minutes[:-1]), 660 + sum(minutes)
        arriving = GEOD.Inverse(
            path[2].latitude_deg, path[2].longitude_deg, path[3].latitude_deg, path[3].longitude_deg
        )["azi2"]
        looks = [degrees_off_sun(arriving, sun[round(t / STEP_MIN) % 288]) for t in np.linspace(begin, end, 40)]
        assert angle == pytest.approx(min(180.0 if off is None else off for off in looks), abs=2.0)


def test_a_sun_that_is_down_is_in_nobodys_eyes() -> None:
    points = turn_points(3, 6)
    sun = [SunPosition(90.0, -5.0)] * 288
    judge = Judge(given(points, sun_deg=SunOnLastLegs(given(points).places, Air(80.0, WIND), 1200.0, sun)), EQUAL)
    assert judge.figures(block([(0, 1)], points))[by.SUN].tolist() == [180.0]


def test_a_leg_that_cannot_be_flown_in_the_wind_leaves_the_sun_out_of_that_course_alone() -> None:
    points = turn_points(5, 7)
    sun = [SunPosition(200.0, 10.0)] * 288
    places = given(points).places
    judge = Judge(given(points, sun_deg=SunOnLastLegs(places, Air(80.0, Wind(0.0, 200.0)), 800.0, sun)), EQUAL)
    judged = judge.judge(block(all_pairs(5), points), np.zeros(20, dtype=bool))
    assert np.isnan(judged.values[by.SUN]).all()
    assert np.isfinite(judged.scores).all()
    assert (judged.scores > 0).any()


def test_values_lie_on_their_scales_and_are_clipped() -> None:
    points = [waypoint("W", "W", 48.872, 10.5), waypoint("E", "E", 48.872, 13.1), waypoint("N", "N", 49.9, 11.81)]
    judge = Judge(given(points, wind=Wind(270.0, 40.0)), EQUAL)
    courses = block([(0, 1), (1, 0), (2, 0)], points)
    values = judge.values(courses, judge.figures(courses))
    assert values[by.INTO_WIND] == pytest.approx([1.0, 0.0, 0.5], abs=0.02)
    assert values[by.WIND_HOME] == pytest.approx([0.0, 1.0, 1.0], abs=0.02)


def test_the_wind_on_a_short_first_leg_counts_for_little() -> None:
    points = [
        waypoint("near", "W", 48.872, 11.75), waypoint("far", "W", 48.872, 10.5), waypoint("N", "N", 49.6, 11.8105)
    ]  # fmt: skip
    judge = Judge(given(points, wind=Wind(270.0, 30.0)), EQUAL)
    courses = block([(0, 2), (1, 2)], points)
    near, far = judge.values(courses, judge.figures(courses))[by.INTO_WIND]
    assert far == 1.0
    # 4.4 km into the wind, of a course of some 167 km: a tenth of it is 16.7 km.
    share = distance_m(HOME, points[0].position) / courses.length_m[0] / 0.1
    assert near == pytest.approx(0.5 + 0.5 * share) and share < 0.3


def test_of_two_directions_the_better_is_taken_where_both_may_be_flown() -> None:
    points = [waypoint("W", "W", 48.872, 10.5), waypoint("E", "E", 48.872, 13.1)]
    judge = Judge(given(points, wind=Wind(270.0, 20.0)), {**EQUAL, by.INTO_WIND: 2.0})
    courses = block([(1, 0), (1, 0)], points)
    judged = judge.judge(courses, np.array([True, False]))
    assert judged.block.turns.tolist() == [[0, 1], [1, 0]]
    assert judged.scores[0] > judged.scores[1]
    again = judge.score(judge.values(judged.block, judge.figures(judged.block)), len(judged.block))
    assert again == pytest.approx(judged.scores)


def test_equal_directions_begin_with_the_turn_point_that_comes_first() -> None:
    points = turn_points(3, 8)
    judged = Judge(given(points), EQUAL).judge(block([(2, 1), (0, 2)], points), np.array([True, True]))
    assert judged.block.turns.tolist() == [[1, 2], [0, 2]]


def test_a_criterion_without_data_is_left_out_with_its_reason_and_changes_no_score() -> None:
    points = turn_points(4, 9)
    judge = Judge(given(points), EQUAL)
    assert set(judge.left_out) == {
        by.INTO_WIND, by.WIND_HOME, by.FEATURES, by.INSPECTED, by.LANDABLE, by.OUT_OF_REACH, by.SUN, by.AIRSPACE,
        by.LAST_FLOWN, by.FINISHERS, by.MARGIN,
    }  # fmt: skip
    assert all(judge.left_out.values())
    courses = block([(0, 1)], points)
    figures = judge.figures(courses)
    assert set(figures) == {by.ANGLE}
    assert judge.score(judge.values(courses, figures), len(courses))[0] == min(1.0, figures[by.ANGLE][0] / 60)


def test_the_margin_counts_for_fai_triangles_alone_and_goes_by_the_widest_there_is() -> None:
    points = turn_points(4, 10)
    judge = Judge(given(points, shape=ProposedShape.FAI_TRIANGLE), EQUAL)
    courses = block([(0, 1)], points, margin=100 / 3 - 28)
    assert judge.values(courses, judge.figures(courses))[by.MARGIN][0] == pytest.approx(1.0)


def test_weights_add_the_values_up_and_0_leaves_one_out() -> None:
    points = [waypoint("W", "W", 48.872, 10.5), waypoint("E", "E", 48.872, 13.1)]
    weights = weights_with({**dict.fromkeys(EQUAL, 0.0), by.INTO_WIND: 3.0, by.WIND_HOME: 1.0})
    judge = Judge(given(points, wind=Wind(270.0, 20.0)), weights)
    courses = block([(0, 1)], points)
    figures = judge.figures(courses)
    assert list(figures) == [by.INTO_WIND, by.WIND_HOME]
    # Into the wind at first (1), and against it home (0).
    assert judge.score(judge.values(courses, figures), len(courses))[0] == pytest.approx(0.75, abs=0.01)
    assert judge.left_out[by.ANGLE] == "its weight is 0"


@pytest.mark.parametrize(
    "weights", [{"speed": 1.0}, {by.ANGLE: -1.0}, {by.ANGLE: math.nan}, dict.fromkeys(by.BY_NAME, 0.0)]
)
def test_weights_that_weigh_nothing_are_refused(weights) -> None:
    with pytest.raises(UsageError):
        weights_with(weights)


def test_every_criterion_says_what_it_is_and_reaches_from_0_to_1() -> None:
    for criterion in CRITERIA:
        assert criterion.words and criterion.good and criterion.scale and criterion.unit
        assert criterion.worst != criterion.best
        assert criterion.weight > 0


def test_a_wind_from_the_wrong_side_is_no_point_in_favour_and_one_from_the_right_side_none_against() -> None:
    weights = {by.INTO_WIND: 1.0, by.WIND_HOME: 1.0, by.LANDABLE: 1.0}
    # The first leg is less into the wind than most, though into it; the last less against it than most, though against.
    values = {by.INTO_WIND: 0.7, by.WIND_HOME: 0.3, by.LANDABLE: 1.0}
    assert reasons(values, {by.INTO_WIND: 0.9, by.WIND_HOME: 0.1, by.LANDABLE: 0.5}, weights) == ([by.LANDABLE], [])
    assert reasons(values, {by.INTO_WIND: 0.5, by.WIND_HOME: 0.5, by.LANDABLE: 1.0}, weights) == (
        [by.INTO_WIND],
        [by.WIND_HOME],
    )
