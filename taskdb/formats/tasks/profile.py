"""Tasks in a layout of the user's own: a row a point, several tasks where a column names them.

Positions, names and elevations are read as those of a set. `leg`, `course` and `axis` follow from the points and are
not read; a `radius` without a column for zones is that of a cylinder.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import BinaryIO

from taskdb.core.model import Shape, TaskPoint
from taskdb.core.names import clean_text
from taskdb.core.numbers import plain_number
from taskdb.core.plain import course_degrees
from taskdb.errors import InputError
from taskdb.formats.exported import ExportedTask
from taskdb.formats.limits import MOST_TASK_ROWS
from taskdb.formats.tasks.csv import read_rows, require_growing, row_point
from taskdb.formats.tasks.reading import Problems, TaskReading
from taskdb.formats.text.cells import restore
from taskdb.formats.text.delimited import open_table
from taskdb.formats.text.intake import ReadOptions
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
    rows, reading = read_rows(replace(table, batches=unworded(table, profile)), told, MOST_TASK_ROWS)
    by_task: dict[str, dict[int, dict[str, str]]] = {}
    for line, row in rows.items():
        cells = dict(zip(fields, map(str.strip, row), strict=False))
        by_task.setdefault(clean_text(restore(cells.get("task", ""))), {})[line] = cells
    records = {record.line: record for record in reading.records}
    tasks = []
    for name, own in by_task.items():
        # A row that cannot be split is of no task that is known: none of them may be whole.
        others = rows.keys() - own.keys()
        problems = Problems(problem for problem in reading.problems if problem.line not in others)
        require_growing(problems, own)
        points = tuple(
            row_point(problems, cells, records[line], _zone_text(problems, profile, cells, line))
            for line, cells in own.items()
            if line in records
        )
        tasks.append(TaskReading(FORMAT, name, points, problems=problems.sorted(), notes=_notes(fields)))
    return tuple(tasks)


def _notes(fields: Sequence[str]) -> tuple[str, ...]:
    return ("the column radius was read as that of cylinders",) if "radius" in fields and "zone" not in fields else ()


def _zone_text(problems: Problems, profile: Profile, cells: dict[str, str], line: int) -> str:
    """Return the zone that is written, or the cylinder of the radius; empty for neither."""
    if "zone" in cells:
        return cells["zone"]
    text = cells.get("radius", "").replace(profile.decimal, ".")
    if problems.decimal(line, "radius", text) is None:
        return ""
    unit = next(column.unit for column in profile.columns if column.field == "radius")
    return f"cylinder {plain_number(text)}{unit}"


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
