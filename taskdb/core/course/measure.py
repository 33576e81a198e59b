"""What a task's course is: its legs, its distances as the contest counts them, its shape and its time.

The one entry for everything that shows, compares or searches tasks. It measures resolved points and decides nothing
about them; the extremes come from `extremes`, the deductions from `deductions`, the shape from `shape`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from taskdb.core.course.declared import DeclaredCourse, assess_declared
from taskdb.core.course.deductions import Taken, dues, take
from taskdb.core.course.regions import counted_position
from taskdb.core.course.shape import CourseShape, course_shape
from taskdb.core.geodesy import inverse, sphere_distance_m
from taskdb.core.model import Earth, Position, Task, TaskType

__all__ = ["Course", "CourseShape", "Distances", "Leg", "Taken", "TaskTime", "legs_between", "measure_course"]


@dataclass(frozen=True, slots=True)
class Leg:
    """A leg between counted positions; its true course where it leaves, None where it has no length."""

    from_number: int
    to_number: int
    distance_m: float
    course_true_deg: float | None


@dataclass(frozen=True, slots=True)
class Distances:
    """The lengths of a course, metres, and the paths that attain its extremes.

    None where extremes were not asked for; `maximum_m` and `maximum_at` also for a modified task, which ends where
    the pilot's choice ends. The paths run from start to finish, one position a point, not rounded.
    """

    centres_m: float
    task_m: float
    minimum_m: float | None
    maximum_m: float | None
    minimum_at: tuple[Position, ...] | None
    maximum_at: tuple[Position, ...] | None
    shortest_touching_m: float | None
    deductions: tuple[Taken, ...]


@dataclass(frozen=True, slots=True)
class TaskTime:
    """The time of a task and the speeds over its distances; None where neither time nor speed is known."""

    kind: Literal["minimum", "expected"] | None
    time_s: float | None
    minimum_kmh: float | None
    task_kmh: float | None
    maximum_kmh: float | None


@dataclass(frozen=True, slots=True)
class Course:
    """A measured task. `legs` are as the contest counts them, `between_points` from point to point.

    They differ at ring segments alone, where the contest counts through the middle and files carry the point itself.
    """

    legs: tuple[Leg, ...]
    between_points: tuple[Leg, ...]
    distances: Distances
    shape: CourseShape
    time: TaskTime
    declared: DeclaredCourse | None = None
    """What a declared course is worth as a declaration; None for any other type of task."""

    @property
    def points_m(self) -> float:
        """Return the length through the points themselves, metres: what an instrument shows that was handed them."""
        return math.fsum(leg.distance_m for leg in self.between_points)


@dataclass(frozen=True, slots=True)
class KnownExtremes:
    """Where the shortest and the longest path of a task are known to meet its points, from an earlier search."""

    minimum_at: tuple[Position, ...] | None = None
    maximum_at: tuple[Position, ...] | None = None


def measure_course(
    task: Task, *, extremes: bool = True, touching: bool = True, known: KnownExtremes | None = None
) -> Course:
    """Return legs, distances, shape and time of a task whose points are resolved (`axes.resolve_points`).

    Lengths are on the task's earth model, courses always WGS84. `extremes=False` leaves out minimum, maximum and the
    shortest touching path, which need numpy; `touching=False` the last alone, which no file holds. Paths that are
    `known` are measured and not searched for again. Fewer than two points have no legs and no length. ValueError
    where a zone's axis is needed and not resolved.
    """
    counted, standing = [counted_position(p) for p in task.points], [p.place.position for p in task.points]
    legs = legs_between(counted, task.rules.earth)
    between_points = legs if counted == standing else legs_between(standing, task.rules.earth)
    distances = _distances(task, legs, extremes, touching, known or KnownExtremes())
    declared = assess_declared(task) if task.type is TaskType.DECLARED else None
    return Course(legs, between_points, distances, course_shape(task), _time(task, distances), declared)


def legs_between(at: Sequence[Position], earth: Earth) -> tuple[Leg, ...]:
    """Return the legs from each position to the next; lengths on the earth model, courses always WGS84."""
    legs = []
    for number in range(len(at) - 1):
        a, b = at[number], at[number + 1]
        line = inverse(a, b)
        length = sphere_distance_m(a, b) if earth is Earth.FAI_SPHERE else line.distance_m
        legs.append(Leg(number, number + 1, length, line.bearing_deg))
    return tuple(legs)


def _distances(task: Task, legs: Sequence[Leg], extremes: bool, touching: bool, known: KnownExtremes) -> Distances:
    lengths = [leg.distance_m for leg in legs]
    owed = dues(task)
    task_m, taken = take(lengths, owed)
    centres_m = math.fsum(lengths)
    if not extremes:
        return Distances(centres_m, task_m, None, None, None, None, None, taken)
    # Numpy comes with the extremes; lists and searches do without it.
    from taskdb.core.course.extremes import longest_path, path_through, shortest_path, shortest_touching_path

    earth = task.rules.earth
    shortest = shortest_path(task) if known.minimum_at is None else path_through(known.minimum_at, earth)
    longest = None
    if not is_open_ended(task):
        longest = longest_path(task) if known.maximum_at is None else path_through(known.maximum_at, earth)
    return Distances(
        centres_m,
        task_m,
        minimum_m=take(shortest.legs_m, owed)[0],
        maximum_m=None if longest is None else take(longest.legs_m, owed)[0],
        minimum_at=shortest.points,
        maximum_at=None if longest is None else longest.points,
        shortest_touching_m=shortest_touching_path(task).length_m if touching else None,
        deductions=taken,
    )


def is_open_ended(task: Task) -> bool:
    """Return whether the pilot goes on by his own choice behind the assigned points, so that there is no maximum."""
    return task.type is TaskType.MODIFIED or task.free is not None


def _time(task: Task, distances: Distances) -> TaskTime:
    """Return the task's time: the one given, else the one in which its speed covers the task distance."""
    time_s: float | None = task.time_s or None
    if time_s is None and task.speed_kmh:
        time_s = distances.task_m * 3.6 / task.speed_kmh or None
    if time_s is None:
        return TaskTime(None, None, None, None, None)
    is_minimum = task.type in (TaskType.ASSIGNED_AREA, TaskType.MODIFIED)

    def speed(metres: float | None) -> float | None:
        return None if metres is None else metres * 3.6 / time_s

    return TaskTime(
        "minimum" if is_minimum else "expected",
        time_s,
        speed(distances.minimum_m),
        speed(distances.task_m),
        speed(distances.maximum_m),
    )
