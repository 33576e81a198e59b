"""Whether what somebody holds is the task: the first point that differs, by how much, and what rounding may do."""

from __future__ import annotations

from dataclasses import replace

import pytest

from taskdb.core.course.agreement import DECLARATION, HeldPoint, HeldTask, differences, not_known
from taskdb.core.course.axes import resolve_points
from taskdb.core.course.zones import parse_zone
from taskdb.core.geodesy import destination
from taskdb.core.model import Position, Role, Task, TaskType
from tests.building import point

POINTS = (
    point("HOME", 51.1, 9.1, Role.START, "line 1km"),
    point("QUARRY", 51.5, 9.9, Role.AREA, "cylinder 20km"),
    point("CASTLE", 51.0, 10.2, Role.AREA, "area 5km..30km 350..040"),
    point("HOME", 51.1, 9.1, Role.FINISH, "line 2km 310"),
)
TASK = Task("A", TaskType.ASSIGNED_AREA, resolve_points(POINTS), "club", 3, time_s=10_800)
HELD = HeldTask(tuple(HeldPoint(p.place.code, p.place.position, p.zone) for p in POINTS), TASK.type, TASK.time_s)


def but(number: int, **values: object) -> HeldTask:
    points = list(HELD.points)
    points[number] = replace(points[number], **values)  # type: ignore[arg-type]
    return replace(HELD, points=tuple(points))


def test_the_task_itself_is_the_task_whether_its_axes_are_resolved_or_not():
    assert differences(TASK, HELD) == ()
    assert not_known(TASK, HELD) == ()
    resolved = tuple(HeldPoint(p.place.code, p.place.position, p.zone) for p in TASK.points)
    assert differences(TASK, replace(HELD, points=resolved)) == ()


def test_a_point_elsewhere_is_named_with_how_far_off_it_is():
    moved = destination(POINTS[2].place.position, 90.0, 250.0)
    (found,) = differences(TASK, but(2, position=moved))
    assert (found.number, found.what) == (2, "position")
    assert found.off_m == pytest.approx(250.0, abs=0.02)
    assert "CASTLE" in found.message and "250 m off" in found.message


@pytest.mark.parametrize(
    ("number", "zone"),
    [
        (0, "line 1.1km"), (0, "cylinder 1km"), (0, "line 1km 90"), (1, "cylinder 20.1km"),
        (2, "area 5km..30km 040..350"), (2, "area 30km"), (2, "area 5km..30km 351..040"),
        (3, "line 2km"), (3, "line 2km 311"),
    ],
)  # fmt: skip
def test_another_zone_is_a_difference(number, zone):
    (found,) = differences(TASK, but(number, zone=parse_zone(zone)))
    assert (found.number, found.what, found.off_m) == (number, "zone", None)
    assert zone in found.message and TASK.points[number].zone.text in found.message


@pytest.mark.parametrize(
    ("number", "zone"),
    [(0, "line 1000m away-from-next"), (1, "area 20km"), (1, "area 0km..20km"), (3, "line 2000m 310")],
)
def test_the_same_airspace_in_other_words_is_none(number, zone):
    assert differences(TASK, but(number, zone=parse_zone(zone))) == ()


def test_what_is_not_known_is_no_difference_and_is_told():
    bare = HeldTask(tuple(replace(p, zone=None) for p in HELD.points))
    assert differences(TASK, bare) == ()
    assert not_known(TASK, bare) == ("zones", "type", "time")
    assert not_known(TASK, but(2, zone=None)) == ("zones of points 2",)


def test_a_declaration_is_held_to_its_own_rounding():
    # IGC Technical Specification, Appendix A, 2.4: thousandths of minutes; 0.001' is 1.855 m in latitude.
    near = but(1, position=destination(POINTS[1].place.position, 45.0, 2.5))
    beyond = but(1, position=destination(POINTS[1].place.position, 45.0, 3.0))
    assert differences(TASK, near, DECLARATION) == ()
    assert differences(TASK, near)[0].off_m == pytest.approx(2.5, abs=0.02)
    assert differences(TASK, beyond, DECLARATION)[0].number == 1


def test_points_too_many_or_too_few_type_and_time_are_differences():
    short = replace(HELD, points=HELD.points[:3], type=TaskType.RACING, time_s=7_200)
    assert [found.what for found in differences(TASK, short)] == ["points", "type", "time"]
    end = HeldPoint("HUT", Position.at(50.0, 9.0))
    away = replace(HELD, take_off=end)
    assert differences(TASK, away) == ()
    declared = replace(TASK, take_off=POINTS[0].place)
    assert [found.what for found in differences(declared, away)] == ["take-off"]
