"""Where to turn in a saved task's areas for a wanted length."""

from __future__ import annotations

from dataclasses import dataclass

from taskdb.core.course.wanted import path_of_length
from taskdb.core.geodesy import inverse
from taskdb.core.model import Position, Task, TaskPoint
from taskdb.errors import UsageError
from taskdb.services.desk import Desk
from taskdb.services.references import resolve_task
from taskdb.store import tasks as task_rows


@dataclass(frozen=True)
class PathShown:
    """Where to turn for a wanted length: each point, the position, how far from the point and on which true bearing."""

    task: Task
    revision: int
    wanted_m: float
    length_m: float
    turns: tuple[tuple[TaskPoint, Position, float, float | None], ...]


def path_of_task(
    desk: Desk,
    reference: str,
    contest: str | None = None,
    *,
    distance_m: float | None = None,
    speed_kmh: float | None = None,
    time_s: int | None = None,
) -> PathShown:
    """Return where to turn in the areas for a length, or for a speed in the time given or the task's own.

    UsageError where there is no time to go with the speed, RefusedError where the length is out of reach.
    """
    with desk.store.reading() as c:
        at = resolve_task(c, reference, contest)
        task = task_rows.task_at(c, at.head.id, at.revision)
    if distance_m is None:
        seconds = time_s or task.time_s
        if seconds is None or speed_kmh is None:
            raise UsageError(
                "no-time", f"The task {task.name!r} has no time of its own.", hint="Add --time, e.g. 3:00."
            )
        distance_m = speed_kmh * seconds / 3.6
    path = path_of_length(task, distance_m)
    turns = []
    for point, position in zip(task.points, path.points, strict=True):
        line = inverse(point.place.position, position)
        is_there = line.distance_m < 1.0
        turns.append((point, position, line.distance_m, None if is_there else line.bearing_deg))
    return PathShown(task, at.revision, distance_m, path.length_m, tuple(turns))
