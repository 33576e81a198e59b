"""One turn that two tasks enter from opposite sides at one time."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.course.regions import counted_position
from taskdb.core.geodesy import distance_m, inverse
from taskdb.core.judgement.meeting import OTHER_SIDE_DEG, DayTask, Kind, Meeting, both_at, differ_deg
from taskdb.core.model import Role

_BETWEEN = (Role.TURN, Role.AREA)


def from_both_sides(a: DayTask, b: DayTask, apart_m: float, within_min: float) -> Iterator[Meeting]:
    """Yield a meeting for each point between start and finish that lies within a distance of one of the other task's.

    Only where the courses on which both arrive differ by `OTHER_SIDE_DEG`, and where times are known, only those that
    come within a time of each other. Where both are areas their pilots turn anywhere in them: `apart_m` is still
    that of the points.
    """
    for n, point in enumerate(a.task.points):
        for m, other in enumerate(b.task.points):
            if point.role not in _BETWEEN or other.role not in _BETWEEN:
                continue
            away = distance_m(point.place.position, other.place.position)
            if away > apart_m:
                continue
            arrivals = _arrival(a, n), _arrival(b, m)
            if arrivals[0] is None or arrivals[1] is None:
                continue
            angle = differ_deg(arrivals[0], arrivals[1])
            when = both_at(a, b, n, m)
            if angle < OTHER_SIDE_DEG or (when is not None and when.gap_min > within_min):
                continue
            yield Meeting(
                Kind.BOTH_SIDES,
                (a, b),
                (n, m),
                away,
                away,
                point.place.position,
                angle,
                when,
                roles=(point.role.value, other.role.value),
            )


def _arrival(one: DayTask, number: int) -> float | None:
    points = one.task.points
    return inverse(counted_position(points[number - 1]), counted_position(points[number])).arrival_deg
