"""Whether a position lies in a zone, and whether a flight crosses a line: exact on the ellipsoid.

Distance and bearing are taken by geodesics from the zone's own point. Edges belong to the zone.
"""

from __future__ import annotations

import math

from taskdb.core.course.regions import Wedge, needed, reach_m, wedges
from taskdb.core.geodesy import destination, inverse, turn_deg
from taskdb.core.model import Position, Shape, Zone

ON_EDGE_M = 1e-6
"""A position this near to the edge lies on it: a thousand times the error of a geodesic, nothing to a glider."""


def contains(zone: Zone, at: Position, position: Position, *, tolerance_m: float = ON_EDGE_M) -> bool:
    """Return whether a position is in the zone whose point is at `at`, its edge included, widened by `tolerance_m`.

    A line contains only what lies on it. ValueError where a needed axis is not resolved.
    """
    line = inverse(at, position)
    if zone.shape is Shape.LINE:
        return _is_on_line(zone, line.bearing_deg, line.distance_m, tolerance_m)
    return any(_is_in(wedge, line.bearing_deg, line.distance_m, tolerance_m) for wedge in wedges(zone))


def _is_on_line(zone: Zone, bearing: float | None, away_m: float, tolerance_m: float) -> bool:
    axis = needed(zone.axis_deg, zone, "axis")
    if bearing is None:
        return True
    off_m = abs(away_m * math.cos(math.radians(turn_deg(axis, bearing))))
    return off_m <= tolerance_m and away_m <= reach_m(zone) + tolerance_m


def _is_in(wedge: Wedge, bearing: float | None, away_m: float, tolerance_m: float) -> bool:
    if not wedge.inner_m - tolerance_m <= away_m <= wedge.outer_m + tolerance_m:
        return False
    if wedge.is_full or bearing is None or away_m <= tolerance_m:
        return True
    half = wedge.width_deg / 2
    beyond = abs(turn_deg(wedge.from_deg + half, bearing)) - half
    if beyond <= 0:
        return True
    return beyond < 90 and away_m * math.sin(math.radians(beyond)) <= tolerance_m


def crosses_line(zone: Zone, at: Position, before: Position, after: Position) -> bool:
    """Return whether the geodesic from one fix to the next crosses the line in its direction of flight.

    The fix before lies behind the line, the fix after on it or beyond; the crossing is within half its length (its
    ends included) of the point. Two fixes on the line, and a flight the other way, are no crossing. ValueError for a
    zone that is no line or whose axis is not resolved.
    """
    if zone.shape is not Shape.LINE:
        raise ValueError(f"{zone.text!r} is no line")
    axis = needed(zone.axis_deg, zone, "axis")
    flight = inverse(before, after)
    if flight.bearing_deg is None or _ahead_m(axis, at, before) >= -ON_EDGE_M or _ahead_m(axis, at, after) < -ON_EDGE_M:
        return False
    bearing, behind, beyond = flight.bearing_deg, 0.0, flight.distance_m
    # Halving until the crossing is known to a nanometre. The sign is exact at every step: geodesics from the
    # line's own point do not meet again, so a bearing to the left or right of it decides the side.
    while beyond - behind > 1e-9 * max(1.0, beyond):
        middle = (behind + beyond) / 2
        if middle in (behind, beyond):
            break
        if _ahead_m(axis, at, destination(before, bearing, middle)) < 0:
            behind = middle
        else:
            beyond = middle
    crossing = destination(before, bearing, beyond)
    return inverse(at, crossing).distance_m <= reach_m(zone) + ON_EDGE_M


def _ahead_m(axis: float, at: Position, position: Position) -> float:
    """Return how far a position lies beyond the line (its sign is exact, its size about right), metres."""
    line = inverse(at, position)
    if line.bearing_deg is None:
        return 0.0
    return line.distance_m * math.cos(math.radians(turn_deg(axis, line.bearing_deg)))
