"""Which of many places lie within a distance of one: a grid of cubes over earth-centred positions.

In three dimensions neither a pole nor the antimeridian is a special case. Knows positions only, no waypoints.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterator

from taskdb.core.geodesy import distance_m
from taskdb.core.model import Position

# WGS84 (NGA.STND.0036): semi-major axis, and the first eccentricity squared of f = 1/298.257223563.
_A_M = 6_378_137.0
_E2 = 6.694379990141316e-3
_MEAN_RADIUS_M = 6_371_008.8
_NEAR_LIMIT_M = 0.01

Xyz = tuple[float, float, float]


def xyz(position: Position) -> Xyz:
    """Return earth-centred coordinates in metres of a position on the ellipsoid."""
    latitude = math.radians(position.latitude_deg)
    longitude = math.radians(position.longitude_deg)
    sine, cosine = math.sin(latitude), math.cos(latitude)
    n = _A_M / math.sqrt(1.0 - _E2 * sine * sine)
    return n * cosine * math.cos(longitude), n * cosine * math.sin(longitude), n * (1.0 - _E2) * sine


def near_distance_m(a: Xyz, b: Xyz) -> float:
    """Return the distance between two places from their chord: within 1.5 mm of the geodesic below 50 km."""
    chord = math.dist(a, b)
    return chord + chord**3 / (24.0 * _MEAN_RADIUS_M**2)


class Nearby:
    """Places under a key (for example a folded name), found by nearness; the items are the caller's numbers."""

    def __init__(self, position: Callable[[int], Position], point: Callable[[int], Xyz], limit_m: float) -> None:
        self._position = position
        self._point = point
        self._limit_m = limit_m
        self._cells: dict[tuple[Hashable, int, int, int], list[int]] = {}

    def add(self, item: int, key: Hashable) -> None:
        """Put an item into the grid under a key."""
        x, y, z = self._point(item)
        size = 2.0 * self._limit_m
        cell = (key, math.floor(x / size), math.floor(y / size), math.floor(z / size))
        self._cells.setdefault(cell, []).append(item)

    def within(self, place: Position, at: Xyz, key: Hashable) -> Iterator[tuple[int, float]]:
        """Yield the items under `key` within the limit of a place, with their distance in metres; in no order."""
        limit = self._limit_m
        cells = self._cells
        # A cube is twice as wide as the limit, so what is near lies in it or beyond the nearer of its two sides.
        (x, x2), (y, y2), (z, z2) = (_this_and_nearer(value / (2.0 * limit)) for value in at)
        for i in (x, x2):
            for j in (y, y2):
                for k in (z, z2):
                    for item in cells.get((key, i, j, k), ()):
                        off = near_distance_m(at, self._point(item))
                        if abs(off - limit) < _NEAR_LIMIT_M:
                            off = distance_m(place, self._position(item))
                        if off <= limit:
                            yield item, off


def _this_and_nearer(value: float) -> tuple[int, int]:
    whole = math.floor(value)
    return whole, whole + 1 if value - whole >= 0.5 else whole - 1
