"""What was handed out: which revisions of which tasks, to whom and where. Rows are added and never changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Select, insert, or_, select

from taskdb.store.engine import Writing
from taskdb.store.rows import from_json, to_json
from taskdb.store.schema import handout, handout_task, operation, task_revision


@dataclass(frozen=True, slots=True)
class HandedOut:
    """A task in a hand-out: when (UTC), by whom, to whom and where, and what was in it.

    `contest_revision` is the contest's by which it was made; `said` what its sheet said that no revision holds, None
    where that was not kept.
    """

    handout_id: int
    at: str
    author: str
    to_whom: str | None
    target: str
    task_id: int
    revision: int
    fingerprint: str
    contest_revision: int | None
    said: Mapping[str, Any] | None


@dataclass(frozen=True, slots=True)
class TaskToKeep:
    """A task of a hand-out that is being written."""

    task_id: int
    revision: int
    fingerprint: str
    said: Mapping[str, Any]


def write_handout(
    w: Writing,
    contest_id: int,
    contest_revision: int,
    day: int | None,
    target: str,
    to_whom: str | None,
    tasks: Sequence[TaskToKeep],
) -> int:
    """Keep what was handed out, and return the hand-out's number."""
    values = {
        "contest_id": contest_id,
        "contest_revision": contest_revision,
        "day": day,
        "target": target,
        "to_whom": to_whom,
        "operation_id": w.operation_id,
    }
    number = int(w.connection.execute(insert(handout).returning(handout.c.id), values).scalar_one())
    rows = [
        {
            "handout_id": number,
            "task_id": task.task_id,
            "revision": task.revision,
            "fingerprint": task.fingerprint,
            "said": to_json(task.said),
        }
        for task in tasks
    ]
    if rows:
        w.connection.execute(insert(handout_task), rows)
    return number


def handouts_of(c: Connection, task_id: int) -> tuple[HandedOut, ...]:
    """Return the hand-outs that a task was in, newest first."""
    return _entries(c, _query().where(handout_task.c.task_id == task_id))


def handed_out_before(c: Connection, contest_id: int, day: int | None) -> tuple[HandedOut, ...]:
    """Return every task of a contest's day (None: of the contest) in every hand-out that it was in, newest first.

    A task is of the day by the hand-out that was asked for, or by what its revision said of it then.
    """
    query = _query().where(handout.c.contest_id == contest_id)
    if day is not None:
        query = query.join(
            task_revision,
            (task_revision.c.task_id == handout_task.c.task_id) & (task_revision.c.number == handout_task.c.revision),
        ).where(or_(handout.c.day == day, task_revision.c.day == day))
    return _entries(c, query)


def _entries(c: Connection, query: Select[Any]) -> tuple[HandedOut, ...]:
    return tuple(HandedOut(**{**row, "said": from_json(row["said"])}) for row in c.execute(query).mappings())


def _query() -> Select[Any]:
    return (
        select(
            handout.c.id.label("handout_id"),
            operation.c.at,
            operation.c.author,
            handout.c.to_whom,
            handout.c.target,
            handout_task.c.task_id,
            handout_task.c.revision,
            handout_task.c.fingerprint,
            handout.c.contest_revision,
            handout_task.c.said,
        )
        .join_from(handout, operation, operation.c.id == handout.c.operation_id)
        .join(handout_task, handout_task.c.handout_id == handout.c.id)
        .order_by(handout.c.id.desc(), handout_task.c.task_id)
    )
