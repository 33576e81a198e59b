"""A zone as polygons for maps and files.

Rings of positions on WGS84, not rounded and not cut at the antimeridian: cutting belongs to the format that needs it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

from taskdb.core.course.boundary import Edge, Piece, edges
from taskdb.core.course.regions import reach_m
from taskdb.core.geodesy import EQUATOR_RADIUS_M, destination, destinations_from
from taskdb.core.model import Position, Shape, Zone

DISPLAY_RADIUS_M = 20_000.0
"""How far a sector without a radius is drawn where nothing else is asked for."""

CHORD_WITHIN_M = 4.0
"""How far a chord may leave the true edge: below the 5 m promised, with room for rounding positions to 1e-7°."""


@dataclass(frozen=True, slots=True)
class Outline:
    """A polygon: a closed exterior ring, counter-clockwise from above, and closed holes, clockwise."""

    exterior: tuple[Position, ...]
    holes: tuple[tuple[Position, ...], ...] = ()


@lru_cache(maxsize=512)  # a sheet draws a zone on its map and on its card, a page once more
def outline(
    zone: Zone, at: Position, *, unbounded_radius_m: float = DISPLAY_RADIUS_M, within_m: float = CHORD_WITHIN_M
) -> tuple[Outline, ...]:
    """Return the zone at its point as polygons; none for a line (see `line_ends`).

    Vertices lie on the true edge; a chord leaves it by less than `within_m`, drawn as a geodesic or (further than 1°
    from the poles) as a straight line in longitude and latitude. A sector without a radius is cut off at
    `unbounded_radius_m`: say so where it is shown. ValueError where a needed axis is not resolved.
    """
    if zone.shape is Shape.LINE:
        return ()
    bend = _bend(zone, at, unbounded_radius_m)
    cut_off = _cut_off(zone, unbounded_radius_m)
    rings = [(edge, _ring(edge, at, bend, within_m)) for edge in edges(cut_off, unbounded_radius_m)]
    exteriors = [ring for edge, ring in rings if not edge.is_hole]
    holes = tuple(ring for edge, ring in rings if edge.is_hole)
    return tuple(Outline(exterior, holes) for exterior in exteriors)


def line_ends(zone: Zone, at: Position) -> tuple[Position, Position]:
    """Return the ends of a line, left and right as flown across; ValueError for any other zone."""
    if zone.shape is not Shape.LINE:
        raise ValueError(f"{zone.text!r} is no line")
    piece = edges(zone, 0.0)[0].pieces[0]
    half = piece.rise_m / 2
    return destination(at, piece.from_deg, -half), destination(at, piece.from_deg, half)


def _cut_off(zone: Zone, radius_m: float) -> Zone:
    return replace(zone, radius_m=radius_m) if math.isinf(reach_m(zone)) else zone


def _bend(zone: Zone, at: Position, unbounded_radius_m: float) -> float:
    """Return how much, as 1/m, a straight line in longitude and latitude bends against a geodesic at most.

    On course α in latitude φ it is sin α (1 + cos² α) tan φ / R, on the sphere; on no course more than 1.09 tan φ / R.
    """
    reach = unbounded_radius_m if math.isinf(reach_m(zone)) else reach_m(zone)
    latitude = min(89.0, abs(at.latitude_deg) + math.degrees(reach / EQUATOR_RADIUS_M) * 1.01)
    return 1.09 * max(math.tan(math.radians(latitude)), 0.05) / EQUATOR_RADIUS_M


def _steps(piece: Piece, bend: float, within_m: float) -> int:
    """Return in how many chords a piece is drawn: one of length c leaves an edge that bends by b by c²·b/8.

    An arc bends by 1/r, and what the straight line bends comes on top.
    """
    longest_m = math.sqrt(8 * within_m / (bend + (1 / piece.from_m if piece.is_arc else 0.0)))
    # At least 24 a circle, so that it looks like one.
    return max(1, math.ceil(piece.length_m / longest_m), math.ceil(abs(piece.turn_deg) / 15))


def _ring(edge: Edge, at: Position, bend: float, within_m: float) -> tuple[Position, ...]:
    bearings, lengths = [], []
    for piece in edge.pieces:
        steps = _steps(piece, bend, within_m)
        bearings += [piece.from_deg + piece.turn_deg * n / steps for n in range(steps)]
        lengths += [piece.from_m + piece.rise_m * n / steps for n in range(steps)]
    rim = destinations_from(at, bearings, lengths)
    ring = [at if length <= 0 else there for there, length in zip(rim, lengths, strict=True)]
    return (*ring, ring[0])
