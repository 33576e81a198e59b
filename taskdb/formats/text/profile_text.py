"""Delimited text in a layout of the user's own: sets and tasks written by a profile, sets read by it."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import BinaryIO, Literal

from taskdb.core.facilities import format_radio, format_runways
from taskdb.core.model import Position, Shape, TaskPoint, Waypoint
from taskdb.core.notation import Axis, Notation, format_angle, format_position
from taskdb.core.plain import course_degrees
from taskdb.errors import InputError
from taskdb.formats.exported import ExportedTask
from taskdb.formats.text.cells import neutralise
from taskdb.formats.text.delimited import open_table
from taskdb.formats.text.intake import ReadOptions, SetReading
from taskdb.formats.text.interpret import interpret
from taskdb.formats.text.profiles import UNITS_M, WAYPOINT_FIELDS, Profile, ProfileColumn
from taskdb.formats.text.table import Batch, RawTable

_QUOTING: dict[str, Literal[0, 1, 2, 3]] = {"needed": csv.QUOTE_MINIMAL, "all": csv.QUOTE_ALL, "none": csv.QUOTE_NONE}
_STANDARD_DECIMALS = {
    Notation.DECIMAL: 7,
    Notation.MINUTES: 3,
    Notation.PACKED_MINUTES: 3,
    Notation.SECONDS: 1,
    Notation.PACKED_SECONDS: 0,
}


def write_set_by_profile(stream: BinaryIO, waypoints: Iterable[Waypoint], profile: Profile) -> tuple[str, ...]:
    """Write waypoints in order of code in a profile's layout, and return what it does not hold.

    Raises InputError where the profile is one for the points of tasks.
    """
    if profile.is_task:
        raise _other_rows(profile, "task-points", "waypoints")
    ordered = sorted(waypoints, key=lambda w: w.code)
    rows = ([_waypoint_cell(profile, column, w) for column in profile.columns] for w in ordered)
    return (*_missing(profile, ordered), *_write(stream, rows, profile))


def write_task_by_profile(stream: BinaryIO, exported: ExportedTask, profile: Profile) -> tuple[str, ...]:
    """Write a task's points in order in a profile's layout, and return what it does not hold."""
    if not profile.is_task:
        raise _other_rows(profile, "waypoints", "task-points")
    points = exported.task.points
    rows = (
        [_task_cell(profile, column, exported, i, point) for column in profile.columns]
        for i, point in enumerate(points)
    )
    return (*_zones_lost(points, profile), *_write(stream, rows, profile))


def _zones_lost(points: Sequence[TaskPoint], profile: Profile) -> tuple[str, ...]:
    fields = {column.field for column in profile.columns}
    if "zone" in fields:
        return ()
    if "radius" not in fields:
        return ("the zones of the points",)
    others = any(point.zone.shape is not Shape.CYLINDER for point in points)
    return ("the zones that are no cylinders",) if others else ()


def _other_rows(profile: Profile, has: str, wanted: str) -> InputError:
    return InputError(
        "bad-profile", f"{profile.name} describes rows of {has}.", hint=f'Use a profile with rows = "{wanted}".'
    )


def _missing(profile: Profile, waypoints: list[Waypoint]) -> tuple[str, ...]:
    """Return the fields that some waypoint has and the profile has no column for."""
    fields = {column.field for column in profile.columns}
    if any((field or "").startswith("runway_") for field in fields):
        fields.add("runways")
    if {"latitude_deg", "longitude_deg"} <= fields:
        fields.add("position")
    known = (
        "name", "position", "elevation", "landable", "feature", "country", "radio", "runways", "description", "source",
        "inspected_on",
    )  # fmt: skip
    return tuple(
        field
        for field in known
        if field not in fields
        and any(getattr(w, "elevation_m" if field == "elevation" else field) not in (None, "", ()) for w in waypoints)
    )


def _write(stream: BinaryIO, rows: Iterable[list[str]], profile: Profile) -> tuple[str, ...]:
    """Write rows and return what the encoding or the lack of quotes took from them."""
    lost: set[str] = set()
    buffer = io.StringIO(newline="")
    writer = csv.writer(
        buffer,
        delimiter=profile.separator,
        lineterminator=profile.line_end,
        quoting=_QUOTING[profile.quoting],
        quotechar=None if profile.quoting == "none" else '"',
    )
    if profile.has_header:
        rows = _with_header(rows, profile)
    for row in rows:
        if profile.quoting == "none":
            row = [_unquoted(cell, profile.separator, lost) for cell in row]
        writer.writerow(row)
    text = buffer.getvalue()
    try:
        stream.write(text.encode(profile.encoding))
    except UnicodeEncodeError:
        lost.add(f"letters that {profile.encoding} does not have became ?")
        stream.write(text.encode(profile.encoding, "replace"))
    return tuple(sorted(lost))


def _with_header(rows: Iterable[list[str]], profile: Profile) -> Iterator[list[str]]:
    yield [column.header or column.field or "" for column in profile.columns]
    yield from rows


def _unquoted(cell: str, separator: str, lost: set[str]) -> str:
    if separator in cell or '"' in cell:
        lost.add("the separator and quotes within texts became blanks")
        return cell.replace(separator, " ").replace('"', " ")
    return cell


# One cell


def _number(value: float | None, column: ProfileColumn, profile: Profile, standard: int) -> str:
    if value is None:
        return ""
    text = f"{value:.{standard if column.decimals is None else column.decimals}f}"
    if column.decimals is None and "." in text:
        text = text.rstrip("0").rstrip(".")
    text = text.removeprefix("-") if not text.strip("-0.") else text
    return text.replace(".", profile.decimal)


def _length(metres: float | None, column: ProfileColumn, profile: Profile) -> str:
    return "" if metres is None else _number(metres / UNITS_M[column.unit or "m"], column, profile, 3)


def _place_cell(position: Position, column: ProfileColumn, profile: Profile) -> str | None:
    """Return a coordinate or both in the column's notation; None for a column that is neither."""
    decimals = _STANDARD_DECIMALS.get(column.notation) if column.decimals is None else column.decimals
    if column.field == "position":
        try:
            text = format_position(position, column.notation, decimals)
        except ValueError as error:
            raise InputError("bad-profile", f"{profile.name}, line {column.line}: {error}.") from None
        # Two decimal numbers parted by a comma cannot also have decimal commas.
        return text if column.notation is Notation.DECIMAL else _with_decimal(text, column, profile)
    if column.field not in ("latitude_deg", "longitude_deg"):
        return None
    axis = Axis.LATITUDE if column.field == "latitude_deg" else Axis.LONGITUDE
    e7 = position.latitude_e7 if axis is Axis.LATITUDE else position.longitude_e7
    return _with_decimal(format_angle(e7, axis, column.notation, decimals or 0), column, profile)


def _with_decimal(text: str, column: ProfileColumn, profile: Profile) -> str:
    return text if column.notation in (Notation.GEO_URI, Notation.ISO6709) else text.replace(".", profile.decimal)


def _waypoint_cell(profile: Profile, column: ProfileColumn, waypoint: Waypoint) -> str:
    if column.field is None:
        return column.text
    place = _place_cell(waypoint.position, column, profile)
    if place is not None:
        return place
    runway = waypoint.runways[0] if waypoint.runways else None
    if column.field == "elevation":
        metres = waypoint.elevation_m
        return "" if metres is None else _number(metres / UNITS_M[column.unit or "m"], column, profile, 1)
    if column.field in ("runway_length", "runway_width"):
        value = None if runway is None else runway.length_m if column.field == "runway_length" else runway.width_m
        return _length(value, column, profile)
    if column.field == "runway_heading":
        return _number(None if runway is None else runway.heading_true_deg, column, profile, 4)
    texts: Mapping[str, str | None] = {
        "code": waypoint.code,
        "name": waypoint.name,
        "landable": waypoint.landable.value if waypoint.landable else None,
        "feature": waypoint.feature.value if waypoint.feature else None,
        "country": waypoint.country,
        "radio": format_radio(waypoint.radio),
        "runways": format_runways(waypoint.runways),
        "runway_designator": None if runway is None else runway.designator,
        "runway_surface": None if runway is None else runway.surface,
        "description": waypoint.description,
        "source": waypoint.source,
        "inspected_on": waypoint.inspected_on,
        "identity": waypoint.identity,
    }
    return _worded(column, texts.get(column.field) or "")


def _worded(column: ProfileColumn, text: str) -> str:
    return neutralise(column.words.get(text, text))


def _task_cell(profile: Profile, column: ProfileColumn, exported: ExportedTask, i: int, point: TaskPoint) -> str:
    if column.field is None:
        return column.text
    place = _place_cell(point.place.position, column, profile)
    if place is not None:
        return place
    leg = next((leg for leg in exported.course.between_points if leg.to_number == i), None)
    zone = point.zone
    if column.field == "elevation":
        metres = point.place.elevation_m
        return "" if metres is None else _number(metres / UNITS_M[column.unit or "m"], column, profile, 1)
    if column.field == "radius":
        return _length(zone.radius_m, column, profile)
    if column.field == "leg":
        return _length(None if leg is None else leg.distance_m, column, profile)
    if column.field in ("axis", "course"):
        angle = zone.axis_deg if column.field == "axis" else None if leg is None else leg.course_true_deg
        return _number(None if angle is None else course_degrees(angle), column, profile, 4)
    texts = {
        "task": exported.task.name,
        "number": str(i),
        "role": point.role.value,
        "code": point.place.code,
        "name": point.place.name,
        "zone": zone.text,
    }
    return _worded(column, texts[column.field])


# Reading


def read_by_profile(stream: BinaryIO, profile: Profile, options: ReadOptions) -> SetReading:
    """Return the waypoints of a file in a profile's layout; options that a person gave go before the profile."""
    if profile.is_task:
        raise _other_rows(profile, "task-points", "waypoints")
    told = told_by(profile, options, WAYPOINT_FIELDS)
    table = open_table(stream, told, has_header=profile.has_header)
    return interpret(replace(table, batches=unworded(table, profile)), told)


def told_by(profile: Profile, options: ReadOptions, fields: tuple[str, ...]) -> ReadOptions:
    """Return the options that a profile stands for, of its columns those of the fields named."""
    notations = {c.notation for c in profile.columns if c.says_notation}
    if len(notations) > 1:
        raise InputError(
            "bad-profile",
            f"{profile.name} has latitude and longitude in different notations, which is written and not read.",
            hint="Give both the same notation.",
        )
    columns = {_told_name(c): f"#{i + 1}" for i, c in enumerate(profile.columns) if c.field in fields}
    elevation = next((c.unit for c in profile.columns if c.field == "elevation"), None)
    return replace(
        options,
        columns={**columns, **options.columns},
        delimiter=options.delimiter or profile.separator,
        encoding=options.encoding or profile.encoding,
        decimal=options.decimal or profile.decimal,
        notation=options.notation or next(iter(notations), None),
        elevation_unit=options.elevation_unit or elevation,
        heading=options.heading or "true",
    )


def _told_name(column: ProfileColumn) -> str:
    name = column.field or ""
    return f"{name}_{column.unit}" if column.unit is not None and name.startswith("runway_") else name


def unworded(table: RawTable, profile: Profile) -> Iterator[Batch]:
    """Yield a table's rows with the profile's own words put back into ours."""
    back = {i: {text: word for word, text in c.words.items()} for i, c in enumerate(profile.columns) if c.words}
    for batch in table.batches:
        for i, row in enumerate(batch.rows if back else ()):
            batch.rows[i] = [back[at].get(cell.strip(), cell) if at in back else cell for at, cell in enumerate(row)]
        yield batch
