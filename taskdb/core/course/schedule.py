"""When a task's points are passed: seconds after the start, over its minimum, task and maximum distance.

Times are flown times on WGS84 at a stated still-air speed in a stated wind; what the contest takes off the first and
last leg is not flown. A planning aid: nothing here knows weather, height or a pilot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from taskdb.core.course.deductions import dues
from taskdb.core.course.measure import Course
from taskdb.core.course.regions import counted_position
from taskdb.core.course.wind import Air, LegFlown, fly_leg
from taskdb.core.geodesy import distance_m
from taskdb.core.model import Position, Role, Task

DAY_S = 24 * 3600


class Extent(StrEnum):
    """Over which of a task's distances."""

    MINIMUM = "minimum"
    TASK = "task"
    MAXIMUM = "maximum"


@dataclass(frozen=True, slots=True)
class Timetable:
    """A flight over one of a task's distances. `after_s` holds the seconds after the start over each point.

    They are None from the first leg on that cannot be made; `time_s`, the time over the finish, then too.
    """

    extent: Extent
    legs: tuple[LegFlown, ...]
    after_s: tuple[float | None, ...]

    @property
    def time_s(self) -> float | None:
        return self.after_s[-1] if self.after_s else None


def timetable(task: Task, path: Sequence[Position], air: Air, extent: Extent) -> Timetable:
    """Return when each point is passed on a path with one position a point; the start at 0.

    What comes off a leg (`deductions.dues`) is not flown: the clock starts at the edge of a start ring and stops at
    that of a finish ring. ValueError where the path has not as many positions as the task has points.
    """
    if len(path) != len(task.points):
        raise ValueError(f"a path of {len(path)} positions for {len(task.points)} points")
    lengths = [distance_m(a, b) for a, b in pairwise(path)]
    off = [[0.0, 0.0] for _ in lengths]
    for due in dues(task):
        left = lengths[due.leg] - sum(off[due.leg])
        off[due.leg][0 if due.number == due.leg else 1] += min(due.metres, max(left, 0.0))
    legs = tuple(
        fly_leg(path[n], path[n + 1], air, off_start_m=off[n][0], off_end_m=off[n][1]) for n in range(len(lengths))
    )
    after: list[float | None] = [0.0]
    for leg in legs:
        before = after[-1]
        after.append(None if before is None or leg.time_s is None else before + leg.time_s)
    return Timetable(extent, legs, tuple(after))


def timetables(task: Task, course: Course, air: Air) -> tuple[Timetable, ...]:
    """Return the flights over a task's distances: the task distance, and for areas minimum and maximum around it.

    An extreme that was not measured, or that a modified task does not have, is left out.
    """
    has_areas = any(point.role is Role.AREA for point in task.points)
    extents = Extent if has_areas else (Extent.TASK,)
    paths = ((extent, path_over(task, course, extent)) for extent in extents)
    return tuple(timetable(task, path, air, extent) for extent, path in paths if path)


def flight_over(task: Task, course: Course, air: Air, extent: Extent) -> Timetable | None:
    """Return the flight over one of a task's distances; None where it has no such, or it was not measured.

    A task without areas has one distance: its minimum is the task distance, and its maximum where it has one.
    """
    if extent is Extent.MAXIMUM and course.distances.maximum_m is None:
        return None
    if all(point.role is not Role.AREA for point in task.points):
        extent = Extent.TASK
    path = path_over(task, course, extent)
    return timetable(task, path, air, extent) if path else None


def path_over(task: Task, course: Course, extent: Extent) -> Sequence[Position]:
    """Return the path of one of a task's distances, a position a point; empty where it has none or is not measured."""
    if extent is Extent.TASK:
        return [counted_position(point) for point in task.points]
    distances = course.distances
    return (distances.minimum_at if extent is Extent.MINIMUM else distances.maximum_at) or ()


def minutes_of(time_of_day: str) -> int:
    """Return the minutes since midnight of `HH:MM`."""
    hours, minutes = time_of_day.split(":")
    return int(hours) * 60 + int(minutes)


def clock_after(time_of_day: str, seconds: float) -> str:
    """Return the time of day (`HH:MM`, to the nearest minute) so many seconds after another; `00:10 (+1)` next day."""
    days, minutes = divmod(round(minutes_of(time_of_day) + seconds / 60), DAY_S // 60)
    text = f"{minutes // 60:02d}:{minutes % 60:02d}"
    return f"{text} (+{days})" if days > 0 else text
