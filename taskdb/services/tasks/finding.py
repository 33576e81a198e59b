"""Finding the right task: by all that is known of tasks and of the days on which they were flown, or by likeness."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from taskdb.core.airspace.heights import FlownHeights, that_may_matter
from taskdb.core.collecting import without_collecting
from taskdb.core.contests.scopes import flown_heights, what_holds
from taskdb.core.course.likeness import Likeness, likeness
from taskdb.core.filters.tasks import Order, TaskFilter
from taskdb.core.flown import mean_rate_percent
from taskdb.core.model import FlownRecord, Task
from taskdb.errors import UsageError
from taskdb.services.airspace.held import volumes_named
from taskdb.services.desk import Desk
from taskdb.services.references import SetAt, contest_of, resolve_task, set_under, sets_asked
from taskdb.services.tasks.review import Together
from taskdb.services.waypoints.waypoint import find_reference, place_position
from taskdb.store import flown as flown_rows, task_lines, task_search, tasks as task_rows

if TYPE_CHECKING:
    from taskdb.core.kept import TaskSummaryRow
    from taskdb.store.engine import Connection

ALIKE_FROM = 0.25
"""Below this score a task is not offered as like another."""


@dataclass(frozen=True)
class TaskFindRequest:
    """What is looked for. `wanted` holds all but what must be looked up: `through` and `near` are references."""

    wanted: TaskFilter = field(default_factory=TaskFilter)
    through: tuple[str, ...] = ()
    near: str | None = None
    within_m: float | None = None
    like: str | None = None
    avoid: tuple[str, ...] = ()
    """Airspace that the course does not meet: `NAME`, `NAME@R`, `NAME:VOLUME`."""
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
        return mean_rate_percent(self.flown)


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
    like_of = _alike(c, request.like) if request.like is not None else None
    order = request.order or (Order.LIKENESS if like_of is not None else Order.NAME)
    if request.limit is not None and like_of is None and wanted.near is None and not request.avoid:
        return _shown(c, *task_search.first_ids(c, wanted, order, request.limit), None)
    ids = task_search.found_ids(c, wanted, order, None if like_of is None else list(like_of))
    if request.avoid:
        ids = _clear_of(c, ids, request.avoid)
    if order is Order.LIKENESS and like_of is not None:
        ids.sort(key=lambda i: -like_of[i].score)
    return _shown(c, ids[: request.limit], len(ids), like_of)


def _clear_of(c: Connection, ids: Sequence[int], references: Sequence[str]) -> list[int]:
    """Return those whose courses meet none of the airspace at the heights that their contests fly."""
    from taskdb.core.airspace.meeting import which_meet

    volumes = volumes_named(c, references)
    together = Together(c)
    groups: dict[FlownHeights, list[tuple[int, Task]]] = {}
    for row in task_lines.tasks_with_ids(c, ids).values():
        task = task_rows.task_at(c, row.head.id, row.revision)
        flown = flown_heights(what_holds(together.contest(task.contest), task.class_name, task.day))
        groups.setdefault(flown, []).append((row.head.id, task))
    met: set[int] = set()
    for flown, tasks in groups.items():
        in_the_way = tuple(volume for volume, _ in that_may_matter(volumes, flown))
        meets = which_meet([task for _, task in tasks], in_the_way)
        met |= {task_id for (task_id, _), is_met in zip(tasks, meets, strict=True) if is_met}
    return [i for i in ids if i not in met]


def _shown(c: Connection, shown: Sequence[int], total: int, like_of: Mapping[int, Likeness] | None) -> FoundTasks:
    """Return the lines of those that are shown."""
    with without_collecting():
        flown = flown_rows.flown_of(c, shown)
        rows = task_lines.tasks_with_ids(c, shown, {i: len(records) for i, records in flown.items()})
        found = (FoundTask(rows[i], flown.get(i, ()), None if like_of is None else like_of[i]) for i in shown)
        return FoundTasks(tuple(found), total)


def _alike(c: Connection, reference: str) -> Mapping[int, Likeness]:
    """Return how like each task is that is like the one named, by id."""
    head = resolve_task(c, reference).head
    course = task_search.positions_of(c, [head.id])[head.id]
    near_by = task_search.positions_of(c, task_search.tasks_passing(c, course))
    found = {i: likeness(course, points) for i, points in near_by.items() if i != head.id}
    return {i: alike for i, alike in found.items() if alike.score >= ALIKE_FROM}


def _looked_up(c: Connection, request: TaskFindRequest) -> TaskFilter:
    """Return the filter with its references looked up: codes of points, the position of a place, the contest."""
    wanted = request.wanted
    contest = contest_of(c, wanted.contest)
    sets = sets_asked(c, None) if contest is None else [set_under(c, contest)]
    near = place_position(c, request.near, sets) if request.near is not None else None
    through = tuple(_code(c, reference, sets) for reference in request.through)
    return replace(wanted, near=near, within_m=request.within_m, through=through)


def _code(c: Connection, reference: str, sets: list[SetAt]) -> str:
    """Return the code that a reference means: as it stands where a task uses it, else that of the one waypoint."""
    if task_rows.is_used_code(c, reference):
        return reference
    return find_reference(c, reference, sets, same=lambda waypoint: waypoint.code).waypoint.code
