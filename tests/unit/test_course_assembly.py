"""Putting a task together, comparing variants, and what makes a saved task stale."""

from __future__ import annotations

from dataclasses import replace

import pytest

from taskdb.core.course import assembly
from taskdb.core.course.assembly import Chosen, ZoneChoice
from taskdb.core.course.compare import PointChange, compare_points
from taskdb.core.course.staleness import stale_reasons
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import FreeChoice, Place, Position, Role, Task, TaskType, Waypoint, ZoneFrom
from taskdb.errors import RefusedError, UsageError

HOME = Place("H", "Home", Position.at(50.0, 10.0), 300.0, "id-home")
QUARRY = Place("Q", "Quarry", Position.at(50.3, 10.4), 400.0, "id-quarry")
CASTLE = Place("C", "Castle", Position.at(49.9, 10.7), 500.0, "id-castle")
MILL = Place("M", "Mill", Position.at(49.7, 10.3), 350.0, "id-mill")


def course(*places: Place, task_type: TaskType = TaskType.RACING) -> tuple:
    return assembly.assemble([Chosen(place) for place in places], task_type, assembly.defaults_of(None))


def test_roles_follow_from_place_and_type() -> None:
    assert assembly.roles_of(4, TaskType.RACING) == (Role.START, Role.TURN, Role.TURN, Role.FINISH)
    assert assembly.roles_of(3, TaskType.ASSIGNED_AREA) == (Role.START, Role.AREA, Role.FINISH)
    with pytest.raises(UsageError):
        assembly.roles_of(1, TaskType.RACING)


def test_an_area_among_the_zones_makes_an_area_task() -> None:
    assert assembly.default_type([None, parse_zone("area 20km"), None]) is TaskType.ASSIGNED_AREA
    assert assembly.default_type([None, parse_zone("cylinder 1km")]) is TaskType.RACING


def test_a_point_takes_the_contest_default_and_else_the_built_in_one() -> None:
    defaults = assembly.defaults_of({Role.TURN: parse_zone("cylinder 3km")})
    points = assembly.assemble([Chosen(HOME), Chosen(QUARRY), Chosen(HOME)], TaskType.RACING, defaults)
    assert [(p.zone.text, p.zone_from) for p in points] == [
        ("line 1km", ZoneFrom.BUILT_IN),
        ("cylinder 3km", ZoneFrom.CONTEST),
        ("line 1km", ZoneFrom.BUILT_IN),
    ]


def test_a_default_zone_follows_its_points_new_role_and_an_own_zone_stays() -> None:
    own = parse_zone("cylinder 7km")
    points = assembly.assemble(
        [Chosen(HOME), Chosen(QUARRY, own), Chosen(CASTLE), Chosen(HOME)], TaskType.RACING, assembly.defaults_of(None)
    )
    moved = assembly.move(assembly.chosen_of(points), 2, 0)
    again = assembly.assemble(moved, TaskType.RACING, assembly.defaults_of(None))
    assert [(p.place.code, p.zone.text) for p in again] == [
        ("C", "line 1km"),
        ("H", "cylinder 500m"),
        ("Q", "cylinder 7km"),
        ("H", "line 1km"),
    ]


def test_points_are_inserted_moved_dropped_and_replaced_by_number() -> None:
    chosen = [Chosen(HOME), Chosen(QUARRY), Chosen(CASTLE)]

    def codes(result: list[Chosen]) -> str:
        return "".join(choice.place.code for choice in result)

    assert codes(assembly.insert(chosen, 1, Chosen(MILL))) == "HMQC"
    assert codes(assembly.insert(chosen, 3, Chosen(MILL))) == "HQCM"
    assert codes(assembly.move(chosen, 0, 2)) == "QCH"
    assert codes(assembly.drop(chosen, 1)) == "HC"
    assert codes(assembly.substitute(chosen, 1, MILL)) == "HMC"
    for edit in (
        lambda: assembly.insert(chosen, 4, Chosen(MILL)),
        lambda: assembly.move(chosen, 0, 3),
        lambda: assembly.drop(chosen, 3),
    ):
        with pytest.raises(UsageError):
            edit()


def test_zones_are_set_by_number_and_group_the_later_winning() -> None:
    chosen = [Chosen(HOME), Chosen(QUARRY), Chosen(CASTLE), Chosen(HOME)]
    choices = [ZoneChoice("turns", parse_zone("cylinder 1km")), ZoneChoice(2, parse_zone("cylinder 2km"))]
    result = assembly.with_zones(chosen, choices, TaskType.RACING)
    assert [c.own_zone.text if c.own_zone else None for c in result] == [None, "cylinder 1km", "cylinder 2km", None]
    with pytest.raises(UsageError):
        assembly.with_zones(chosen, [ZoneChoice("areas", parse_zone("area 5km"))], TaskType.RACING)


def test_an_area_role_needs_a_bounded_zone() -> None:
    chosen = [Chosen(HOME), Chosen(QUARRY, parse_zone("line 1km")), Chosen(HOME)]
    with pytest.raises(RefusedError):
        assembly.assemble(chosen, TaskType.ASSIGNED_AREA, assembly.defaults_of(None))


def test_comparison_aligns_over_points_and_not_over_numbers() -> None:
    first = course(HOME, QUARRY, CASTLE, HOME)
    other = course(HOME, MILL, QUARRY, CASTLE, HOME)
    assert [(d.number, d.change) for d in compare_points(first, other)] == [
        (0, PointChange.SAME),
        (1, PointChange.ADDED),
        (2, PointChange.SAME),
        (3, PointChange.SAME),
        (4, PointChange.SAME),
    ]
    dropped = compare_points(other, first)
    assert [d.change for d in dropped].count(PointChange.DROPPED) == 1


def test_comparison_tells_a_changed_zone_a_moved_and_a_replaced_point() -> None:
    first = course(HOME, QUARRY, CASTLE, HOME)
    zoned = (first[0], replace(first[1], zone=parse_zone("cylinder 3km")), *first[2:])
    assert compare_points(first, zoned)[1].change is PointChange.ZONE
    north = replace(QUARRY, position=Position.at(50.31, 10.4))
    (moved,) = [d for d in compare_points(first, course(HOME, north, CASTLE, HOME)) if d.change is PointChange.MOVED]
    # 0.01 degrees of the meridian at 50.3 N are 1112.4 m (WGS84; 1 minute of latitude there is about 1853.9 m).
    assert moved.distance_m == pytest.approx(1112.4, abs=0.5)
    (replaced,) = [
        d for d in compare_points(first, course(HOME, MILL, CASTLE, HOME)) if d.change is PointChange.REPLACED
    ]
    assert (replaced.code, replaced.baseline_code) == ("M", "Q")


def standing(*places: Place) -> dict[str, Waypoint]:
    return {str(p.identity): Waypoint(p.code, p.name, p.position, p.elevation_m, identity=p.identity) for p in places}


def reasons(task: Task, now: dict[str, Waypoint]) -> tuple[str, ...]:
    return stale_reasons(
        task, standing=now, standing_at="region@4", defaults=assembly.defaults_of(None), contest_at=None
    )


def test_only_a_used_point_that_changed_or_a_default_that_was_taken_makes_a_task_stale() -> None:
    task = Task("A", TaskType.RACING, course(HOME, QUARRY, HOME), "region", 3)
    assert reasons(task, standing(HOME, QUARRY, CASTLE)) == ()
    moved = replace(QUARRY, position=Position.at(50.3, 10.401))
    (said,) = reasons(task, standing(HOME, moved))
    assert "point 1 (Q Quarry) moved 71 m towards 090° in region@4" in said
    (gone,) = reasons(task, standing(HOME))
    assert "retired in region@4" in gone
    changed = assembly.defaults_of({Role.TURN: parse_zone("cylinder 1km")})
    (took,) = stale_reasons(
        task, standing=standing(HOME, QUARRY), standing_at="region@4", defaults=changed, contest_at="Cup@2"
    )
    assert "'cylinder 500m'" in took and "Cup@2 now has 'cylinder 1km'" in took


def test_a_zone_set_by_hand_is_not_stale_when_the_default_changes() -> None:
    points = assembly.assemble(
        [Chosen(HOME), Chosen(QUARRY, parse_zone("cylinder 2km")), Chosen(HOME)],
        TaskType.RACING,
        assembly.defaults_of(None),
    )
    task = Task("A", TaskType.RACING, points, "region", 3)
    changed = assembly.defaults_of({Role.TURN: parse_zone("cylinder 1km")})
    assert not stale_reasons(
        task, standing=standing(HOME, QUARRY), standing_at="region@4", defaults=changed, contest_at="Cup@2"
    )


def test_a_tasks_own_point_is_never_stale() -> None:
    own = Place("P1", "50N 10.5E", Position.at(50.0, 10.5))
    task = Task("A", TaskType.RACING, course(HOME, own, HOME), "region", 3)
    assert reasons(task, standing(HOME)) == ()


def test_a_course_is_turned_round_and_begun_elsewhere_with_its_own_zones():
    own = parse_zone("cylinder 3km")
    chosen = [Chosen(HOME), Chosen(QUARRY, own), Chosen(CASTLE), Chosen(HOME)]
    assert [c.place.code for c in assembly.turned_round(chosen)] == ["H", "C", "Q", "H"]
    begun = assembly.started_at(chosen, 1)
    assert [(c.place.code, c.own_zone) for c in begun] == [("Q", own), ("C", None), ("H", None), ("Q", None)]
    assert [c.place.code for c in assembly.started_at(chosen, 3)] == ["H", "Q", "C", "H"]
    with pytest.raises(RefusedError):
        assembly.started_at([Chosen(HOME), Chosen(QUARRY), Chosen(CASTLE)], 1)


@pytest.mark.parametrize(
    ("typed", "zone_from", "is_stale"),
    [
        ("cylinder 500m", ZoneFrom.CONTEST, True),
        ("cylinder 1km", ZoneFrom.CONTEST, False),
        ("cylinder 500m", ZoneFrom.OWN, False),
        (None, None, False),
    ],
)
def test_the_zone_of_free_points_is_stale_where_it_was_a_default_that_changed(
    typed: str | None, zone_from: ZoneFrom | None, is_stale: bool
) -> None:
    free = FreeChoice(5, zone=None if typed is None else parse_zone(typed), zone_from=zone_from)
    task = Task("A", TaskType.MODIFIED, course(HOME, QUARRY), "region", 3, free=free)
    changed = assembly.defaults_of({Role.TURN: parse_zone("cylinder 1km")})
    said = stale_reasons(
        task, standing=standing(HOME, QUARRY), standing_at="region@4", defaults=changed, contest_at="Cup@2"
    )
    told = "its free points took the default 'cylinder 500m'; Cup@2 now has 'cylinder 1km'"
    assert said == ((told,) if is_stale else ())
