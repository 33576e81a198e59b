"""Flown records of all tasks as a CSV file: written whole, read back as people keep them, every bad row told."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import fields
from itertools import islice
from typing import Any

from taskdb.core.history.words import counted
from taskdb.core.model import FlownRecord, RowProblem
from taskdb.core.plain import problem_plain
from taskdb.core.quantities import HeightReference, parse_date, parse_height, parse_speed_kmh, parse_wind
from taskdb.errors import InputError, RefusedError, TaskdbError, UsageError
from taskdb.files.reading import open_input
from taskdb.files.standing import is_there
from taskdb.files.writing import write_file
from taskdb.formats.text.cells import neutralise, restore
from taskdb.services.desk import Desk, Write
from taskdb.services.references import resolve_task
from taskdb.services.tasks.flown import keep_record, require_sense
from taskdb.store import flown as flown_rows, task_lines

COLUMNS = ("task", "contest", *(field.name for field in fields(FlownRecord)))
TYPED = ("wind", "cloud_base", "best", "median")
"""Further columns that are read: as typed on the command line, with their units."""
_WHOLE = ("starters", "finishers")
_TEXT = ("flown_on", "remarks")
_LARGEST_BYTES = 64_000_000
"""Of a file of records: it is held as a whole."""
_MOST_ROWS = 100_000


def export_flown(desk: Desk, path: str, *, overwrite: bool = False) -> int:
    """Write the flown records of all tasks as CSV; return how many. RefusedError where the file exists."""
    if is_there(path) and not overwrite:
        raise RefusedError("file-exists", f"{path} exists already.", hint="Give --yes to write over it.")
    with desk.store.reading() as c:
        rows = task_lines.list_tasks(c)
        records = flown_rows.flown_of(c, [row.head.id for row in rows])
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    count = 0
    for row in rows:
        for record in records.get(row.head.id, ()):
            values = (row.task, row.contest, *(getattr(record, name) for name in COLUMNS[2:]))
            writer.writerow(map(_cell, values))
            count += 1
    write_file(path, text.getvalue().encode("utf-8"))
    return count


def _cell(value: str | float | None) -> str | float:
    return "" if value is None else neutralise(value) if isinstance(value, str) else value


def import_flown(desk: Desk, path: str, write: Write) -> int:
    """Take flown records in from CSV with the header that `export_flown` writes; return how many differed.

    InputError with every bad row; nothing is kept then.
    """
    with open_input(path, _LARGEST_BYTES) as stream:
        rows = _csv_rows(path, stream.read())
    problems: list[RowProblem] = []
    changed = 0
    with desk.writing(write) as writing:
        c = writing.connection
        for line, row in rows:
            record, bad = _record(line, row)
            problems += bad
            try:
                task, contest = restore(row["task"] or ""), restore(row.get("contest") or "")
                head = resolve_task(c, task, contest or None).head
                if record is not None:
                    require_sense(record)
            except TaskdbError as error:
                name = "finishers" if error.code == "more-finishers" else "task"
                problems.append(RowProblem(line, name, row.get(name), error.code, error.message))
                continue
            if record is not None and record not in flown_rows.flown_records(c, head.id):
                keep_record(writing, head, record)
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


def _csv_rows(path: str, content: bytes) -> Iterable[tuple[int, Mapping[str, str]]]:
    """Return the rows with their lines. InputError for a file that is none, and for columns that would be lost."""
    try:
        text = content.decode("utf-8-sig")
        first = text.partition("\n")[0]
        delimiter = max(",;\t", key=first.count)
        reader = csv.DictReader(io.StringIO(text, newline=""), delimiter=delimiter)
        names = [(name or "").strip().lower() for name in reader.fieldnames or ()]
        reader.fieldnames = names
        rows = [(reader.line_num, row) for row in islice(reader, _MOST_ROWS + 1)]
    except (UnicodeDecodeError, csv.Error) as error:
        raise InputError("not-csv", f"{path} is not CSV in UTF-8: {error}.", hint="Export it as CSV.") from None
    if len(rows) > _MOST_ROWS:
        raise InputError("too-many-rows", f"{path} has more than {_MOST_ROWS:,} rows.", hint="Split it into several.")
    known = f"Columns: {', '.join(COLUMNS)}; and with units {', '.join(TYPED)}."
    missing = {"task", "flown_on"} - set(names)
    if missing:
        raise InputError("missing-columns", f"{path} has no column {', '.join(sorted(missing))}.", hint=known)
    unknown = [name for name in names if name and name not in (*COLUMNS, *TYPED)]
    if unknown:
        raise InputError("unknown-columns", f"{path} has columns that are not known: {', '.join(unknown)}.", hint=known)
    return rows


def _record(line: int, row: Mapping[str, str]) -> tuple[FlownRecord | None, list[RowProblem]]:
    """Return the record of a row, or all that is wrong with its values."""
    values: dict[str, Any] = {}
    problems = []
    for name in (*COLUMNS[2:], *TYPED):
        text = (row.get(name) or "").strip()
        try:
            if name == "flown_on":
                values[name] = parse_date(text)
            elif text:
                values |= _typed(name, text) if name in TYPED else {name: _plain(name, text)}
        except UsageError as error:
            problems.append(RowProblem(line, name, text, error.code, error.message))
    return (None, problems) if problems else (FlownRecord(**values), [])


def _plain(name: str, text: str) -> str | float:
    return restore(text).replace("\0", " ").strip() if name in _TEXT else _number(text, whole=name in _WHOLE)


def _typed(name: str, text: str) -> dict[str, float]:
    """Return the values that a text with its unit means."""
    if name == "wind":
        wind = parse_wind(text)
        return {"wind_from_deg": wind.from_deg, "wind_speed_kmh": wind.speed_kmh}
    if name == "cloud_base":
        return {"cloud_base_m": cloud_base_m(text)}
    return {f"{name}_kmh": parse_speed_kmh(text)}


def cloud_base_m(text: str) -> float:
    """Return a cloud base above mean sea level, metres. UsageError for a height with another reference."""
    base = parse_height(text)
    if base.reference is not HeightReference.MSL:
        raise UsageError("bad-height", f"{base.text} is not above mean sea level.", hint="Write e.g. '1800m MSL'.")
    return base.metres


def _number(text: str, *, whole: bool) -> int | float:
    """Return a number from 0 on, with a decimal point where it need not be whole; UsageError for anything else."""
    form = r"\d{1,9}" if whole else r"\d{1,9}(\.\d+)?"
    if re.fullmatch(form, text, re.ASCII) is None:
        raise UsageError(
            "bad-number", f"{text!r} is no {'whole ' if whole else ''}number such as {12 if whole else 12.5}."
        )
    return int(text) if whole else float(text)
