"""Waypoints as CSV: the one form that is written (RFC 4180, UTF-8 without mark, decimal degrees), and any that is read.

Writing and reading back gives the same waypoints. A text that a spreadsheet would run as a formula is written with an
apostrophe before it, and read back without.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from typing import BinaryIO

from taskdb.core.facilities import format_radio, format_runways
from taskdb.core.model import Waypoint
from taskdb.formats.exported import coordinate, format_elevation, in_order
from taskdb.formats.text.cells import neutralise
from taskdb.formats.text.delimited import open_table
from taskdb.formats.text.intake import ReadOptions, SetReading
from taskdb.formats.text.interpret import interpret
from taskdb.formats.text.rows import row_writer

HEADER = (
    "code", "name", "latitude_deg", "longitude_deg", "elevation_m", "landable", "feature", "country", "radio",
    "runways", "description", "source", "inspected_on",
)  # fmt: skip


def read_csv(stream: BinaryIO, options: ReadOptions) -> SetReading:
    """Return the waypoints of delimited text. Raises InputError where the file as a whole cannot be read."""
    return interpret(open_table(stream, options), options)


_TEXTS = tuple(i for i, name in enumerate(HEADER) if name not in ("latitude_deg", "longitude_deg", "elevation_m"))


def plain_row(waypoint: Waypoint) -> list[str]:
    """Return the fields of a waypoint as texts in the order of `HEADER`; empty where not known."""
    return [
        waypoint.code,
        waypoint.name,
        coordinate(waypoint.position.latitude_deg),
        coordinate(waypoint.position.longitude_deg),
        format_elevation(waypoint.elevation_m),
        waypoint.landable.value if waypoint.landable else "",
        waypoint.feature.value if waypoint.feature else "",
        waypoint.country or "",
        format_radio(waypoint.radio),
        format_runways(waypoint.runways),
        waypoint.description or "",
        waypoint.source or "",
        waypoint.inspected_on or "",
    ]


def row_of(waypoint: Waypoint) -> list[str]:
    """Return the cells of a waypoint: its fields, with what a spreadsheet would run as a formula made harmless."""
    cells = plain_row(waypoint)
    for i in _TEXTS:
        cells[i] = neutralise(cells[i])
    return cells


def write_csv(stream: BinaryIO, waypoints: Iterable[Waypoint], *, identity: bool = False) -> tuple[str, ...]:
    """Write waypoints in order of code (Unicode code points) and return what the format could not hold: extras only."""
    text = io.TextIOWrapper(stream, "utf-8", errors="replace", newline="")
    write = row_writer(text)
    write([*HEADER, "identity"] if identity else HEADER)
    has_extras = False
    for waypoint in in_order(waypoints):
        row = row_of(waypoint)
        if identity:
            row.append(waypoint.identity or "")
        write(row)
        has_extras = has_extras or waypoint.extras is not None
    text.flush()
    text.detach()
    return ("what other formats held beyond these fields",) if has_extras else ()
