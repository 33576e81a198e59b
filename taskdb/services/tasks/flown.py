"""What becomes of tasks: issued, replaced, cancelled, flown, and the records of the days on which they were flown."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from taskdb.core.facilities import with_channels
from taskdb.core.flown import beside
from taskdb.core.model import FlownRecord, RowProblem, Status
from taskdb.core.numbers import counted
from taskdb.core.plain import problem_plain
from taskdb.errors import InputError, RefusedError, TaskdbError
from taskdb.files.reading import open_input
from taskdb.files.writing import require_new, write_file
from taskdb.services.desk import Desk, Write
from taskdb.services.references import resolve_task
from taskdb.services.tasks.keeping import TaskShown, measured_as_kept, save_task, shown
from taskdb.store import flown as flown_rows, task_lines, tasks as task_rows

if TYPE_CHECKING:
    from taskdb.core.kept import TaskHead, TaskSummaryRow
    from taskdb.store.engine import Connection, Writing


@dataclass(frozen=True)
class Issued:
    """The variant that was issued, and the names of those of its day and class that it replaces."""

    issued: TaskShown
    replaced: tuple[str, ...]


def choose_task(desk: Desk, reference: str, issued_at: str | None, write: Write, contest: str | None = None) -> Issued:
    """Issue a variant: it becomes `issued`, another issued one of its day and class `replaced`.

    `issued_at` is UTC text; None means now. RefusedError for a task that is issued already.
    """
    at = issued_at or desk.stamp()

    def work(writing: Writing) -> Issued:
        c = writing.connection
        head = resolve_task(c, reference, contest).head
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
        issued = replace(task, status=Status.ISSUED, issued_at=at)
        course = measured_as_kept(c, head, head.newest, issued)
        saved = save_task(writing, head, head.contest_id, issued, course=course)
        return Issued(shown(c, saved, saved.newest), tuple(other.name for other in replaced))

    return desk.write(write, work)


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
    c = writing.connection
    now = task_rows.task_head(c, head.id)  # this write may have revised it
    task = task_rows.task_at(c, now.id, now.newest)
    save_task(
        writing, now, now.contest_id, replace(task, status=status), course=measured_as_kept(c, now, now.newest, task)
    )


def cancel_task(desk: Desk, reference: str, write: Write, contest: str | None = None) -> TaskShown:
    """Mark a task as cancelled."""

    def work(writing: Writing) -> TaskShown:
        c = writing.connection
        head = resolve_task(c, reference, contest).head
        set_status(writing, head, Status.CANCELLED)
        return shown(c, head, head.newest + 1)

    return desk.write(write, work)


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

    def work(writing: Writing) -> FlownShown:
        c = writing.connection
        head = resolve_task(c, reference, contest).head
        keep_record(writing, head, record, withdraw=withdraw)
        return FlownShown(head.name, head.contest_name, flown_rows.flown_records(c, head.id))

    return desk.write(write, work)


def keep_record(writing: Writing, head: TaskHead, record: FlownRecord, *, withdraw: bool = False) -> None:
    """Keep or withdraw a record within a write that is under way; what it says nothing of stays beside it."""
    remarks = None if record.remarks is None else with_channels(record.remarks)
    whole = beside(replace(record, remarks=remarks), standing_record(writing.connection, head.id, record.flown_on))
    flown_rows.write_flown(writing, head.id, whole, withdrawn=withdraw)
    task = task_rows.task_at(writing.connection, head.id, head.newest)
    if not withdraw and task.status is not Status.FLOWN:
        set_status(writing, head, Status.FLOWN)


def standing_record(c: Connection, task_id: int, day: str) -> FlownRecord | None:
    """Return a task's flown record of a day, None where there is none or it was withdrawn."""
    return next((record for record in flown_rows.flown_records(c, task_id) if record.flown_on == day), None)


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


# -- all records as a file ---------------------------------------------------------------------------------------


def export_flown(desk: Desk, path: str, *, overwrite: bool = False) -> int:
    """Write the flown records of all tasks as CSV; return how many. RefusedError where the file exists."""
    from taskdb.formats.tasks.flown_csv import write_flown

    require_new(path, overwrite=overwrite)
    with desk.store.reading() as c:
        tasks = task_lines.list_tasks(c)
        records = flown_rows.flown_of(c, [row.head.id for row in tasks])
    rows = [(row.task, row.contest, record) for row in tasks for record in records.get(row.head.id, ())]
    write_file(path, write_flown(rows))
    return len(rows)


def import_flown(desk: Desk, path: str, write: Write) -> int:
    """Take flown records in from CSV with the header that `export_flown` writes; return how many differed.

    InputError with every bad row; nothing is kept then.
    """
    from taskdb.formats.tasks.flown_csv import LARGEST_BYTES, read_flown

    with open_input(path, LARGEST_BYTES) as stream:
        rows = read_flown(stream.read(), file_name=path)

    def work(writing: Writing) -> int:
        c = writing.connection
        problems: list[RowProblem] = []
        changed = 0
        for row in rows:
            problems += row.problems
            try:
                head = resolve_task(c, row.task, row.contest).head
                if row.record is not None:
                    require_sense(row.record)
            except TaskdbError as error:
                column = "finishers" if error.code == "more-finishers" else "task"
                problems.append(RowProblem(row.line, column, row.cells.get(column), error.code, error.message))
                continue
            if row.record is None:
                continue
            standing = standing_record(c, head.id, row.record.flown_on)
            if beside(row.record, standing) != standing:
                keep_record(writing, head, row.record)
                changed += 1
        if problems:
            raise InputError(
                "rows-rejected",
                f"{path}: {counted(len({p.line for p in problems}), 'row')} cannot be taken in; nothing was imported.",
                hint="Mend them and import again.",
                details={"rejected": [problem_plain(p) for p in problems], "total": len(problems)},
            )
        if not changed:
            writing.abandon()
        return changed

    return desk.write(write, work)
