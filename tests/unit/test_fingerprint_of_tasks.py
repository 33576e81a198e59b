"""The fingerprint follows a task's geometry, order, type and time, and nothing else."""

from __future__ import annotations

from dataclasses import replace

import pytest

from taskdb.core.course.axes import resolve_points
from taskdb.core.course.fingerprint import ALPHABET, fingerprint
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import Role, Status, Task, TaskPoint, TaskType, ZoneFrom
from tests.building import point

POINTS = (
    point("HOME", 51.1234567, 9.1, Role.START, "line 1km"),
    point("QUARRY", 51.5, 9.9, Role.AREA, "area 20km"),
    point("CASTLE", 51.0, 10.2, Role.AREA, "sector 90deg 20km"),
    point("HOME", 51.1234567, 9.1, Role.FINISH, "cylinder 3km"),
)
TASK = Task("A", TaskType.ASSIGNED_AREA, POINTS, "club", 3, time_s=10_800)


def changed(number: int, new: TaskPoint) -> Task:
    return replace(TASK, points=(*POINTS[:number], new, *POINTS[number + 1 :]))


def test_it_is_two_groups_of_four_and_stays_what_it_is() -> None:
    # A golden value: a fingerprint on a printed sheet must hold with later versions.
    assert fingerprint(TASK) == "9673-4H7L"
    groups = fingerprint(TASK).split("-")
    assert [len(group) for group in groups] == [4, 4]
    assert set("".join(groups)) <= set(ALPHABET)


def test_the_alphabet_has_no_signs_that_look_alike() -> None:
    assert len(set(ALPHABET)) == 16
    assert not set(ALPHABET) & set("0OQ1I2Z5S8B")


def test_names_numbers_and_bookkeeping_do_not_count() -> None:
    renamed = changed(1, replace(POINTS[1], place=replace(POINTS[1].place, code="Q2", name="Pit", elevation_m=300)))
    same = [
        renamed,
        replace(TASK, name="B", set_name="other", set_revision=9, status=Status.ISSUED, tags=("x",), day=2),
        changed(0, replace(POINTS[0], zone=parse_zone("line 1000m"))),
        changed(0, replace(POINTS[0], zone=parse_zone("line 1km away-from-next"))),
        changed(1, replace(POINTS[1], zone=parse_zone("area 0m..20km 000..360"))),
        changed(1, replace(POINTS[1], zone_from=ZoneFrom.CONTEST)),
        replace(TASK, points=resolve_points(POINTS)),
        changed(1, point("QUARRY", 51.5000003, 9.9, Role.AREA, "area 20km")),
    ]
    assert {fingerprint(task) for task in same} == {fingerprint(TASK)}


def test_every_part_of_the_geometry_counts() -> None:
    others = [
        replace(TASK, type=TaskType.RACING),
        replace(TASK, time_s=10_860),
        replace(TASK, time_s=None),
        replace(TASK, points=(POINTS[0], POINTS[2], POINTS[1], POINTS[3])),
        replace(TASK, points=POINTS[:3]),
        changed(1, point("QUARRY", 51.5000010, 9.9, Role.AREA, "area 20km")),
        changed(1, point("QUARRY", 51.5, 9.900001, Role.AREA, "area 20km")),
        changed(1, point("QUARRY", -51.5, 9.9, Role.AREA, "area 20km")),
        changed(1, point("QUARRY", 51.5, 9.9, Role.AREA, "area 20.1km")),
        changed(1, point("QUARRY", 51.5, 9.9, Role.AREA, "cylinder 20km")),
        changed(1, point("QUARRY", 51.5, 9.9, Role.AREA, "area 1km..20km")),
        changed(1, point("QUARRY", 51.5, 9.9, Role.AREA, "area 0km..20km 040..110")),
        changed(1, point("QUARRY", 51.5, 9.9, Role.AREA, "area 0km..20km 110..040")),
        changed(2, replace(POINTS[2], zone=parse_zone("sector 91deg 20km"))),
        changed(2, replace(POINTS[2], zone=parse_zone("sector 90deg 20km towards-next"))),
        changed(2, replace(POINTS[2], zone=parse_zone("sector 90deg 20km 235"))),
        changed(2, replace(POINTS[2], zone=parse_zone("sector 90deg 20km 236"))),
        changed(2, replace(POINTS[2], zone=parse_zone("sector 90deg"))),
    ]
    prints = [fingerprint(task) for task in (TASK, *others)]
    assert len(set(prints)) == len(prints)


@pytest.mark.parametrize(("longitude", "other"), [(-180.0, 180.0), (179.9999999, -180.0)])
def test_the_antimeridian_is_one_place(longitude: float, other: float) -> None:
    one, two = (changed(1, point("Q", 10, x, Role.AREA, "area 20km")) for x in (longitude, other))
    assert fingerprint(one) == fingerprint(two)
