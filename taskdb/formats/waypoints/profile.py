"""Waypoints in a layout of the user's own: delimited text as a profile describes it, read and written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import BinaryIO

from taskdb.core.facilities import format_radio, format_runways
from taskdb.core.model import Waypoint
from taskdb.formats.exported import in_order
from taskdb.formats.text.delimited import open_table
from taskdb.formats.text.intake import ReadOptions, SetReading
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
from taskdb.formats.text.profiles import WAYPOINT_FIELDS, Profile, ProfileColumn


def read_set_by_profile(stream: BinaryIO, profile: Profile, options: ReadOptions) -> SetReading:
    """Return the waypoints of a file in a profile's layout; options that a person gave go before the profile."""
    if profile.is_task:
        raise other_rows(profile, "task-points", "waypoints")
    told = told_by(profile, options, WAYPOINT_FIELDS)
    table = open_table(stream, told, has_header=profile.has_header)
    return interpret(replace(table, batches=unworded(table, profile)), told)


def write_set_by_profile(stream: BinaryIO, waypoints: Iterable[Waypoint], profile: Profile) -> tuple[str, ...]:
    """Write waypoints in order of code in a profile's layout, and return what it does not hold.

    Raises InputError where the profile is one for the points of tasks.
    """
    if profile.is_task:
        raise other_rows(profile, "task-points", "waypoints")
    missing, found = _missing(profile), set[str]()

    def rows() -> Iterator[list[str]]:
        for waypoint in in_order(waypoints):
            found.update(field for field in missing if getattr(waypoint, missing[field]) not in (None, "", ()))
            yield [_waypoint_cell(profile, column, waypoint) for column in profile.columns]

    lost = write_rows(stream, rows(), profile)
    return (*(field for field in missing if field in found), *lost)


def _missing(profile: Profile) -> dict[str, str]:
    """Return the fields that the profile has no column for, each with its name in the model."""
    fields = {column.field for column in profile.columns}
    if any((field or "").startswith("runway_") for field in fields):
        fields.add("runways")
    if {"latitude_deg", "longitude_deg"} <= fields:
        fields.add("position")
    known = (
        "name", "position", "elevation", "landable", "feature", "country", "radio", "runways", "description", "source",
        "inspected_on",
    )  # fmt: skip
    return {field: "elevation_m" if field == "elevation" else field for field in known if field not in fields}


def _waypoint_cell(profile: Profile, column: ProfileColumn, waypoint: Waypoint) -> str:
    if column.field is None:
        return column.text
    place = place_cell(waypoint.position, column, profile)
    if place is not None:
        return place
    runway = waypoint.runways[0] if waypoint.runways else None
    if column.field == "elevation":
        return elevation_cell(waypoint.elevation_m, column, profile)
    if column.field in ("runway_length", "runway_width"):
        value = None if runway is None else runway.length_m if column.field == "runway_length" else runway.width_m
        return length_cell(value, column, profile)
    if column.field == "runway_heading":
        return number_cell(None if runway is None else runway.heading_true_deg, column, profile, 4)
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
    return worded(column, texts.get(column.field) or "")
