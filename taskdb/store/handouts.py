"""What was handed out: which revisions of which tasks, to whom and where. Rows are added and never changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Select, insert, select

from taskdb.store.engine import Writing
from taskdb.store.schema import handout, handout_task, operation


@dataclass(frozen=True, slots=True)
class HandedOut:
    """A task in a hand-out: when (UTC), by whom, to whom and where, and what was in it."""

    handout_id: int
    at: str
    author: str
    to_whom: str | None
    target: str
    task_id: int
    revision: int
    fingerprint: str


def write_handout(
    w: Writing,
    contest_id: int,
    day: int | None,
    target: str,
    to_whom: str | None,
    tasks: Sequence[tuple[int, int, str]],
) -> int:
    """Keep what was handed out: `tasks` are (task id, revision, fingerprint). Return the hand-out's number."""
    values = {
        "contest_id": contest_id,
        "day": day,
        "target": target,
        "to_whom": to_whom,
        "operation_id": w.operation_id,
    }
    number = int(w.connection.execute(insert(handout).returning(handout.c.id), values).scalar_one())
    rows = [{"handout_id": number, "task_id": t, "revision": r, "fingerprint": f} for t, r, f in tasks]
    if rows:
        w.connection.execute(insert(handout_task), rows)
    return number


def handouts_of(c: Connection, task_id: int) -> tuple[HandedOut, ...]:
    """Return the hand-outs that a task was in, newest first."""
    return tuple(HandedOut(*row) for row in c.execute(_query().where(handout_task.c.task_id == task_id)))


def last_handout(c: Connection, contest_id: int, day: int | None) -> tuple[HandedOut, ...]:
    """Return the tasks of the newest hand-out of a contest's day; empty where there was none."""
    is_day = handout.c.day.is_(None) if day is None else handout.c.day == day
    rows = [HandedOut(*row) for row in c.execute(_query().where(handout.c.contest_id == contest_id, is_day))]
    return tuple(row for row in rows if row.handout_id == rows[0].handout_id) if rows else ()


def _query() -> Select[Any]:
    return (
        select(
            handout.c.id,
            operation.c.at,
            operation.c.author,
            handout.c.to_whom,
            handout.c.target,
            handout_task.c.task_id,
            handout_task.c.revision,
            handout_task.c.fingerprint,
        )
        .join_from(handout, operation, operation.c.id == handout.c.operation_id)
        .join(handout_task, handout_task.c.handout_id == handout.c.id)
        .order_by(handout.c.id.desc(), handout_task.c.task_id)
    )
