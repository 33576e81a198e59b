"""Lines of lists of tasks: what is shown of many tasks at once, from their newest revisions.

Read in a few queries however many tasks there are; one task whole is read in `tasks`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from functools import lru_cache
from typing import Any

from sqlalchemy import ColumnElement, Connection, func, select

from taskdb.core.kept import TaskHead, TaskSummaryRow
from taskdb.core.model import ShapeKind, Status, TaskType
from taskdb.store.bulk import among
from taskdb.store.flown import days_flown
from taskdb.store.rows import from_json
from taskdb.store.schema import contest, task, task_point, task_revision, waypoint_set
from taskdb.store.tasks import HEAD_COLUMNS, IS_NEWEST, ON_NEWEST

_REVISION = task_revision.c
_POINT = task_point.c


def list_tasks(
    c: Connection, contest_id: int | None = None, *, with_retired: bool = False
) -> tuple[TaskSummaryRow, ...]:
    """Return the tasks that stand, of one contest or of the whole store, in order of contest (none first) and name."""
    conditions = [] if contest_id is None else [task.c.contest_id == contest_id]
    if not with_retired:
        conditions.append(_REVISION.retired.is_(False))
    return tasks_where(c, conditions)


def tasks_of_day(c: Connection, contest_id: int, day: int) -> tuple[TaskSummaryRow, ...]:
    """Return the tasks of a contest's day that stand, in order of name."""
    return tasks_where(c, [task.c.contest_id == contest_id, _REVISION.day == day, _REVISION.retired.is_(False)])


def counts_by_contest(c: Connection) -> dict[str, int]:
    """Return the number of tasks that stand in each contest that has any, by its name."""
    query = (
        select(contest.c.name, func.count())
        .join_from(task, task_revision, IS_NEWEST)
        .join(contest, contest.c.id == task.c.contest_id)
        .where(_REVISION.retired.is_(False))
        .group_by(contest.c.name)
    )
    return {row[0]: row[1] for row in c.execute(query)}


def count_of_contest(c: Connection, contest_id: int) -> int:
    """Return the number of a contest's tasks that stand."""
    query = select(func.count()).select_from(task).join(task_revision, IS_NEWEST)
    return c.scalar(query.where(task.c.contest_id == contest_id, _REVISION.retired.is_(False))) or 0


def tasks_where(
    c: Connection, conditions: Sequence[ColumnElement[bool]], flown: Mapping[int, int] | None = None
) -> tuple[TaskSummaryRow, ...]:
    """Return the tasks whose newest revisions meet conditions on `task`, `contest` and `task_revision`, in order.

    `flown` says on how many days tasks were flown, by id, where that is known.
    """
    query = (
        select(*HEAD_COLUMNS, waypoint_set.c.name, *(_REVISION[name] for name in _SUMMARY_COLUMNS))
        .join_from(task, task_revision, IS_NEWEST)
        .join(waypoint_set, waypoint_set.c.id == _REVISION.set_id)
        .join(contest, contest.c.id == task.c.contest_id, isouter=True)
        .where(*conditions)
    )
    found = c.execute(query).all()
    ids = [row[0] for row in found]
    codes, flown = _codes(c, ids), days_flown(c, ids) if flown is None else flown
    rows = [_summary_row(row, codes, flown) for row in found]
    return tuple(sorted(rows, key=_by_contest))


def _by_contest(row: TaskSummaryRow) -> tuple[str, str]:
    return row.contest or "", row.task


_SUMMARY_COLUMNS = (
    "day", "class", "variant", "status", "type", "task_m", "minimum_m", "maximum_m", "shape", "time_s", "speed_kmh",
    "fai_triangle", "first_course_deg", "tags", "fingerprint", "set_revision",
)  # fmt: skip


def tasks_with_ids(
    c: Connection, ids: Sequence[int], flown: Mapping[int, int] | None = None
) -> dict[int, TaskSummaryRow]:
    """Return the tasks of these ids by id; `flown` as for `tasks_where`."""
    rows = (row for wanted in among(task.c.id, ids, most=len(ids)) for row in tasks_where(c, [wanted], flown))
    return {row.head.id: row for row in rows}


def tasks_in_order(c: Connection, ids: Collection[int]) -> tuple[TaskSummaryRow, ...]:
    """Return the tasks of these ids, in order of contest (none first) and name."""
    return tuple(sorted(tasks_with_ids(c, sorted(ids)).values(), key=_by_contest))


# By value once: among 100,000 lines the look-up of an enumeration and of the same few tags counts.
_STATUS = {status.value: status for status in Status}
_TYPE = {kind.value: kind for kind in TaskType}
_SHAPE = {shape.value: shape for shape in ShapeKind}


@lru_cache(maxsize=1024)
def _tags(text: str) -> tuple[str, ...]:
    return tuple(from_json(text))


def _summary_row(row: Any, codes: dict[int, tuple[str, ...]], flown: Mapping[int, int]) -> TaskSummaryRow:
    head = TaskHead(*row[:6])
    set_name, day, class_name, variant, status, type_, task_m, minimum_m, maximum_m = row[6:15]
    shape, time_s, speed_kmh, fai_triangle, first_course_deg, tags, fingerprint, set_revision = row[15:]
    return TaskSummaryRow(
        task=head.name,
        revision=head.newest,
        contest=head.contest_name,
        day=day,
        class_name=class_name,
        variant=variant,
        status=_STATUS[status],
        type=_TYPE[type_],
        task_m=task_m,
        minimum_m=minimum_m,
        maximum_m=maximum_m,
        shape=_SHAPE[shape],
        codes=codes.get(head.id, ()),
        flown=flown.get(head.id, 0),
        time_s=time_s,
        speed_kmh=speed_kmh,
        fai_triangle=fai_triangle,
        first_course_deg=first_course_deg,
        tags=_tags(tags),
        fingerprint=fingerprint,
        set_name=set_name,
        set_revision=set_revision,
        head=head,
    )


def _codes(c: Connection, ids: Sequence[int]) -> dict[int, tuple[str, ...]]:
    query = select(_POINT.task_id, _POINT.code).join_from(task, task_point, ON_NEWEST)
    found: dict[int, list[str]] = {}
    for wanted in among(task.c.id, ids):
        for task_id, code in c.execute(query.where(wanted).order_by(_POINT.task_id, _POINT.number)).all():
            found.setdefault(task_id, []).append(code)
    return {task_id: tuple(codes) for task_id, codes in found.items()}
