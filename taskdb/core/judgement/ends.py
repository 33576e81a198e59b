"""Start and finish of two tasks that share ground, or come near to it, while both are used."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.course.outline import line_ends
from taskdb.core.course.regions import reach_m
from taskdb.core.geodesy import inverse
from taskdb.core.judgement.approach import FlownLeg, closest
from taskdb.core.judgement.meeting import OTHER_SIDE_DEG, DayTask, Kind, Meeting, both_at, differ_deg
from taskdb.core.model import Role, Shape, TaskPoint

LARGEST_REACH_M = 20_000.0
"""As far as a sector without a radius is looked at."""


def at_their_ends(a: DayTask, b: DayTask, apart_m: float, within_min: float) -> Iterator[Meeting]:
    """Yield a meeting for each start or finish of one task whose zone comes within a distance of one of the other's.

    Only where times are known to come within a time of each other, or are not known. Facing: who arrives at a finish
    flies against those who leave a start there, or arrive at the other finish. Two finishes on which all arrive from
    one side are as they should be, and are left out.
    """
    for is_start_a in (True, False):
        for is_start_b in (True, False):
            n = 0 if is_start_a else len(a.task.points) - 1
            m = 0 if is_start_b else len(b.task.points) - 1
            apart = zones_apart_m(a.task.points[n], b.task.points[m])
            when = both_at(a, b, n, m)
            if apart > apart_m or (when is not None and when.gap_min > within_min):
                continue
            courses = _course(a, is_start=is_start_a), _course(b, is_start=is_start_b)
            if courses[0] is None or courses[1] is None:
                continue
            angle = differ_deg(courses[0], courses[1])
            is_facing = angle >= OTHER_SIDE_DEG and not (is_start_a and is_start_b)
            if not is_start_a and not is_start_b and not is_facing:
                continue
            yield Meeting(
                Kind.ENDS,
                (a, b),
                (n, m),
                apart,
                apart,
                a.task.points[n].place.position,
                angle,
                when,
                is_facing=is_facing,
                roles=(_role(is_start_a), _role(is_start_b)),
            )


def _role(is_start: bool) -> str:
    return Role.START.value if is_start else Role.FINISH.value


def zones_apart_m(point: TaskPoint, other: TaskPoint) -> float:
    """Return how far apart two zones are, 0 where they share ground: exact for lines, cylinders and full areas.

    Sectors, keyholes and segments count as far round as they reach, one without a radius up to `LARGEST_REACH_M`: they
    are never nearer than that.
    """
    (leg, radius), (other_leg, other_radius) = _extent(point), _extent(other)
    near = closest(leg, other_leg)
    assert near is not None  # without times there always is a nearest pair
    return max(0.0, near.apart_m - radius - other_radius)


def _extent(point: TaskPoint) -> tuple[FlownLeg, float]:
    """Return a zone as all that lies within a radius of a line or a place."""
    at = point.place.position
    if point.zone.shape is Shape.LINE:
        return FlownLeg.between(*line_ends(point.zone, at)), 0.0
    return FlownLeg.between(at, at), min(reach_m(point.zone), LARGEST_REACH_M)


def _course(one: DayTask, *, is_start: bool) -> float | None:
    """Return the true course on which a start is left, or a finish reached, over the task distance."""
    path = one.ways[0].path
    line = inverse(path[0], path[1]) if is_start else inverse(path[-2], path[-1])
    return line.bearing_deg if is_start else line.arrival_deg
