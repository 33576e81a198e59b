"""How large a volume's ground is and where its middle lies, for saying what moved and what grew.

Edges are straight in longitude and latitude, and the area is that on WGS84. Polygons of one volume that overlap, as
only mended ones do, count their common ground twice.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise

from taskdb.core.airspace.volume import Polygon, Ring, Volume
from taskdb.core.geodesy import EQUATOR_RADIUS_M, FLATTENING, wrap_longitude
from taskdb.core.model import E7, Position

_E2 = FLATTENING * (2 - FLATTENING)
_E = math.sqrt(_E2)


def area_km2(volume: Volume) -> float:
    """Return the area on WGS84 that the volume stands over, km²."""
    return math.fsum(_ring_area_m2(ring) for polygon in volume.polygons for ring in polygon) / 1e6


def _ring_area_m2(ring: Ring) -> float:
    """Return the area within a ring, counter-clockwise positive.

    The area between a parallel and the equator is q(φ)·b²/2 a radian (J. P. Snyder, Map Projections: A Working
    Manual, USGS Professional Paper 1395, equation 3-12); along an edge q is integrated by Simpson's rule.
    """
    strips = []
    for (x1, y1), (x2, y2) in pairwise(ring):
        if x1 == x2:
            continue
        steps = max(1, math.ceil(abs(y2 - y1) / (2 * E7)))
        total = 0.0
        for n in range(steps):
            a, b = y1 + (y2 - y1) * n / steps, y1 + (y2 - y1) * (n + 1) / steps
            total += (_q(a) + 4 * _q((a + b) / 2) + _q(b)) / 6 / steps
        strips.append(-math.radians((x2 - x1) / E7) * total)
    return math.fsum(strips) * EQUATOR_RADIUS_M**2 / 2


def _q(latitude_e7: float) -> float:
    sine = math.sin(math.radians(latitude_e7 / E7))
    bent = _E * sine
    return (1 - _E2) * (sine / (1 - bent * bent) + math.atanh(bent) / _E)


def middle_of(volume: Volume) -> Position:
    """Return the middle of the volume's ground: of its polygons' planes, weighted by their areas."""
    parts = [(_ring_area_m2(ring), _plane_middle(ring)) for ring in rings_of(volume.polygons)]
    x = y = z = 0.0
    for area, (longitude, latitude) in parts:
        flat = math.cos(math.radians(latitude)) * area
        x += flat * math.cos(math.radians(longitude))
        y += flat * math.sin(math.radians(longitude))
        z += math.sin(math.radians(latitude)) * area
    return Position.at(math.degrees(math.atan2(z, math.hypot(x, y))), wrap_longitude(math.degrees(math.atan2(y, x))))


def rings_of(polygons: Iterable[Polygon]) -> tuple[Ring, ...]:
    """Return all rings of polygons."""
    return tuple(ring for polygon in polygons for ring in polygon)


def _plane_middle(ring: Ring) -> tuple[float, float]:
    """Return the middle of what a ring encloses in the plane of longitude and latitude, degrees."""
    base_x, base_y = ring[0]
    sum_x = sum_y = area = 0
    for (x1, y1), (x2, y2) in pairwise((x - base_x, y - base_y) for x, y in ring):
        cross = x1 * y2 - x2 * y1
        area += cross
        sum_x += (x1 + x2) * cross
        sum_y += (y1 + y2) * cross
    return (base_x + sum_x / (3 * area)) / E7, (base_y + sum_y / (3 * area)) / E7
