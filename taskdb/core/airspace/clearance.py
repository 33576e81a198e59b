"""How far legs keep from airspace: of thousands of legs by a raster, of a few by their geodesics.

Both ask the ground alone; whose heights matter is for the caller to choose. Beyond `CLEAR_M` nothing is measured.
"""

from __future__ import annotations

import math

import numpy as np

from taskdb.core.airspace.crossing import Leg, passages
from taskdb.core.airspace.ground import Bools, Floats, Ints, are_within, lay_out, off_lines_m
from taskdb.core.airspace.nearby import volumes_near
from taskdb.core.airspace.volume import Volume
from taskdb.core.geodesy import bearings_and_distances, densify
from taskdb.core.model import Position

CLEAR_M = 10_000.0
"""A leg that keeps as far as this from all airspace is clear of it, and how much farther is not asked."""
_STEP_M = 2_000.0
_CELL_M, _MOST_CELLS = 500.0, 1500
_TURNS = (-360.0, 0.0, 360.0)


def clearance_m(leg: Leg, volumes: tuple[Volume, ...]) -> float:
    """Return how far a leg keeps from the nearest volume, metres: 0 where it touches one, at most `CLEAR_M`.

    Within 1 %; a leg without length is a place.
    """
    places = densify(*leg, _STEP_M)
    near = set(volumes_near([(place, CLEAR_M) for place in places], volumes))
    beside = tuple(volume for number, volume in enumerate(volumes) if number in near)
    if not beside:
        return CLEAR_M
    x, y = (np.array([getattr(place, name) for place in places]) for name in ("longitude_deg", "latitude_deg"))
    if passages([leg], beside)[0] or _are_inside(y, x, beside).any():
        return 0.0
    edges = lay_out(beside).edges
    # Two lines that do not cross are nearest at an end of one of them. Longitudes run on along the leg.
    x = x[0] + np.cumsum(np.diff(x, prepend=x[:1]) - 360.0 * np.round(np.diff(x, prepend=x[:1]) / 360.0))
    pieces = np.stack([x[:-1], y[:-1], x[1:], y[1:]])
    least = CLEAR_M
    for turn in _TURNS:
        shifted = edges + np.array([[turn], [0.0], [turn], [0.0]])
        ends = off_lines_m(x[:, None], y[:, None], shifted[:, None, :])
        corners = off_lines_m(shifted[0][:, None], shifted[1][:, None], pieces[:, None, :])
        least = min(least, float(ends.min()), float(corners.min()))
    return least


class Clearances:
    """A raster round a place of how far the nearest edge of a volume is, for the legs of many courses.

    Within 800 m of what `clearance_m` says, 2 km where the places reach over more than 750 km.
    """

    def __init__(
        self, volumes: tuple[Volume, ...], centre: Position, latitudes_deg: Floats, longitudes_deg: Floats
    ) -> None:
        """Lay the raster over all places that legs may join; legs are named by these places' numbers."""
        self._x, self._y = _flat(centre, latitudes_deg, longitudes_deg)
        low = np.array([self._y.min(), self._x.min()]) - CLEAR_M
        high = np.array([self._y.max(), self._x.max()]) + CLEAR_M
        self._cell_m = max(_CELL_M, float((high - low).max()) / _MOST_CELLS)
        self._low = low
        rows, columns = (np.ceil((high - low) / self._cell_m).astype(int) + 1).tolist()
        marked = np.zeros((rows, columns), dtype=np.bool_)
        y, x = _edge_places(volumes, self._cell_m / 2)
        east, north = _flat(centre, y, x)
        row, column = self._cells(north, east)
        seen = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
        marked[row[seen], column[seen]] = True
        self._off_m = _off_marked_m(marked, self._cell_m)
        self._inside = _are_inside(latitudes_deg, longitudes_deg, volumes)

    def _cells(self, north_m: Floats, east_m: Floats) -> tuple[Ints, Ints]:
        row = np.rint((north_m - self._low[0]) / self._cell_m).astype(np.intp)
        return row, np.rint((east_m - self._low[1]) / self._cell_m).astype(np.intp)

    def of_legs_m(self, begin: Ints, end: Ints) -> Floats:
        """Return how far legs between places keep from the nearest volume, metres: 0 inside one, at most `CLEAR_M`."""
        dx, dy = self._x[end] - self._x[begin], self._y[end] - self._y[begin]
        steps = max(1, math.ceil(float(np.hypot(dx, dy).max(initial=0.0)) / self._cell_m))
        least = np.full(len(begin), CLEAR_M)
        for step in range(steps + 1):
            share = step / steps
            cells = self._cells(self._y[begin] + share * dy, self._x[begin] + share * dx)
            np.minimum(least, self._off_m[cells], out=least)
        return np.where(self._inside[begin] | self._inside[end], 0.0, least)


def _flat(centre: Position, latitudes_deg: Floats, longitudes_deg: Floats) -> tuple[Floats, Floats]:
    """Return metres to the east and to the north: true in direction and distance from the centre."""
    course, distance = bearings_and_distances(centre, latitudes_deg, longitudes_deg)
    return distance * np.sin(np.radians(course)), distance * np.cos(np.radians(course))


def _edge_places(volumes: tuple[Volume, ...], step_m: float) -> tuple[Floats, Floats]:
    """Return latitudes and longitudes along all edges, no further apart than a step."""
    x1, y1, x2, y2 = lay_out(volumes).edges
    squeeze = np.cos(np.radians(np.minimum(np.abs(y1), np.abs(y2))))
    length_m = np.hypot((x2 - x1) * squeeze, y2 - y1) * 111_700.0
    counts = np.ceil(length_m / step_m).astype(np.intp) + 1
    edge = np.repeat(np.arange(len(counts)), counts)
    share = (np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts)) / counts[edge]
    return y1[edge] + share * (y2 - y1)[edge], x1[edge] + share * (x2 - x1)[edge]


def _off_marked_m(marked: Bools, cell_m: float) -> Floats:
    """Return how far each cell is from the nearest marked one, at most `CLEAR_M`: along columns first, then rows."""
    reach = math.ceil(CLEAR_M / cell_m)
    far = float(2 * (reach + 1) ** 2)
    squares = np.where(marked, 0.0, far).astype(np.float32)
    for axis in (0, 1):
        before, squares = squares, squares.copy()
        for step in range(1, reach + 1):
            here, there = [slice(None)] * 2, [slice(None)] * 2
            here[axis], there[axis] = slice(step, None), slice(None, -step)
            for a, b in ((here, there), (there, here)):
                np.minimum(squares[tuple(a)], before[tuple(b)] + step * step, out=squares[tuple(a)])
    off: Floats = np.minimum(np.sqrt(squares.astype(np.float64)) * cell_m, CLEAR_M)
    return off


def _are_inside(latitudes_deg: Floats, longitudes_deg: Floats, volumes: tuple[Volume, ...]) -> Bools:
    """Return which places lie in any volume, edges included."""
    ground = lay_out(volumes)
    inside = np.zeros(len(latitudes_deg), dtype=np.bool_)
    for turn in _TURNS:
        x = longitudes_deg + turn
        west, south, east, north = ground.boxes.T
        place, polygon = np.nonzero(
            (x[:, None] >= west) & (x[:, None] <= east)
            & (latitudes_deg[:, None] >= south) & (latitudes_deg[:, None] <= north)
        )  # fmt: skip
        inside[place[are_within(ground, polygon, x[place], latitudes_deg[place])]] = True
    return inside
