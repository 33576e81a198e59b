"""Which of many places lie within a distance of one: a grid of cubes over earth-centred positions.

In three dimensions neither a pole nor the antimeridian is a special case. Knows positions only, no waypoints. Does
without numpy; many places at once stand in `points`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterator, Sequence
from typing import TYPE_CHECKING, TypeVar

from taskdb.core.geodesy import ECCENTRICITY_2, EQUATOR_RADIUS_M, distance_m
from taskdb.core.model import Position

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_RADIUS_M = 6_371_000.0
"""Of the earth, roundly: for the little that a chord is shorter than the arc."""
_NEAR_LIMIT_M = 0.01

Xyz = tuple[float, float, float]
Metres = TypeVar("Metres", float, "NDArray[np.float64]")


def xyz(position: Position) -> Xyz:
    """Return earth-centred coordinates in metres of a position on the ellipsoid."""
    latitude = math.radians(position.latitude_deg)
    longitude = math.radians(position.longitude_deg)
    sine, cosine = math.sin(latitude), math.cos(latitude)
    n = EQUATOR_RADIUS_M / math.sqrt(1.0 - ECCENTRICITY_2 * sine * sine)
    return n * cosine * math.cos(longitude), n * cosine * math.sin(longitude), n * (1.0 - ECCENTRICITY_2) * sine


def arc_m(chord_m: Metres) -> Metres:
    """Return the geodesic for a straight line through the earth: within 1.5 mm of it up to 50 km (c + c³/24R²)."""
    return chord_m + chord_m**3 / (24.0 * _RADIUS_M**2)


def near_distance_m(a: Xyz, b: Xyz) -> float:
    """Return the distance between two places from their chord: within 1.5 mm of the geodesic below 50 km."""
    return arc_m(math.dist(a, b))


class Nearby:
    """Places under a key (for example a folded name), found by nearness; the items are the caller's numbers."""

    def __init__(self, position: Callable[[int], Position], point: Callable[[int], Xyz], limit_m: float) -> None:
        self._position = position
        self._point = point
        self._limit_m = limit_m
        self._cells: dict[tuple[Hashable, int, int, int], list[int]] = {}

    @staticmethod
    def of(positions: Sequence[Position], limit_m: float) -> Nearby:
        """Return positions in a grid without keys; the items are their numbers."""
        points = [xyz(position) for position in positions]
        grid = Nearby(positions.__getitem__, points.__getitem__, limit_m)
        for item in range(len(points)):
            grid.add(item)
        return grid

    def add(self, item: int, key: Hashable = None) -> None:
        """Put an item into the grid under a key."""
        x, y, z = self._point(item)
        size = 2.0 * self._limit_m
        cell = (key, math.floor(x / size), math.floor(y / size), math.floor(z / size))
        self._cells.setdefault(cell, []).append(item)

    def within(self, place: Position, key: Hashable = None, *, at: Xyz | None = None) -> Iterator[tuple[int, float]]:
        """Yield the items under `key` within the limit of a place, with their distance in metres; in no order.

        `at` is `xyz(place)`, of a caller that has it.
        """
        at = at or xyz(place)
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
