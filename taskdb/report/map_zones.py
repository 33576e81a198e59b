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
from taskdb.report.map_frame import Frame, thinned
from taskdb.report.palette import INK, STYLES
from taskdb.report.svg import Point, element, number, path_data

LEAST_DISPLAY_M = 3_000.0
_DISPLAY_SHARE = 0.12
_FILL_OPACITY = "0.12"
_OFF_CIRCLE_MM = 0.01
_LEAST_CORNERS, _LONGEST_SIDE = 12, 0.6
"""A circle drawn by vertices has at least so many, and no side so many radii long."""


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
        rings = tuple(thinned(frame.line(ring)) for ring in ground.rings)
        return ZoneDrawing(ground.role, ground.is_unbounded, rings, frame.line(ground.line))


def zone_ground(zone: Zone, role: Role, at: Position, display_m: float) -> ZoneGround:
    """Return a resolved zone on the ground; `display_m` is how far a sector without a radius is drawn."""
    if zone.shape is Shape.LINE:
        return ZoneGround(role, False, (), line_ends(zone, at))
    is_unbounded = zone.shape is Shape.SECTOR and zone.radius_m is None
    pieces = outline(zone, at, unbounded_radius_m=display_m) if is_unbounded else outline(zone, at)
    rings = tuple(ring for piece in pieces for ring in (piece.exterior, *piece.holes))
    return ZoneGround(role, is_unbounded, rings, ())


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
    rings = "".join(map(_ring_data, drawing.rings))
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


def _ring_data(ring: Sequence[Point]) -> str:
    """Return an outline as a path: a round one as its circle, which is shorter and has no corners, else by vertices."""
    circle = _circle(ring)
    if circle is None:
        return path_data(ring, closed=True)
    (x, y), radius = circle
    r, across = number(radius), number(2 * radius)
    # Anticlockwise from the top, as outlines run: dashes begin there.
    return f"M{number(x)} {number(y - radius)}a{r} {r} 0 1 0 0 {across}a{r} {r} 0 1 0 0-{across}Z"


def _circle(ring: Sequence[Point]) -> tuple[Point, float] | None:
    """Return middle and radius of the circle on which a ring has all its vertices, all round; None where there is none.

    The projection draws circles as circles, but for what the ellipsoid differs from a sphere.
    """
    count = len(ring) - 1
    if count < _LEAST_CORNERS:
        return None
    (ax, ay), (bx, by), (cx, cy) = (ring[count * n // 3] for n in range(3))
    bx, by, cx, cy = bx - ax, by - ay, cx - ax, cy - ay
    twice = 2 * (bx * cy - by * cx)
    if twice == 0.0:
        return None
    b, c = bx * bx + by * by, cx * cx + cy * cy
    middle = (ax + (cy * b - by * c) / twice, ay + (bx * c - cx * b) / twice)
    radius = math.dist(middle, ring[0])
    is_round = all(abs(math.dist(middle, vertex) - radius) < _OFF_CIRCLE_MM for vertex in ring)
    # A straight side has no vertex off the circle either.
    is_whole = all(math.dist(a, b) < _LONGEST_SIDE * radius for a, b in pairwise(ring))
    return (middle, radius) if is_round and is_whole else None
