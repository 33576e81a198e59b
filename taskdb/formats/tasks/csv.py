"""A task as CSV: one row a point, with its zone as text that is read back as the same zone, and the leg to it.

Columns, notations and cells are read as those of a set; only that a code may come twice, since a start can be the
finish.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Generator, Mapping, Sequence
from dataclasses import replace
from typing import BinaryIO

from taskdb.core.model import Role, ZoneFrom
from taskdb.core.names import clean_text
from taskdb.core.plain import course_degrees
from taskdb.errors import InputError
from taskdb.formats.exported import ExportedTask, coordinate, format_elevation, number
from taskdb.formats.limits import MOST_TASK_POINTS, require_task_points
from taskdb.formats.tasks.reading import Problems, ReadPoint, TaskReading
from taskdb.formats.tasks.values import LOST_CHOICE
from taskdb.formats.text.cells import neutralise, restore
from taskdb.formats.text.delimited import open_table
from taskdb.formats.text.headers import recognise
from taskdb.formats.text.intake import ReadOptions, Record, SetReading
from taskdb.formats.text.interpret import interpret
from taskdb.formats.text.table import RawTable


def read_csv_tasks(stream: BinaryIO) -> tuple[TaskReading, ...]:
    """Return the one task of delimited text. InputError where the file as a whole cannot be read."""
    options = ReadOptions(codes="number")
    try:
        table = open_table(stream, options)
    except InputError as error:
        _require_positions(str(error.details.get("first_line", "")).split(", "))
        raise
    _require_positions(table.headers)
    rows, reading = read_rows(table, options)
    cells = {line: _cells(table, row) for line, row in rows.items()}
    problems = Problems(reading.problems)
    require_growing(problems, cells)
    points = [row_point(problems, cells[r.line], r, cells[r.line].get("zone", "")) for r in reading.records]
    notes = tuple(note for note in reading.decided.notes if "codes" not in note and "no column" not in note)
    return (TaskReading(format=table.format, name="", points=tuple(points), problems=problems.sorted(), notes=notes),)


def _require_positions(headers: Sequence[str]) -> None:
    """Raise InputError where codes are all there is: in another list, or a later one, a code is another place."""
    fields = {known.field for header in headers if (known := recognise(header)) is not None}
    if fields & {"code", "name"} and not fields & {"latitude_deg", "longitude_deg", "position"}:
        raise InputError(
            "no-positions",
            "The file has no positions: codes or names alone may be other places in this set.",
            hint="Points by code are typed: taskdb task new NAME CODE CODE … --set SET",
        )


def _cells(table: RawTable, row: Sequence[str]) -> dict[str, str]:
    """Return the cells that only a task has, and the code, by name."""
    cells: dict[str, str] = {}
    for header, cell in zip(table.headers, row, strict=True):
        known = recognise(header)
        name = "code" if known is not None and known.field == "code" else header.strip().lower()
        cells.setdefault(name, cell.strip())
    return cells


def read_rows(
    table: RawTable, options: ReadOptions, most: int = MOST_TASK_POINTS
) -> tuple[dict[int, Sequence[str]], SetReading]:
    """Return a table's rows by line in its order, up to so many, and what they are read as."""
    batches, count = [], 0
    try:
        for batch in table.batches:
            batches.append(batch)
            count += len(batch.rows) + len(batch.broken)
            require_task_points(count, most)
    finally:
        if isinstance(table.batches, Generator):
            table.batches.close()  # lets go of the stream now
    rows = {line: row for batch in batches for line, row in zip(batch.lines, batch.rows, strict=True)}
    return dict(sorted(rows.items())), interpret(replace(table, batches=iter(batches)), options)


def row_point(problems: Problems, cells: Mapping[str, str], record: Record, zone: str) -> ReadPoint:
    """Return the point of a row: what a set has too from its record, the rest from its cells by field, trimmed."""
    place, line = record.waypoint, record.line
    return ReadPoint(
        line=line,
        code=clean_text(restore(cells.get("code", ""))),
        name=place.name if "name" in record.given else "",
        position=place.position,
        elevation_m=place.elevation_m,
        zone=problems.zone(line, zone),
        role=problems.choice(line, "role", cells.get("role", "").lower(), Role),
        zone_from=problems.choice(line, "zone_from", cells.get("zone_from", "").lower(), ZoneFrom),
    )


def require_growing(problems: Problems, rows: Mapping[int, Mapping[str, str]]) -> None:
    """Tell rows, by line, whose own number does not grow: a sorted table is another task."""
    last = -1
    for line, cells in rows.items():
        text = cells.get("number", "")
        number = problems.whole(line, "number", text)
        if number is None:
            continue
        if number <= last:
            problems.tell(line, "number", text, "not-in-order", f"it follows number {last}: were the rows sorted?")
        last = number


# Writing


TASK_HEADER = (
    "number", "role", "code", "name", "latitude_deg", "longitude_deg", "elevation_m", "zone", "zone_axis_deg",
    "zone_from", "leg_m", "course_true_deg",
)  # fmt: skip

LOST = "what belongs to the task as a whole: type, time, contest, fingerprint"


def write_csv_task(stream: BinaryIO, exported: ExportedTask) -> tuple[str, ...]:
    """Write a task's points in order (UTF-8, CRLF, quotes where needed) and return what the format could not hold.

    `leg_m` and `course_true_deg` are of the leg from the point of the row above to that of the row; empty at the start.
    """
    text = io.TextIOWrapper(stream, "utf-8", errors="replace", newline="")
    writer = csv.writer(text, lineterminator="\r\n", quoting=csv.QUOTE_MINIMAL)
    writer.writerow(TASK_HEADER)
    legs = {leg.to_number: leg for leg in exported.course.between_points}
    for i, point in enumerate(exported.task.points):
        leg, place, axis = legs.get(i), point.place, point.zone.axis_deg
        course = None if leg is None else leg.course_true_deg
        writer.writerow(
            [
                i,
                point.role.value,
                neutralise(clean_text(place.code)),
                neutralise(clean_text(place.name)),
                coordinate(place.position.latitude_deg),
                coordinate(place.position.longitude_deg),
                format_elevation(place.elevation_m),
                point.zone.text,
                "" if axis is None else number(course_degrees(axis)),
                point.zone_from.value,
                "" if leg is None else f"{leg.distance_m:.3f}",
                "" if course is None else number(course_degrees(course)),
            ]
        )
    text.flush()
    text.detach()
    return (LOST,) if exported.task.free is None else (LOST, LOST_CHOICE)
