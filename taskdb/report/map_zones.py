"""The zones of a task as they are drawn: true outlines on the ground, then on paper, in the style of their role.

Shapes come from `core.course.outline`; nothing about a zone is computed here. A sector without a radius is drawn to
a display radius, its far arc left open, since it has no end.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from taskdb.core.course.outline import line_ends, outline
from taskdb.core.geodesy import distance_m
from taskdb.core.model import Position, Role, Shape, TaskPoint, Zone
from taskdb.report.map_frame import Frame
from taskdb.report.palette import INK, STYLES
from taskdb.report.svg import Point, element, path_data

LEAST_DISPLAY_M = 3_000.0
_DISPLAY_SHARE = 0.12
_FILL_OPACITY = "0.12"
_HAIR_MM = 0.015
"""So far an outline may pass beside its true place on paper: a twentieth of its own width."""


@dataclass(frozen=True, slots=True)
class ZoneGround:
    """A zone on the ground: closed rings (outlines and holes), or the two ends of a line."""

    role: Role
    is_unbounded: bool
    rings: tuple[tuple[Position, ...], ...]
    line: tuple[Position, ...]

    @property
    def extent(self) -> tuple[Position, ...]:
        """The positions that a map must show to show the zone."""
        return (*self.line, *(position for ring in self.rings for position in ring[::3]))


@dataclass(frozen=True, slots=True)
class ZoneDrawing:
    """A zone on paper, millimetres in its frame."""

    role: Role
    is_unbounded: bool
    rings: tuple[tuple[Point, ...], ...]
    line: tuple[Point, ...]

    @staticmethod
    def on(frame: Frame, ground: ZoneGround) -> ZoneDrawing:
        """Return a zone projected onto the paper of a frame."""
        rings = tuple(_thinned(frame.line(ring)) for ring in ground.rings)
        return ZoneDrawing(ground.role, ground.is_unbounded, rings, frame.line(ground.line))


def _thinned(ring: Sequence[Point]) -> tuple[Point, ...]:
    """Return a ring without the vertices that lie on the line between those kept, within a hair of paper.

    In a picture of 16 mm a circle needs a third of its vertices; corners stay.
    """
    kept, passed = [ring[0]], []
    for at, following in pairwise(ring[1:] and (*ring[1:], ring[-1])):
        passed.append(at)
        if following is at or any(_off_line_mm(one, kept[-1], following) > _HAIR_MM for one in passed):
            kept.append(at)
            passed = []
    return tuple(kept)


def _off_line_mm(point: Point, start: Point, end: Point) -> float:
    """Return how far a point lies off the line through two others; from the first where they are one."""
    x, y = end[0] - start[0], end[1] - start[1]
    length = math.hypot(x, y)
    if length == 0.0:
        return math.dist(point, start)
    return abs((point[0] - start[0]) * y - (point[1] - start[1]) * x) / length


def zone_ground(zone: Zone, role: Role, at: Position, display_m: float) -> ZoneGround:
    """Return a resolved zone on the ground; `display_m` is how far a sector without a radius is drawn."""
    if zone.shape is Shape.LINE:
        return ZoneGround(role, False, (), line_ends(zone, at))
    pieces = outline(zone, at, unbounded_radius_m=display_m)
    rings = tuple(ring for piece in pieces for ring in (piece.exterior, *piece.holes))
    return ZoneGround(role, zone.shape is Shape.SECTOR and zone.radius_m is None, rings, ())


def drawings(points: Sequence[TaskPoint], places: Sequence[Position]) -> tuple[ZoneGround, ...]:
    """Return the zones of a task on the ground; `places` are where its legs meet (for the display radius)."""
    longest = max((distance_m(a, b) for a, b in pairwise(places)), default=0.0)
    display_m = max(LEAST_DISPLAY_M, _DISPLAY_SHARE * longest)
    return tuple(zone_ground(point.zone, point.role, point.place.position, display_m) for point in points)


def draw_zone(drawing: ZoneDrawing) -> str:
    """Return a zone as SVG: filled outline in its role's style; a line with a dark core so that it shows when small."""
    style = STYLES[drawing.role]
    if drawing.line:
        line = path_data(drawing.line)
        wide = element("path", d=line, fill="none", stroke=INK, stroke_width=1.3)
        return wide + element("path", d=line, fill="none", stroke=style.colour, stroke_width=0.8)
    rings = "".join(path_data(ring, closed=True) for ring in drawing.rings)
    return element(
        "path",
        d=rings,
        fill=style.colour,
        fill_opacity=_FILL_OPACITY,
        fill_rule="evenodd",
        stroke=style.colour,
        stroke_width=style.width_mm,
        stroke_dasharray="0.4 1" if drawing.is_unbounded else (style.dash or None),
    )
