"""Whether a position lies in a zone: exact on the ellipsoid.

Distance and bearing are taken by geodesics from the zone's own point. Edges belong to the zone.
"""

from __future__ import annotations

import math

from taskdb.core.course.regions import Wedge, needed, reach_m, wedges
from taskdb.core.geodesy import inverse, turn_deg
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
