"""The edge of a zone as pieces in bearing and distance from its point: arcs round it and radials through it.

One description serves drawing and the search for extremes. Pieces are plain numbers; where they lie on the earth is
decided by the geodesics from the zone's point.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from taskdb.core.course.regions import Wedge, needed, reach_m, wedges
from taskdb.core.model import Shape, Zone


@dataclass(frozen=True, slots=True)
class Piece:
    """A run of the edge: from a bearing and a distance, turning (degrees, clockwise positive) or going out or in."""

    from_deg: float
    turn_deg: float
    from_m: float
    rise_m: float

    @property
    def is_arc(self) -> bool:
        return self.turn_deg != 0.0

    @property
    def length_m(self) -> float:
        """The run's length to within a small part: exact for a radial, as on a plane for an arc."""
        return math.radians(abs(self.turn_deg)) * self.from_m if self.is_arc else abs(self.rise_m)


@dataclass(frozen=True, slots=True)
class Edge:
    """Pieces that follow each other. `is_closed`: the last ends where the first begins; a hole runs clockwise."""

    pieces: tuple[Piece, ...]
    is_closed: bool = True
    is_hole: bool = False


def edges(zone: Zone, unbounded_m: float) -> tuple[Edge, ...]:
    """Return the whole edge of a zone: exteriors counter-clockwise as seen from above, holes clockwise.

    A line is one open edge from its left to its right end in the direction of flight. A sector without a radius is
    one open edge along its two radials, each `unbounded_m` long: it has no far side.
    """
    if zone.shape is Shape.LINE:
        half = reach_m(zone)
        across = needed(zone.axis_deg, zone, "axis") + 90.0
        return (Edge((Piece(across, 0.0, -half, 2 * half),), is_closed=False),)
    parts = wedges(zone)
    if len(parts) == 2:
        return (_keyhole(parts[0], parts[1]),)
    wedge = parts[0]
    if math.isinf(wedge.outer_m):
        inbound = Piece(wedge.from_deg, 0.0, unbounded_m, -unbounded_m)
        return (Edge((inbound, Piece(wedge.from_deg + wedge.width_deg, 0.0, 0.0, unbounded_m)), is_closed=False),)
    return _ring(wedge) if wedge.is_full else (_segment(wedge),)


def _ring(wedge: Wedge) -> tuple[Edge, ...]:
    outer = Edge((Piece(0.0, -360.0, wedge.outer_m, 0.0),))
    if wedge.inner_m <= 0:
        return (outer,)
    return (outer, Edge((Piece(0.0, 360.0, wedge.inner_m, 0.0),), is_hole=True))


def _segment(wedge: Wedge) -> Edge:
    first, last, depth = wedge.from_deg, wedge.from_deg + wedge.width_deg, wedge.outer_m - wedge.inner_m
    inner = (Piece(first, wedge.width_deg, wedge.inner_m, 0.0),) if wedge.inner_m > 0 else ()
    return Edge(
        (
            Piece(last, -wedge.width_deg, wedge.outer_m, 0.0),
            Piece(first, 0.0, wedge.outer_m, -depth),
            *inner,
            Piece(last, 0.0, wedge.inner_m, depth),
        )
    )


def _keyhole(core: Wedge, sector: Wedge) -> Edge:
    first, last, depth = sector.from_deg, sector.from_deg + sector.width_deg, sector.outer_m - core.outer_m
    return Edge(
        (
            Piece(last, -sector.width_deg, sector.outer_m, 0.0),
            Piece(first, 0.0, sector.outer_m, -depth),
            Piece(first, sector.width_deg - 360.0, core.outer_m, 0.0),
            Piece(last, 0.0, core.outer_m, depth),
        )
    )


def bulging_edges(zone: Zone) -> tuple[Edge, ...]:
    """Return the parts of a bounded zone's edge that can hold a furthest point: outward arcs and lone corners.

    A length is a sum of distances, convex along any geodesic, so its maximum lies at an extreme point of the hull:
    never on a radial or an inward arc but at their ends.
    """
    parts = wedges(zone)
    if len(parts) == 2:
        return tuple(Edge((piece,), is_closed=False) for piece in _keyhole(parts[0], parts[1]).pieces if piece.is_arc)
    wedge = parts[0]
    if wedge.is_full:
        return (_ring(wedge)[0],)
    rim = Edge((Piece(wedge.from_deg + wedge.width_deg, -wedge.width_deg, wedge.outer_m, 0.0),), is_closed=False)
    inner = (wedge.from_deg, wedge.from_deg + wedge.width_deg) if wedge.inner_m > 0 else (wedge.from_deg,)
    return (rim, *(corner(bearing, wedge.inner_m) for bearing in inner))


def corner(bearing_deg: float, away_m: float) -> Edge:
    """Return a single place, seen from the zone's point, as an edge of no length."""
    return Edge((Piece(bearing_deg, 0.0, away_m, 0.0),), is_closed=False)
