"""Declared courses by the published rules: FAI Sporting Code Section 3 (edition of about 2008) and its Annex C.

The worked example is the declaration of the IGC flight-recorder specification, Appendix A, section 9.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from taskdb.core.course.axes import resolve_points
from taskdb.core.course.declared import allowed_loss_m, assess_declared, ends_words
from taskdb.core.course.measure import measure_course
from taskdb.core.course.zones import parse_zone
from taskdb.core.geodesy import destination
from taskdb.core.model import Place, Position, Role, Shape, Task, TaskPoint, TaskType, ZoneFrom

HOME = Position(51 + 10.179 / 60, -(1 + 2.644 / 60))
SARNESFIELD = Position(52 + 9.092 / 60, -(2 + 55.227 / 60))
NORMAN_CROSS = Position(52 + 30.147 / 60, -(0 + 17.612 / 60))


def declared(*positions: Position, ends: str = "line 1km 0", turn: str = "sector 90deg 0") -> Task:
    last = len(positions) - 1
    points = [
        TaskPoint(
            Place(f"P{n}", f"P{n}", position),
            Role.START if n == 0 else Role.FINISH if n == last else Role.TURN,
            parse_zone(ends if n in (0, last) else turn),
            ZoneFrom.OWN,
        )
        for n, position in enumerate(positions)
    ]
    return Task("T", TaskType.DECLARED, resolve_points(points), "s", 1)


def go(bearing: float, kilometres: float, origin: Position = HOME) -> Position:
    return destination(origin, bearing, kilometres * 1000)


def names(task: Task) -> list[str]:
    return [award.name.split(",")[0] for award in assess_declared(task).awards]


def test_the_worked_example_by_sectors_and_by_cylinders() -> None:
    course = assess_declared(declared(HOME, SARNESFIELD, NORMAN_CROSS, HOME))
    assert round(course.sectors.distance_m, 3) == 510_019.421
    assert round(course.cylinders.distance_m, 3) == 508_019.421  # 1.2.11: 4 crossings of 0.5 km
    assert course.sectors.allowed_loss_m == course.cylinders.allowed_loss_m == 1000
    assert [(a.name, a.by_sectors, a.by_cylinders) for a in course.awards] == [
        ("Gold distance, 300 km", True, True),
        ("Diamond goal, 300 km", True, True),
        ("Diamond distance, 500 km", True, True),
    ]
    assert all(award.requires for award in course.awards)
    # The zones that stand in the task do not matter for the comparison, but at start and finish.
    assert assess_declared(declared(HOME, SARNESFIELD, NORMAN_CROSS, HOME, turn="cylinder 500m")) == course
    ends = assess_declared(declared(HOME, SARNESFIELD, NORMAN_CROSS, HOME, ends="cylinder 500m"))
    assert round(ends.sectors.distance_m, 3) == 509_019.421
    assert round(ends.cylinders.distance_m, 3) == 507_019.421


def test_start_and_finish_are_told_by_the_way_they_are_counted() -> None:
    by_lines = assess_declared(declared(HOME, SARNESFIELD, NORMAN_CROSS, HOME))
    assert [(end.number, end.shape, end.metres) for end in by_lines.ends] == [(0, Shape.LINE, 0), (3, Shape.LINE, 0)]
    by_cylinders = assess_declared(declared(HOME, SARNESFIELD, NORMAN_CROSS, HOME, ends="cylinder 500m"))
    assert ends_words(by_cylinders) == "start by its cylinder: 0.5 km off, finish by its cylinder: 0.5 km off"
    assert "start by its line: nothing off" in ends_words(by_lines)


@pytest.mark.parametrize("ends", ["line 1km 0", "sector 90deg 0", "cylinder 500m", "cylinder 1km"])
def test_start_and_finish_take_off_in_both_ways_what_they_take_off_the_task_distance(ends: str) -> None:
    # A cylinder of 1 km took 1 km off the task distance and 0.5 km off the distance by sectors beside it.
    by_sectors = declared(HOME, SARNESFIELD, NORMAN_CROSS, HOME, ends=ends)
    by_cylinders = declared(HOME, SARNESFIELD, NORMAN_CROSS, HOME, ends=ends, turn="cylinder 500m")
    course = assess_declared(by_sectors)
    assert course.sectors.distance_m == pytest.approx(measure_course(by_sectors).distances.task_m, abs=1e-6)
    assert course.cylinders.distance_m == pytest.approx(measure_course(by_cylinders).distances.task_m, abs=1e-6)


def test_cylinders_can_cost_an_award() -> None:
    course = assess_declared(declared(HOME, go(0, 150.2), HOME))
    gold = next(award for award in course.awards if award.name.startswith("Gold"))
    assert (gold.by_sectors, gold.by_cylinders) == (True, False)
    assert names(declared(HOME, go(0, 149.9), HOME)) == []
    exact = assess_declared(declared(HOME, go(0, 150.5), HOME))
    assert exact.cylinders.distance_m == pytest.approx(300_000, abs=1e-5)


# Annex C, table A (kilometres to the largest loss in feet), as given in a club's slides.
ANNEX_C_FEET = {
    50: 1640, 52: 1706, 54: 1771, 56: 1837, 58: 1902, 60: 1968, 62: 2034, 64: 2099, 66: 2165, 68: 2230, 70: 2296,
    72: 2362, 74: 2427, 76: 2493, 78: 2559, 80: 2624, 82: 2690, 84: 2755, 86: 2821, 88: 2887, 90: 2952, 92: 3018,
    94: 3083, 96: 3149, 98: 3215,
}  # fmt: skip


@pytest.mark.parametrize(("kilometres", "feet"), ANNEX_C_FEET.items())
def test_short_flights_may_lose_one_percent(kilometres: int, feet: int) -> None:
    assert math.floor(allowed_loss_m(kilometres * 1000) / 0.3048) == feet


def test_turn_points_are_at_least_ten_kilometres_apart() -> None:
    close = assess_declared(declared(HOME, go(0, 160), go(0, 169.9), HOME))
    assert [(p.first_number, p.second_number) for p in close.close_pairs] == [(1, 2)]
    assert close.close_pairs[0].distance_m == pytest.approx(9_900, abs=0.01)
    assert close.awards == ()
    assert "P1 and P2 are 9.9 km apart" in close.obstacles[0]
    assert assess_declared(declared(HOME, go(0, 160), go(0, 170.1), HOME)).close_pairs == ()
    # Turn points 1 and 3 count too, though no leg joins them.
    again = assess_declared(declared(HOME, go(0, 100), go(90, 100), go(0, 105), HOME))
    assert [(p.first_number, p.second_number) for p in again.close_pairs] == [(1, 3)]


def test_more_than_three_turn_points_are_no_declared_course() -> None:
    course = assess_declared(declared(HOME, go(0, 100), go(60, 100), go(120, 100), go(180, 100), HOME))
    assert course.awards == ()
    assert "4 turn points" in course.obstacles[0]


def test_the_goal_diamond_takes_a_closed_course_without_tolerance() -> None:
    assert "Diamond goal" in names(declared(HOME, go(0, 160), HOME))
    assert "Diamond goal" in names(declared(HOME, go(0, 120), go(60, 120), HOME))
    assert "Diamond goal" not in names(declared(HOME, go(0, 160), go(180, 0.5)))
    assert "Diamond goal" not in names(declared(HOME, go(0, 310)))
    # It needs no FAI triangle.
    assert "Diamond goal" in names(declared(HOME, go(0, 145), go(5, 145), HOME))


def test_silver_is_a_straight_distance_from_start_and_take_off() -> None:
    assert names(declared(HOME, go(20, 50.01))) == ["Silver distance"]
    assert names(declared(HOME, go(20, 49.99))) == []
    assert names(declared(HOME, go(20, 30), HOME)) == []
    off = replace(declared(HOME, go(20, 50.01)), take_off=Place("T", "T", go(20, 1)))
    assert names(off) == []
    assert "500 m" in " ".join(assess_declared(declared(HOME, go(20, 50.01))).awards[0].requires)


@pytest.mark.parametrize(
    ("kilometres", "diplomas"),
    [(749, []), (751, [750]), (999, [750]), (1000.5, [750, 1000]), (1010, [1000]), (1260, [1250])],
)
def test_diplomas_go_by_steps_of_250_kilometres(kilometres: float, diplomas: list[int]) -> None:
    course = declared(HOME, go(0, kilometres / 2), HOME)
    found = [a for a in assess_declared(course).awards if a.name.startswith("Diploma")]
    assert [award.required_m / 1000 for award in found] == diplomas
