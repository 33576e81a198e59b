"""Flown records of all tasks as CSV: written whole, read back as people keep them, every bad value told."""

from __future__ import annotations

import csv
import datetime
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from itertools import islice
from typing import Any

from taskdb.core.flown import FLAT_NAMES_BY_LOGS, LOG_CHECKSUM_DIGITS
from taskdb.core.model import FlownByLogs, FlownRecord, RowProblem
from taskdb.core.quantities import HeightReference, parse_date, parse_height, parse_speed_kmh, parse_wind
from taskdb.errors import InputError, UsageError
from taskdb.formats.text.cells import neutralise, restore

_BY_HAND = tuple(field.name for field in fields(FlownRecord) if field.name != "by_logs")
COLUMNS = ("task", "contest", *_BY_HAND, *FLAT_NAMES_BY_LOGS.values())
"""What flight logs told stands last, all of it empty where no log was read."""
WITH_UNITS = ("wind", "cloud_base", "best", "median")
"""Further columns that are read: as typed on the command line, with their units."""
_WHOLE = ("starters", "finishers")
_TEXT = ("flown_on", "remarks")
LARGEST_BYTES = 64_000_000
"""Of a file of records: it is held as a whole."""
_MOST_ROWS = 100_000


@dataclass(frozen=True)
class FlownRow:
    """A row that was read: which task it names, its record (None where `problems` say why not), its cells by column."""

    line: int
    task: str
    contest: str | None
    record: FlownRecord | None
    problems: tuple[RowProblem, ...]
    cells: Mapping[str, str]


def write_flown(rows: Iterable[tuple[str, str | None, FlownRecord]]) -> bytes:
    """Return records as CSV in UTF-8, each with the names of its task and contest."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for task, contest, record in rows:
        by_hand = (getattr(record, name) for name in _BY_HAND)
        by_logs = _log_cells(record.by_logs) if record.by_logs is not None else [None] * len(FLAT_NAMES_BY_LOGS)
        writer.writerow(map(_cell, (task, contest, *by_hand, *by_logs)))
    return text.getvalue().encode("utf-8")


def _log_cells(told: FlownByLogs) -> list[str | float | None]:
    """Return cells: waypoints as `003:2 005:1` (`:1`: near none), checksums parted by blanks."""
    cells = {name: getattr(told, name) for name in FLAT_NAMES_BY_LOGS}
    ended = (f"{code or ''}:{count}" for code, count in told.ended_near)
    return list((cells | {"ended_near": " ".join(ended), "logs": " ".join(told.logs)}).values())


def _cell(value: str | float | None) -> str | float:
    return "" if value is None else neutralise(value) if isinstance(value, str) else value


def read_flown(content: bytes, *, file_name: str) -> list[FlownRow]:
    """Return the rows of a file with the header that `write_flown` writes.

    InputError for a file that is no CSV, is too long, or has columns that would be lost.
    """
    found = []
    for line, cells in _csv_rows(file_name, content):
        record, problems = _record(line, cells)
        task, contest = restore(cells["task"] or ""), restore(cells.get("contest") or "")
        found.append(FlownRow(line, task, contest or None, record, tuple(problems), cells))
    return found


def _csv_rows(path: str, content: bytes) -> Iterable[tuple[int, Mapping[str, str]]]:
    """Return the rows with their lines."""
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
    known = f"Columns: {', '.join(COLUMNS)}; and with units {', '.join(WITH_UNITS)}."
    missing = {"task", "flown_on"} - set(names)
    if missing:
        raise InputError("missing-columns", f"{path} has no column {', '.join(sorted(missing))}.", hint=known)
    unknown = [name for name in names if name and name not in (*COLUMNS, *WITH_UNITS)]
    if unknown:
        raise InputError("unknown-columns", f"{path} has columns that are not known: {', '.join(unknown)}.", hint=known)
    return rows


def _record(line: int, row: Mapping[str, str]) -> tuple[FlownRecord | None, list[RowProblem]]:
    """Return the record of a row, or all that is wrong with its values."""
    values: dict[str, Any] = {}
    problems = []
    for name in (*_BY_HAND, *WITH_UNITS):
        text = (row.get(name) or "").strip()
        try:
            if name == "flown_on":
                values[name] = parse_date(text)
            elif text:
                values |= _measured(name, text) if name in WITH_UNITS else {name: _plain(name, text)}
        except UsageError as error:
            problems.append(RowProblem(line, name, text, error.code, error.message))
    told, more = _told_by_logs(line, row)
    problems += more
    return (None, problems) if problems else (FlownRecord(**values, by_logs=told), [])


def _told_by_logs(line: int, row: Mapping[str, str]) -> tuple[FlownByLogs | None, list[RowProblem]]:
    """Return what logs told, None where the row says nothing of it; or all that is wrong with its values."""
    cells = {name: restore((row.get(column) or "").strip()) for name, column in FLAT_NAMES_BY_LOGS.items()}
    if not any(cells.values()):
        return None, []
    told: dict[str, Any] = {}
    problems = []
    for name, text in cells.items():
        try:
            told[name] = _told(name, text)
        except UsageError as error:
            problems.append(RowProblem(line, FLAT_NAMES_BY_LOGS[name], text, error.code, error.message))
    return (None, problems) if problems else (FlownByLogs(**told), [])


def _told(name: str, text: str) -> Any:
    """Return what a cell of what logs told means; UsageError where it means nothing."""
    if name == "ended_near":
        return tuple(_ended(one) for one in text.split())
    if name == "logs":
        if not text:
            raise UsageError("no-logs", "What logs told needs their checksums.")
        return tuple(sorted({_checksum(one) for one in text.split()}))
    if name in _WHOLE:
        return _number(text or "0", whole=True)
    if not text:
        return None
    return _number(text, whole=False) if name.endswith("_kmh") else _moment(text)


def _ended(text: str) -> tuple[str | None, int]:
    code, colon, count = text.rpartition(":")
    if not colon or "@" in code or "," in code or ":" in code:
        raise UsageError("bad-value", f"{text!r} is no code and count such as '003:2'.")
    return code or None, int(_number(count, whole=True))


def _checksum(text: str) -> str:
    if re.fullmatch(f"[0-9a-f]{{{LOG_CHECKSUM_DIGITS}}}", text) is None:
        raise UsageError("bad-value", f"{text!r} is no checksum of a log.")
    return text


def _moment(text: str) -> str:
    """Return a time in UTC to the second, `2027-05-14T08:30:00Z`."""
    form = "%Y-%m-%dT%H:%M:%SZ"
    try:
        is_one = datetime.datetime.strptime(text, form).strftime(form) == text
    except ValueError:
        is_one = False
    if not is_one:
        raise UsageError("bad-value", f"{text!r} is no time in UTC such as '2027-05-14T11:02:03Z'.")
    return text


def _plain(name: str, text: str) -> str | float:
    return restore(text).replace("\0", " ").strip() if name in _TEXT else _number(text, whole=name in _WHOLE)


def _measured(name: str, text: str) -> dict[str, float]:
    """Return the values that a text with its unit means."""
    if name == "wind":
        wind = parse_wind(text)
        return {"wind_from_deg": wind.from_deg, "wind_speed_kmh": wind.speed_kmh}
    if name == "cloud_base":
        return {"cloud_base_m": _above_sea_m(text)}
    return {f"{name}_kmh": parse_speed_kmh(text)}


def _above_sea_m(text: str) -> float:
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
