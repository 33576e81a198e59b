"""Where a class is on its day and when: from the opening of its start and its speeds, the wind acting, as bands.

The first start when the start opens and fly as fast as is expected, the last start last and fly as slowly. A planning
aid: nothing here knows the weather, what pilots choose, or who is late.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from taskdb.core.course.day import DaySheet
from taskdb.core.course.deductions import dues
from taskdb.core.course.measure import Course
from taskdb.core.course.schedule import Extent, Timetable, flight_over, minutes_of, path_over
from taskdb.core.course.wind import CALM, Air, SpeedRange
from taskdb.core.geodesy import destination, inverse
from taskdb.core.model import Position, Role, Task, TaskType


@dataclass(frozen=True, slots=True)
class Times:
    """Minutes after local midnight over each point: of the first of a class, of the last, and as one flight is planned.

    The planned flight starts when the start opens, at `planned_kmh` in still air, and is never before the first of its
    class: in an area task it uses the minimum time as they do.
    """

    earliest: tuple[float, ...]
    latest: tuple[float, ...]
    planned: tuple[float, ...]
    planned_kmh: float


@dataclass(frozen=True, slots=True)
class Presence:
    """One way over a task, a position for each point, from ring to ring where rings come off; `times` None: not known.

    Without areas the one way is the task distance; with them there is one each for minimum, task and maximum distance,
    and pilots fly others between and beside them.
    """

    extent: Extent
    path: tuple[Position, ...]
    times: Times | None


def presences(task: Task, course: Course, day: DaySheet | None, speeds: SpeedRange | None) -> tuple[Presence, ...]:
    """Return the ways over a task with when they are flown; `speeds` are those expected in its class.

    Times are not known without the opening of the start, without any speed, and where a leg cannot be made.
    """
    has_areas = any(point.role is Role.AREA for point in task.points)
    found = []
    for extent in Extent if has_areas else (Extent.TASK,):
        path = path_over(task, course, extent)
        if path:
            found.append(Presence(extent, _from_ring_to_ring(task, path), _times(task, course, day, speeds, extent)))
    return tuple(found)


def _from_ring_to_ring(task: Task, path: Sequence[Position]) -> tuple[Position, ...]:
    """Return a path that begins where the clock starts and ends where it stops: at the edges of the outer rings."""
    ends = {0: 0.0, len(path) - 1: 0.0}
    for due in dues(task):
        if due.number in ends:
            ends[due.number] += due.metres
    first, last = _moved(path[0], path[1], ends[0]), _moved(path[-1], path[-2], ends[len(path) - 1])
    return (first, *path[1:-1], last)


def _moved(place: Position, towards: Position, by_m: float) -> Position:
    line = inverse(place, towards)
    if line.bearing_deg is None or not by_m:
        return place
    return destination(place, line.bearing_deg, min(by_m, line.distance_m))


def _times(task: Task, course: Course, day: DaySheet | None, speeds: SpeedRange | None, extent: Extent) -> Times | None:
    planned_kmh = day.air.speed_kmh if day is not None and day.air is not None else _middle(speeds)
    if day is None or day.start_opens is None or day.last_finish is None or planned_kmh is None:
        return None
    wind = day.wind or CALM
    fast_kmh = (speeds.fastest_kmh if speeds is not None else None) or planned_kmh
    slow_kmh = (speeds.slowest_kmh if speeds is not None else None) or planned_kmh
    flights = [
        flight_over(task, course, Air(speed, wind), extent)
        for speed in (max(fast_kmh, planned_kmh), min(slow_kmh, planned_kmh), planned_kmh)
    ]
    fast, slow, planned = (_after_min(flight) for flight in flights)
    if fast is None or slow is None or planned is None:
        return None
    opens, closes = minutes_of(day.start_opens), _minutes(day.last_finish.last_start)
    shortest = (task.time_s or 0) / 60 if task.type in (TaskType.ASSIGNED_AREA, TaskType.MODIFIED) else 0.0
    longest = max(shortest, (day.last_finish.flight_s or 0.0) / 60)
    # A way that takes the slowest longer than the last finish is for those who fly faster; on one that takes them less
    # than the minimum time they stay about. Before that is over nobody comes home: who would, turns further out.
    whole = min(max(slow[-1], shortest), longest) if longest else slow[-1]
    slow = tuple(minutes * whole / slow[-1] if slow[-1] else minutes for minutes in slow)
    fast = tuple(max(first, shortest - (slow[-1] - last)) for first, last in zip(fast, slow, strict=True))
    latest = [max(last, first) for first, last in zip(fast, slow, strict=True)]
    latest[-1] = max(latest[-1], longest)
    # The planned flight is one of the class: where the first wait for the minimum time, it is not there before them.
    planned = tuple(min(max(one, first), last) for one, first, last in zip(planned, fast, latest, strict=True))
    return Times(
        earliest=tuple(opens + minutes for minutes in fast),
        latest=tuple(max(closes, opens) + minutes for minutes in latest),
        planned=tuple(opens + minutes for minutes in planned),
        planned_kmh=planned_kmh,
    )


def _middle(speeds: SpeedRange | None) -> float | None:
    known = [] if speeds is None else [one for one in (speeds.slowest_kmh, speeds.fastest_kmh) if one]
    return sum(known) / len(known) if known else None


def _after_min(flight: Timetable | None) -> tuple[float, ...] | None:
    if flight is None or any(after is None for after in flight.after_s):
        return None
    return tuple((after or 0.0) / 60 for after in flight.after_s)


def _minutes(last_start: str) -> float:
    """Return the minutes after midnight of a last start, which may lie after the next midnight (`00:10 (+1)`)."""
    clock, _, days = last_start.partition(" (+")
    return minutes_of(clock) + 24 * 60 * int(days.rstrip(")") or 0)


def on_leg(times: Times, leg: int) -> tuple[float, float]:
    """Return from when to when a class is on a leg, from the first who leave its first point to the last at its end."""
    return times.earliest[leg], times.latest[leg + 1]


def arrival_courses(ways: Sequence[Presence]) -> tuple[float, ...]:
    """Return the true courses with which the ways arrive at the finish; none of a way whose last leg has no length."""
    found = []
    for way in ways:
        legs = [inverse(a, b) for a, b in pairwise(way.path)]
        if legs and legs[-1].arrival_deg is not None:
            found.append(legs[-1].arrival_deg)
    return tuple(found)
