"""What a zone is on the ground: a union of wedges in bearing and distance from its point, all on WGS84.

Every other module of the course asks here for a zone's geometry, so that containing, drawing, measuring and the
extremes cannot differ about it. A line is no wedge and is handled where it matters.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from taskdb.core.geodesy import destination, wrap_bearing
from taskdb.core.model import Position, Shape, TaskPoint, Zone

FULL_DEG = 360.0


@dataclass(frozen=True, slots=True)
class Wedge:
    """All positions between two distances from the point, on bearings from `from_deg` clockwise through `width_deg`.

    `outer_m` is infinite for a sector without a radius; `width_deg` is 360 for a full circle. Edges belong to it.
    """

    inner_m: float
    outer_m: float
    from_deg: float
    width_deg: float

    @property
    def is_full(self) -> bool:
        return self.width_deg >= FULL_DEG


def needed(value: float | None, zone: Zone, what: str) -> float:
    """Return a number that the zone's shape cannot do without; ValueError where the caller left it out."""
    if value is None:
        raise ValueError(f"the zone {zone.text!r} has no {what}: resolve its axis and build it from its text")
    return value


def _opening(zone: Zone, outer_m: float) -> Wedge:
    opening = needed(zone.opening_deg, zone, "opening")
    axis = needed(zone.axis_deg, zone, "axis")
    return Wedge(0.0, outer_m, wrap_bearing(axis - opening / 2), min(opening, FULL_DEG))


def _area(zone: Zone) -> Wedge:
    inner, outer = zone.inner_radius_m or 0.0, needed(zone.radius_m, zone, "radius")
    if zone.from_radial_deg is None or zone.to_radial_deg is None:
        return Wedge(inner, outer, 0.0, FULL_DEG)
    # From one radial to itself is the full circle (000 to 360), never nothing.
    width = wrap_bearing(zone.to_radial_deg - zone.from_radial_deg) or FULL_DEG
    return Wedge(inner, outer, wrap_bearing(zone.from_radial_deg), width)


def wedges(zone: Zone) -> tuple[Wedge, ...]:
    """Return the wedges whose union is the zone; none for a line.

    A keyhole gives its disc first, then its sector; where the disc reaches as far as the sector it is all there is.
    ValueError for a sector or keyhole whose axis is not resolved.
    """
    if zone.shape is Shape.LINE:
        return ()
    if zone.shape is Shape.CYLINDER:
        return (Wedge(0.0, needed(zone.radius_m, zone, "radius"), 0.0, FULL_DEG),)
    if zone.shape is Shape.AREA:
        return (_area(zone),)
    if zone.shape is Shape.SECTOR:
        return (_opening(zone, math.inf if zone.radius_m is None else zone.radius_m),)
    core = Wedge(0.0, needed(zone.core_radius_m, zone, "core radius"), 0.0, FULL_DEG)
    sector = _opening(zone, needed(zone.radius_m, zone, "radius"))
    return (core,) if core.outer_m >= sector.outer_m else (core, sector)


def reach_m(zone: Zone) -> float:
    """Return the distance from its point beyond which nothing belongs to the zone; infinite where there is none."""
    if zone.shape is Shape.LINE:
        return needed(zone.length_m, zone, "length") / 2
    if zone.shape is Shape.KEYHOLE:
        return max(needed(zone.radius_m, zone, "radius"), needed(zone.core_radius_m, zone, "core radius"))
    return math.inf if zone.radius_m is None else zone.radius_m


def counts_off_its_point(zone: Zone) -> bool:
    """Return whether legs go through the middle of the zone: a ring segment that does not hold its point.

    A full ring counts at its centre, and a segment that begins at its point holds it.
    """
    return zone.shape is Shape.AREA and not (wedge := _area(zone)).is_full and wedge.inner_m > 0


def counted_position(point: TaskPoint) -> Position:
    """Return where legs meet at a task point: its place, or the middle (mid radius, mid radial) of a ring segment."""
    if not counts_off_its_point(point.zone):
        return point.place.position
    wedge = _area(point.zone)
    middle = wedge.from_deg + wedge.width_deg / 2
    return destination(point.place.position, middle, (wedge.inner_m + wedge.outer_m) / 2)
