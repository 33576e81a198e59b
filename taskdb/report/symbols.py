"""Symbols of plain geometry for points of a task and for places of a catalogue, told apart without colour.

Each is drawn about a point on paper, millimetres; the size says how far it reaches from there.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from taskdb.core.model import Landable, Role, Waypoint
from taskdb.report.palette import CATALOGUE_INK, INK, PAPER, STYLES
from taskdb.report.svg import Point, element, number, path_data

POINT_REACH_MM = 1.6
PLACE_REACH_MM = 1.0
_TAGS = {Role.START: "Start", Role.FINISH: "Finish"}


def point_tag(role: Role, number_: int) -> str:
    """Return what a point is called on maps and sheets: `Start`, its number, or `Finish`."""
    return _TAGS.get(role, str(number_))


def _around(at: Point, radius: float, corners: int, first_deg: float) -> list[Point]:
    turns = (math.radians(first_deg + 360 * n / corners) for n in range(corners))
    return [(at[0] + radius * math.cos(turn), at[1] + radius * math.sin(turn)) for turn in turns]


def point_symbol(role: Role, at: Point) -> str:
    """Return the symbol of a task's point: start triangle, turn dot, area ring with a dot, finish square."""
    colour = STYLES[role].colour
    x, y = at
    if role is Role.START:
        triangle = path_data(_around(at, 1.6, 3, -90), closed=True)
        return element("path", d=triangle, fill=colour, stroke=INK, stroke_width=0.25)
    if role is Role.FINISH:
        square = path_data(_around(at, 1.75, 4, 45), closed=True)
        return element("path", d=square, fill=PAPER, stroke=INK, stroke_width=0.45)
    ring = element("circle", cx=x, cy=y, r=1.0, fill=PAPER, stroke=INK, stroke_width=0.35)
    return ring + element("circle", cx=x, cy=y, r=0.5, fill=INK if role is Role.AREA else colour)


def place_symbols(landable: Landable | None, spots: Iterable[Point]) -> str:
    """Return the light symbols of a catalogue's places of one kind: aerodrome ring with a bar, field open square, dot.

    One path for all of them: a map has hundreds. Empty for no places.
    """
    known = list(spots)
    if not known:
        return ""
    line: dict[str, Any] = {"fill": PAPER, "stroke": CATALOGUE_INK, "stroke_width": 0.25}
    if landable is Landable.AERODROME:
        bars = "".join(f"M{number(x - 1.0)},{number(y)}h2" for x, y in known)
        rings = element("path", d=_rings(known, 0.75), **line)
        return rings + element("path", d=bars, stroke=CATALOGUE_INK, stroke_width=0.35)
    if landable in (Landable.FIELD, Landable.EMERGENCY):
        squares = "".join(f"M{number(x - 0.55)},{number(y - 0.55)}h1.1v1.1h-1.1z" for x, y in known)
        return element("path", d=squares, **line)
    return element("path", d=_rings(known, 0.32), fill=CATALOGUE_INK)


def _rings(spots: Iterable[Point], radius: float) -> str:
    """Return circles as the data of a path: each of two half circles."""
    r, twice = number(radius), number(2 * radius)
    half = f"a{r},{r} 0 1 0 "
    return "".join(f"M{number(x - radius)},{number(y)}{half}{twice},0{half}-{twice},0" for x, y in spots)


def place_rank(waypoint: Waypoint) -> int:
    """Return how early a place is drawn where there is no room for all: aerodromes, fields, then the rest."""
    if waypoint.landable is Landable.AERODROME:
        return 0
    return 1 if waypoint.landable in (Landable.FIELD, Landable.EMERGENCY) else 2
