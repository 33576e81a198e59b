"""Finding the right task: by all that is known of tasks and of the days on which they were flown, or by likeness."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from taskdb.core.course.likeness import Likeness, likeness
from taskdb.core.filters.tasks import TaskFilter, finish_rate_percent
from taskdb.core.model import FlownRecord
from taskdb.errors import UsageError
from taskdb.services.desk import Desk
from taskdb.services.references import resolve_contest, resolve_set, resolve_task
from taskdb.services.waypoints import find_reference, place_position
from taskdb.store import sets as set_rows, task_search, tasks as task_rows

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from taskdb.store.tasks import TaskSummaryRow

ALIKE_FROM = 0.25
"""Below this score a task is not offered as like another."""


class Order(StrEnum):
    """By what found tasks are sorted."""

    NAME = "name"
    DISTANCE = "distance"
    TIMES_FLOWN = "times-flown"
    LAST_FLOWN = "last-flown"
    FINISH_RATE = "finish-rate"


@dataclass(frozen=True)
class TaskFindRequest:
    """What is looked for. `wanted` holds all but what must be looked up: `through` and `near` are references."""

    wanted: TaskFilter = field(default_factory=TaskFilter)
    through: tuple[str, ...] = ()
    near: str | None = None
    within_m: float | None = None
    like: str | None = None
    order: Order | None = None
    limit: int | None = None


@dataclass(frozen=True)
class FoundTask:
    row: TaskSummaryRow
    flown: tuple[FlownRecord, ...]
    like: Likeness | None = None

    @property
    def last_flown(self) -> str | None:
        return self.flown[-1].flown_on if self.flown else None

    @property
    def finish_rate_percent(self) -> float | None:
        """How many of all starters on all days finished, percent."""
        rated = [record for record in self.flown if finish_rate_percent(record) is not None]
        starters = sum(record.starters or 0 for record in rated)
        return sum(record.finishers or 0 for record in rated) * 100 / starters if starters else None


@dataclass(frozen=True)
class FoundTasks:
    tasks: tuple[FoundTask, ...]
    total: int


def find_tasks(desk: Desk, request: TaskFindRequest) -> FoundTasks:
    """Return the tasks that fit, sorted (most alike first with `like`), cut at `limit`, and how many there are."""
    with desk.store.reading() as c:
        return find_in(c, request)


def find_in(c: Connection, request: TaskFindRequest) -> FoundTasks:
    """Return what `find_tasks` does, within a look into the store that is under way."""
    if (request.near is None) != (request.within_m is None):
        raise UsageError("near-and-within", "--near and --within go together.", hint="E.g. --near HOME --within 10km.")
    wanted = _looked_up(c, request)
    like_of: dict[int, Likeness] = {}
    if request.like is not None:
        head = resolve_task(c, request.like).head
        course = task_search.positions_of(c, [head.id])[head.id]
        near_by = task_search.positions_of(c, task_search.tasks_passing(c, course))
        like_of = {i: likeness(course, points) for i, points in near_by.items() if i != head.id}
    rows = task_search.find_tasks(c, wanted)
    if request.like is not None:
        rows = tuple(row for row in rows if row.head.id in like_of and like_of[row.head.id].score >= ALIKE_FROM)
    flown = task_search.flown_of(c, [row.head.id for row in rows if row.flown])
    found = [FoundTask(row, flown.get(row.head.id, ()), like_of.get(row.head.id)) for row in rows]
    found.sort(key=_key(request))
    return FoundTasks(tuple(found[: request.limit]), len(found))


def _looked_up(c: Connection, request: TaskFindRequest) -> TaskFilter:
    """Return the filter with its references looked up: codes of points, the position of a place, the contest."""
    wanted = request.wanted
    if wanted.contest is not None:
        resolve_contest(c, wanted.contest)
    sets = [resolve_set(c, summary.name) for summary in set_rows.list_sets(c)]
    near = place_position(c, request.near, sets) if request.near is not None else None
    return replace(wanted, near=near, within_m=request.within_m, through=tuple(_code(c, r) for r in request.through))


def _code(c: Connection, reference: str) -> str:
    """Return the code that a reference means: as it stands where a task uses it, else that of the one waypoint."""
    if task_rows.is_used_code(c, reference):
        return reference
    sets = [resolve_set(c, summary.name) for summary in set_rows.list_sets(c)]
    return find_reference(c, reference, sets).waypoint.code


def _key(request: TaskFindRequest) -> Callable[[FoundTask], tuple[Any, ...]]:
    order = request.order

    def key(found: FoundTask) -> tuple[Any, ...]:
        name = (found.row.contest or "", found.row.task)
        if order is None and found.like is not None:
            return (-found.like.score, *name)
        if order is Order.DISTANCE:
            return (found.row.task_m, *name)
        if order is Order.TIMES_FLOWN:
            return (-found.row.flown, *name)
        if order is Order.LAST_FLOWN:
            return (found.last_flown is None, _reversed(found.last_flown or ""), *name)
        if order is Order.FINISH_RATE:
            rate = found.finish_rate_percent
            return (rate is None, -(rate or 0.0), *name)
        return name

    return key


def _reversed(text: str) -> tuple[int, ...]:
    return tuple(-ord(letter) for letter in text)
