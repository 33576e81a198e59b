"""Symbols of plain geometry for points of a task and for places of a catalogue, told apart without colour.

Each is drawn about a point on paper, millimetres; the size says how far it reaches from there.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from taskdb.core.model import Landable, Role, Waypoint
from taskdb.report.palette import CATALOGUE_INK, INK, PAPER, STYLES
from taskdb.report.svg import Point, element, pair, path_data

POINT_REACH_MM = 1.6
PLACE_REACH_MM = 1.0
_RANKS: dict[Landable | None, int] = {Landable.AERODROME: 0, Landable.FIELD: 1, Landable.EMERGENCY: 1}
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

    One path for all of them: a map has hundreds. A disc is a point that is drawn with a round pen as wide as the disc,
    a ring one disc on another. Empty for no places.
    """
    known = list(spots)
    if not known:
        return ""
    if landable is Landable.AERODROME:
        ring = _discs(known, 1.75, CATALOGUE_INK) + _discs(known, 1.25, PAPER)
        bars = _steps([(x - 1.0, y) for x, y in known], "h2", 2.0)
        return ring + element("path", d=bars, stroke=CATALOGUE_INK, stroke_width=0.35)
    if landable in (Landable.FIELD, Landable.EMERGENCY):
        squares = _steps([(x - 0.55, y - 0.55) for x, y in known], "h1.1v1.1h-1.1z")
        return element("path", d=squares, fill=PAPER, stroke=CATALOGUE_INK, stroke_width=0.25)
    return _discs(known, 0.64, CATALOGUE_INK)


def _discs(spots: Sequence[Point], width: float, colour: str) -> str:
    return element("path", d=_steps(spots, "h0"), stroke=colour, stroke_width=width, stroke_linecap="round")


def _steps(spots: Sequence[Point], stroke: str, right: float = 0.0) -> str:
    """Return a stroke at every spot as the data of a path, which ends so far to the `right` of where it begins.

    Spots are written to a tenth of a millimetre, half of which is a fifth of a light symbol's line; from the left to
    the right, so that the steps between them are short.
    """
    parts, at_x, at_y = [], 0, 0
    for x, y in sorted((round(10 * x), round(10 * y)) for x, y in spots):
        parts.append(f"m{pair(10 * (x - at_x), 10 * (y - at_y))}{stroke}")
        at_x, at_y = x + round(10 * right), y
    return "".join(parts)


def place_rank(waypoint: Waypoint) -> int:
    """Return how early a place is drawn where there is no room for all: aerodromes, fields, then the rest."""
    return _RANKS.get(waypoint.landable, 2)
