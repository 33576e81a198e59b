"""Which revisions of which tasks bear a fingerprint. Reads only."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sqlalchemy import select

from taskdb.store.schema import contest, task, task_revision

if TYPE_CHECKING:
    from sqlalchemy import Connection


@dataclass(frozen=True, slots=True)
class PrintOf:
    """A revision of a task, and the task's newest one."""

    task_id: int
    task: str
    contest: str | None
    revision: int
    newest: int


def revisions_with(c: Connection, fingerprint: str) -> tuple[PrintOf, ...]:
    """Return the revisions with a fingerprint, newest revisions of tasks first, then by contest, name and revision."""
    query = (
        select(task.c.id, task.c.name, contest.c.name, task_revision.c.number, task.c.newest)
        .join_from(task_revision, task, task.c.id == task_revision.c.task_id)
        .join(contest, contest.c.id == task.c.contest_id, isouter=True)
        .where(task_revision.c.fingerprint == fingerprint)
    )
    found = [PrintOf(*row) for row in c.execute(query)]
    return tuple(sorted(found, key=lambda p: (p.revision != p.newest, p.contest or "", p.task, -p.revision)))
