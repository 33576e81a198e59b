"""Tasks in a layout of the user's own: a row a point, several tasks where a column names them.

Positions, names and elevations are read as those of a set. `leg`, `course` and `axis` follow from the points and are
not read; a `radius` without a column for zones is that of a cylinder.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import BinaryIO

from taskdb.core.model import Role, Shape, TaskPoint, Zone
from taskdb.core.names import clean_text
from taskdb.core.numbers import plain_number
from taskdb.core.plain import course_degrees
from taskdb.errors import InputError
from taskdb.formats.exported import ExportedTask
from taskdb.formats.tasks.csv import require_growing
from taskdb.formats.tasks.reading import Problems, ReadPoint, TaskReading
from taskdb.formats.text.cells import restore
from taskdb.formats.text.delimited import open_table
from taskdb.formats.text.intake import ReadOptions, Record
from taskdb.formats.text.interpret import interpret
from taskdb.formats.text.profile_text import (
    elevation_cell,
    length_cell,
    number_cell,
    other_rows,
    place_cell,
    told_by,
    unworded,
    worded,
    write_rows,
)
from taskdb.formats.text.profiles import Profile, ProfileColumn

FORMAT = "profile"
_PLACED = ("code", "name", "latitude_deg", "longitude_deg", "position", "elevation")


def read_tasks_by_profile(stream: BinaryIO, profile: Profile) -> tuple[TaskReading, ...]:
    """Return the tasks of a file in a profile's layout, in the order in which they begin.

    Raises InputError where the profile is one for waypoints or has no positions, or the file cannot be used as a whole.
    """
    fields = [column.field or "" for column in profile.columns]
    if not profile.is_task:
        hint = 'Waypoints are taken in with taskdb set import --profile; for tasks use rows = "task-points".'
        raise InputError("bad-profile", f"{profile.name} describes rows of waypoints.", hint=hint)
    if not ({"latitude_deg", "longitude_deg"} <= set(fields) or "position" in fields):
        hint = "Add columns for latitude and longitude: codes alone may be other places in another set."
        raise InputError("bad-profile", f"{profile.name} has no positions, and is written and not read.", hint=hint)
    told = replace(told_by(profile, ReadOptions(), _PLACED), codes="number")
    table = open_table(stream, told, has_header=profile.has_header)
    # The profile says what each column is, whatever the file's own headers.
    table = replace(table, headers=tuple(f"#{i + 1}" for i in range(len(table.headers))))
    batches = list(unworded(table, profile))
    rows = {line: row for batch in batches for line, row in zip(batch.lines, batch.rows, strict=True)}
    cells = {line: dict(zip(fields, row, strict=False)) for line, row in sorted(rows.items())}
    reading = interpret(replace(table, batches=iter(batches)), told)
    of: dict[str, list[int]] = {}
    for line, row_cells in cells.items():
        of.setdefault(clean_text(restore(row_cells.get("task", ""))), []).append(line)
    records = {record.line: record for record in reading.records}
    found = []
    for name, lines in of.items():
        problems = Problems()
        # A row that cannot be split is of no task that is known: none of them may be whole.
        others = rows.keys() - set(lines)
        problems.found += [problem for problem in reading.problems if problem.line not in others]
        require_growing(problems, [(line, cells[line].get("number", "").strip()) for line in lines])
        points = tuple(_point(problems, profile, cells[line], records[line]) for line in lines if line in records)
        found.append(TaskReading(FORMAT, name, points, problems=problems.sorted(), notes=_notes(fields)))
    return tuple(found)


def _notes(fields: Sequence[str]) -> tuple[str, ...]:
    return ("the column radius was read as that of cylinders",) if "radius" in fields and "zone" not in fields else ()


def _point(problems: Problems, profile: Profile, cells: dict[str, str], record: Record) -> ReadPoint:
    place, line = record.waypoint, record.line
    return ReadPoint(
        line=line,
        code=clean_text(restore(cells.get("code", ""))),
        name=place.name if "name" in record.given else "",
        position=place.position,
        elevation_m=place.elevation_m,
        zone=_zone(problems, profile, cells, line),
        role=problems.choice(line, "role", cells.get("role", "").strip().lower(), Role),
    )


def _zone(problems: Problems, profile: Profile, cells: dict[str, str], line: int) -> Zone | None:
    """Return the zone that is written, or the cylinder of the radius; None for neither."""
    if "zone" in cells:
        return problems.zone(line, cells["zone"].strip())
    text = cells.get("radius", "").strip().replace(profile.decimal, ".")
    if problems.decimal(line, "radius", text) is None:
        return None
    unit = next(column.unit for column in profile.columns if column.field == "radius")
    return problems.zone(line, f"cylinder {plain_number(text)}{unit}")


# Writing


def write_task_by_profile(stream: BinaryIO, exported: ExportedTask, profile: Profile) -> tuple[str, ...]:
    """Write a task's points in order in a profile's layout, and return what it does not hold."""
    if not profile.is_task:
        raise other_rows(profile, "waypoints", "task-points")
    points = exported.task.points
    rows = (
        [_task_cell(profile, column, exported, i, point) for column in profile.columns]
        for i, point in enumerate(points)
    )
    return (*_zones_lost(points, profile), *write_rows(stream, rows, profile))


def _zones_lost(points: Sequence[TaskPoint], profile: Profile) -> tuple[str, ...]:
    fields = {column.field for column in profile.columns}
    if "zone" in fields:
        return ()
    if "radius" not in fields:
        return ("the zones of the points",)
    others = any(point.zone.shape is not Shape.CYLINDER for point in points)
    return ("the zones that are no cylinders",) if others else ()


def _task_cell(profile: Profile, column: ProfileColumn, exported: ExportedTask, i: int, point: TaskPoint) -> str:
    if column.field is None:
        return column.text
    place = place_cell(point.place.position, column, profile)
    if place is not None:
        return place
    leg = next((leg for leg in exported.course.between_points if leg.to_number == i), None)
    zone = point.zone
    if column.field == "elevation":
        return elevation_cell(point.place.elevation_m, column, profile)
    if column.field == "radius":
        return length_cell(zone.radius_m, column, profile)
    if column.field == "leg":
        return length_cell(None if leg is None else leg.distance_m, column, profile)
    if column.field in ("axis", "course"):
        angle = zone.axis_deg if column.field == "axis" else None if leg is None else leg.course_true_deg
        return number_cell(None if angle is None else course_degrees(angle), column, profile, 4)
    texts = {
        "task": exported.task.name,
        "number": str(i),
        "role": point.role.value,
        "code": point.place.code,
        "name": point.place.name,
        "zone": zone.text,
    }
    return worded(column, texts[column.field])
