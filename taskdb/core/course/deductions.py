"""What comes off a course's legs by rule: cylinders at start and finish, and in declared courses every cylinder.

The amounts follow from the task; they are then taken from the legs of any path through it, so that centre, minimum
and maximum distances are treated alike. No length is measured here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from taskdb.core.model import Deduction, Shape, Task, TaskPoint, TaskType, Zone

CYLINDER_CORRECTION_M = 500.0
"""Off a leg each time it crosses a cylinder (FAI Sporting Code Section 3, 1.2.11, edition of about 2008)."""


@dataclass(frozen=True, slots=True)
class Taken:
    """Metres that come off, at which point, and why in words for people."""

    number: int
    metres: float
    reason: str


@dataclass(frozen=True, slots=True)
class Due:
    """A deduction before it meets its leg: `leg` is the leg's place in the course, from 0."""

    number: int
    leg: int
    metres: float
    reason: str


def between_rings_m(task: Task, centres_m: float) -> float | None:
    """Return a course's length from ring to ring, metres: by centres, less the radii of cylinders at start and finish.

    None where neither is a cylinder.
    """
    radii = [
        point.zone.radius_m
        for point in (task.points[0], task.points[-1])
        if point.zone.shape is Shape.CYLINDER and point.zone.radius_m is not None
    ]
    return max(0.0, centres_m - sum(radii)) if radii else None


def dues(task: Task) -> tuple[Due, ...]:
    """Return what the rules take off, in order of points; lines, sectors and keyholes take nothing off.

    A racing or area task gives the radius of a cylinder at start and finish where its contest counts so. A declared
    course gives 0.5 km for each crossing of a cylinder, or its radius where that is larger.
    """
    last = len(task.points) - 1
    if last < 1:
        return ()
    if task.type is TaskType.DECLARED:
        return tuple(_declared_dues(task.points))
    found = []
    ends = (
        (0, 0, task.rules.start_deduction, "start", "first"),
        (last, last - 1, task.rules.finish_deduction, "finish", "last"),
    )
    for number, leg, rule, role, which in ends:
        zone = task.points[number].zone
        if zone.shape is Shape.CYLINDER and rule is Deduction.LESS_RADIUS:
            reason = f"{role} cylinder: its radius comes off the {which} leg"
            found.append(Due(number, leg, zone.radius_m or 0.0, reason))
    return tuple(found)


def crossing_m(zone: Zone) -> float:
    """Return what a declared course gives for a leg that crosses a zone's edge, metres; 0 for all but cylinders."""
    if zone.shape is not Shape.CYLINDER:
        return 0.0
    return max(CYLINDER_CORRECTION_M, zone.radius_m or 0.0)


def _declared_dues(points: Sequence[TaskPoint]) -> list[Due]:
    found = []
    for number, point in enumerate(points):
        if point.zone.shape is not Shape.CYLINDER:
            continue
        metres = crossing_m(point.zone)
        why = "0.5 km" if metres <= CYLINDER_CORRECTION_M else "its radius, larger than 0.5 km,"
        for leg in (number - 1, number):
            if 0 <= leg < len(points) - 1:
                way = "into" if leg < number else "out of"
                found.append(Due(number, leg, metres, f"cylinder: {why} off the leg {way} it"))
    return found


def take(legs_m: Sequence[float], owed: Sequence[Due]) -> tuple[float, tuple[Taken, ...]]:
    """Return the length that is left of the legs, and what was taken: never more from a leg than there is of it."""
    left = list(legs_m)
    taken = []
    for due in owed:
        metres = min(due.metres, left[due.leg])
        left[due.leg] -= metres
        taken.append(Taken(due.number, metres, due.reason))
    return math.fsum(left), tuple(taken)
