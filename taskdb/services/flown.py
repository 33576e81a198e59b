"""What becomes of tasks: issued, replaced, cancelled, flown, and the records of the days on which they were flown."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING

from taskdb.core.model import FlownRecord, RowProblem, Status
from taskdb.core.plain import problem_plain
from taskdb.core.quantities import parse_date
from taskdb.errors import InputError, RefusedError, TaskdbError, UsageError
from taskdb.files.reading import open_input
from taskdb.files.writing import write_file
from taskdb.services.desk import Desk, Write
from taskdb.services.references import resolve_task
from taskdb.services.tasks import TaskShown, save_task, shown
from taskdb.store import flown as flown_rows, task_lines, task_search, tasks as task_rows

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from taskdb.store.engine import Writing
    from taskdb.store.tasks import TaskHead

COLUMNS = ("task", "contest", *(field.name for field in fields(FlownRecord)))
_WHOLE = ("starters", "finishers")
_TEXT = ("flown_on", "remarks")


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


def _issued_beside(
    c: Connection, head: TaskHead, day: int | None, class_name: str | None
) -> list[task_lines.TaskSummaryRow]:
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
    _require_sense(record)
    with desk.writing(write) as writing:
        c = writing.connection
        head = resolve_task(c, reference, contest).head
        _keep(writing, head, record, withdraw=withdraw)
        return FlownShown(head.name, head.contest_name, flown_rows.flown_records(c, head.id))


def _keep(writing: Writing, head: TaskHead, record: FlownRecord, *, withdraw: bool = False) -> None:
    flown_rows.write_flown(writing, head.id, record, withdrawn=withdraw)
    task = task_rows.task_at(writing.connection, head.id, head.newest)
    if not withdraw and task.status is not Status.FLOWN:
        set_status(writing, head, Status.FLOWN)


def flown_of(desk: Desk, reference: str, contest: str | None = None) -> FlownShown:
    """Return the days on which a task was flown, oldest first."""
    with desk.store.reading() as c:
        head = resolve_task(c, reference, contest).head
        return FlownShown(head.name, head.contest_name, flown_rows.flown_records(c, head.id))


def _require_sense(record: FlownRecord) -> None:
    if record.starters is not None and record.finishers is not None and record.finishers > record.starters:
        raise RefusedError(
            "more-finishers",
            f"{record.finishers} finishers of {record.starters} starters cannot be.",
            hint="Exchange --starters and --finishers.",
        )


def export_flown(desk: Desk, path: str, *, overwrite: bool = False) -> int:
    """Write the flown records of all tasks as CSV; return how many. RefusedError where the file exists."""
    from pathlib import Path

    if Path(path).exists() and not overwrite:
        raise RefusedError("file-exists", f"{path} exists already.", hint="Give --yes to write over it.")
    with desk.store.reading() as c:
        rows = task_lines.list_tasks(c)
        records = task_search.flown_of(c, [row.head.id for row in rows])
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    count = 0
    for row in rows:
        for record in records.get(row.head.id, ()):
            values = (getattr(record, name) for name in COLUMNS[2:])
            writer.writerow([row.task, row.contest or "", *("" if value is None else value for value in values)])
            count += 1
    write_file(path, text.getvalue().encode("utf-8"))
    return count


def import_flown(desk: Desk, path: str, write: Write) -> int:
    """Take flown records in from CSV with the header that `export_flown` writes; return how many differed.

    InputError with every bad row; nothing is kept then.
    """
    with open_input(path) as stream:
        rows = _csv_rows(path, stream.read())
    problems: list[RowProblem] = []
    changed = 0
    with desk.writing(write) as writing:
        c = writing.connection
        for line, row in rows:
            record, bad = _record(line, row)
            problems += bad
            try:
                head = resolve_task(c, row["task"] or "", row.get("contest") or None).head
                if record is not None:
                    _require_sense(record)
            except TaskdbError as error:
                name = "finishers" if error.code == "more-finishers" else "task"
                problems.append(RowProblem(line, name, row.get(name), error.code, error.message))
                continue
            if record is not None and record not in flown_rows.flown_records(c, head.id):
                _keep(writing, head, record)
                changed += 1
        if problems:
            raise InputError(
                "rows-rejected",
                f"{path}: {len(problems)} rows cannot be taken in; nothing was imported.",
                hint="Mend them and import again.",
                details={"rejected": [problem_plain(p) for p in problems], "total": len(problems)},
            )
        if not changed:
            writing.abandon()
    return changed


def _csv_rows(path: str, content: bytes) -> Iterable[tuple[int, Mapping[str, str]]]:
    try:
        reader = csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline=""))
        rows = [(reader.line_num, row) for row in reader]
    except (UnicodeDecodeError, csv.Error) as error:
        raise InputError("not-csv", f"{path} is not CSV in UTF-8: {error}.", hint="Export it as CSV.") from None
    missing = {"task", "flown_on"} - set(reader.fieldnames or ())
    if missing:
        raise InputError(
            "missing-columns",
            f"{path} has no column {', '.join(sorted(missing))}.",
            hint=f"Columns: {', '.join(COLUMNS)}.",
        )
    return rows


def _record(line: int, row: Mapping[str, str]) -> tuple[FlownRecord | None, list[RowProblem]]:
    """Return the record of a row, or all that is wrong with its values."""
    values: dict[str, object] = {}
    problems = []
    for name in COLUMNS[2:]:
        text = (row.get(name) or "").strip()
        try:
            if name == "flown_on":
                values[name] = parse_date(text)
            elif text:
                values[name] = text if name in _TEXT else _number(text, whole=name in _WHOLE)
        except UsageError as error:
            problems.append(RowProblem(line, name, text, error.code, error.message))
    return (None, problems) if problems else (FlownRecord(**values), [])  # type: ignore[arg-type]


def _number(text: str, *, whole: bool) -> int | float:
    """Return a number from 0 on, with a decimal point where it need not be whole; UsageError for anything else."""
    form = r"\d{1,9}" if whole else r"\d{1,9}(\.\d+)?"
    if re.fullmatch(form, text, re.ASCII) is None:
        raise UsageError(
            "bad-number", f"{text!r} is no {'whole ' if whole else ''}number such as {12 if whole else 12.5}."
        )
    return int(text) if whole else float(text)
