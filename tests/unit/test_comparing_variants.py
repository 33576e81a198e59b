"""Comparisons laid beside each other by points, and tasks that stand on different sets."""

from __future__ import annotations

from dataclasses import replace

from taskdb.core.course import assembly
from taskdb.core.course.assembly import Chosen
from taskdb.core.course.compare import PointChange, align_points, compare_points
from taskdb.core.model import Place, Position, TaskPoint, TaskType

HOME = Place("H", "Home", Position.at(50.0, 10.0), identity="h")
QUARRY = Place("Q", "Quarry", Position.at(50.3, 10.4), identity="q")
CASTLE = Place("C", "Castle", Position.at(50.2, 11.0), identity="c")
MILL = Place("M", "Mill", Position.at(49.8, 10.6), identity="m")


def course(*places: Place) -> tuple[TaskPoint, ...]:
    chosen = [Chosen(place) for place in places]
    return assembly.assemble(chosen, TaskType.RACING, assembly.defaults_of(None))


def test_rows_hold_what_each_variant_has_at_each_point_and_behind_it() -> None:
    first = course(HOME, QUARRY, CASTLE, HOME)
    longer = compare_points(first, course(HOME, MILL, QUARRY, CASTLE, HOME))
    shorter = compare_points(first, course(HOME, QUARRY, HOME))
    rows = align_points(len(first), [longer, shorter])
    assert [number for number, _ in rows] == [0, None, 1, 2, 3]
    assert [[step.code if step else None for step in steps] for _, steps in rows] == [
        ["H", "H"], ["M", None], ["Q", "Q"], ["C", "C"], ["H", "H"],
    ]  # fmt: skip
    assert rows[3][1][1] is not None and rows[3][1][1].change is PointChange.DROPPED


def test_points_before_the_first_have_rows_of_their_own() -> None:
    first = course(QUARRY, CASTLE, QUARRY)
    rows = align_points(len(first), [compare_points(first, course(MILL, QUARRY, CASTLE, QUARRY))])
    assert [number for number, _ in rows] == [None, 0, 1, 2]


def test_a_course_on_another_set_is_the_same_course_there() -> None:
    # The other set gave every point another identity, renumbered all, renamed one and moved one by 11 m.
    def elsewhere(place: Place, code: str, **other: object) -> Place:
        return replace(place, code=code, identity=f"new {place.identity}", **other)  # type: ignore[arg-type]

    first = course(HOME, QUARRY, CASTLE, MILL, HOME)
    home = elsewhere(HOME, "M")
    renamed, moved = elsewhere(QUARRY, "H", name="Pit"), elsewhere(CASTLE, "Q", position=Position.at(50.2001, 11.0))
    other = course(home, renamed, moved, elsewhere(MILL, "C"), home)
    assert [d.change for d in compare_points(first, other, between_sets=True)] == [
        PointChange.SAME, PointChange.SAME, PointChange.MOVED, PointChange.SAME, PointChange.SAME,
    ]  # fmt: skip
    assert {d.change for d in compare_points(first, other)} == {PointChange.REPLACED}


def test_a_code_alone_makes_no_two_points_the_same() -> None:
    first = course(HOME, QUARRY, HOME)
    tower = Place("Q", "Tower", Position.at(50.304, 10.4), identity="t")
    (_, turn, _) = compare_points(first, course(HOME, tower, HOME), between_sets=True)
    assert turn.change is PointChange.REPLACED


def test_on_one_set_identities_alone_decide() -> None:
    beside = Place("Q2", "Quarry", Position.at(50.3001, 10.4), identity="q2")
    first = course(HOME, QUARRY, HOME)
    (_, turn, _) = compare_points(first, course(HOME, beside, HOME))
    assert turn.change is PointChange.REPLACED
