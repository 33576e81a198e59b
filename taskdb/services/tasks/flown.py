"""What becomes of tasks: issued, replaced, cancelled, flown, and the records of the days on which they were flown."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from taskdb.core.facilities import with_channels
from taskdb.core.model import FlownRecord, Status
from taskdb.errors import RefusedError
from taskdb.services.desk import Desk, Write
from taskdb.services.references import resolve_task
from taskdb.services.tasks.task import TaskShown, save_task, shown
from taskdb.store import flown as flown_rows, task_lines, tasks as task_rows

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from taskdb.core.kept import TaskHead, TaskSummaryRow
    from taskdb.store.engine import Writing


@dataclass(frozen=True)
class Chosen:
    """The variant that was issued, and the names of those of its day and class that it replaces."""

    issued: TaskShown
    replaced: tuple[str, ...]


def choose_task(desk: Desk, reference: str, issued_at: str | None, write: Write, contest: str | None = None) -> Chosen:
    """Issue a variant: it becomes `issued`, another issued one of its day and class `replaced`.

    `issued_at` is UTC text; None means now. RefusedError for a task that is issued already.
    """
    at = issued_at or desk.now().strftime("%Y-%m-%dT%H:%M:%SZ")
    with desk.writing(write) as writing:
        c = writing.connection
        head = task_rows.lock_task(writing, resolve_task(c, reference, contest).head.id)
        task = task_rows.task_at(c, head.id, head.newest)
        if task.status is Status.ISSUED:
            raise RefusedError(
                "already-issued",
                f"The task {head.name!r} is issued already, at {task.issued_at}.",
                hint="Nothing to do.",
            )
        replaced = [row.head for row in _issued_beside(c, head, task.day, task.class_name)]
        for other in replaced:
            set_status(writing, other, Status.REPLACED)
        saved = save_task(writing, head, head.contest_id, replace(task, status=Status.ISSUED, issued_at=at))
        return Chosen(shown(c, saved, saved.newest), tuple(other.name for other in replaced))


def _issued_beside(c: Connection, head: TaskHead, day: int | None, class_name: str | None) -> list[TaskSummaryRow]:
    if head.contest_id is None or day is None:
        return []
    rows = task_lines.list_tasks(c, contest_id=head.contest_id)
    return [
        row
        for row in rows
        if row.day == day and row.class_name == class_name and row.status is Status.ISSUED and row.head.id != head.id
    ]


def set_status(writing: Writing, head: TaskHead, status: Status) -> None:
    """Write a revision of a task that differs in its status alone."""
    locked = task_rows.lock_task(writing, head.id)
    task = task_rows.task_at(writing.connection, locked.id, locked.newest)
    save_task(writing, locked, locked.contest_id, replace(task, status=status))


def cancel_task(desk: Desk, reference: str, write: Write, contest: str | None = None) -> TaskShown:
    """Mark a task as cancelled."""
    with desk.writing(write) as writing:
        c = writing.connection
        head = resolve_task(c, reference, contest).head
        set_status(writing, head, Status.CANCELLED)
        return shown(c, head, head.newest + 1)


@dataclass(frozen=True)
class FlownShown:
    task: str
    contest: str | None
    records: tuple[FlownRecord, ...]


def record_flown(
    desk: Desk, reference: str, record: FlownRecord, write: Write, contest: str | None = None, *, withdraw: bool = False
) -> FlownShown:
    """Keep how a task was flown on a day (a second record of a day takes the first one's place), or withdraw it.

    The task becomes `flown`. RefusedError for more finishers than starters.
    """
    require_sense(record)
    with desk.writing(write) as writing:
        c = writing.connection
        head = resolve_task(c, reference, contest).head
        keep_record(writing, head, record, withdraw=withdraw)
        return FlownShown(head.name, head.contest_name, flown_rows.flown_records(c, head.id))


def keep_record(writing: Writing, head: TaskHead, record: FlownRecord, *, withdraw: bool = False) -> None:
    """Keep or withdraw a record within a write that is under way."""
    remarks = None if record.remarks is None else with_channels(record.remarks)
    flown_rows.write_flown(writing, head.id, replace(record, remarks=remarks), withdrawn=withdraw)
    task = task_rows.task_at(writing.connection, head.id, head.newest)
    if not withdraw and task.status is not Status.FLOWN:
        set_status(writing, head, Status.FLOWN)


def flown_of(desk: Desk, reference: str, contest: str | None = None) -> FlownShown:
    """Return the days on which a task was flown, oldest first."""
    with desk.store.reading() as c:
        head = resolve_task(c, reference, contest).head
        return FlownShown(head.name, head.contest_name, flown_rows.flown_records(c, head.id))


def require_sense(record: FlownRecord) -> None:
    """Raise RefusedError for more finishers than starters."""
    if record.starters is not None and record.finishers is not None and record.finishers > record.starters:
        raise RefusedError(
            "more-finishers",
            f"{record.finishers} finishers of {record.starters} starters cannot be.",
            hint="Exchange --starters and --finishers.",
        )
