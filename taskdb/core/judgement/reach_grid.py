"""How much of many legs lies out of reach of a field: an estimate on a grid, for thousands of courses at once.

For ranking proposals. What a single task is told comes from `cover`. No terrain: a straight glide over flat ground.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from taskdb.core.geodesy import earth_vectors
from taskdb.core.judgement.best_fields import best_fields
from taskdb.core.judgement.fields import Fields
from taskdb.core.judgement.glide import Glide

Floats = NDArray[np.float64]

SPACING_M = 2000.0
_MOST_CELLS = 250_000
"""Where the country is so large that there would be more, the cells grow."""
_TILE = 10
_RADIUS_M = 6_371_000.0
_FARTHEST_COSINE = 0.7
"""45 degrees from the middle: farther out the plane on which great circles are straight stretches too much."""
_LEGS = 20_000


@dataclass(frozen=True, slots=True)
class ReachGrid:
    """The altitude (above sea, metres) from which a field is in reach, by cell of a plane round a middle.

    On the plane (gnomonic, of the directions of the vertical) geodesics are straight to within a few metres.
    """

    axes: Floats
    """East, north and up at the middle, a row each."""
    corner_m: tuple[float, float]
    spacing_m: float
    needed_m: Floats
    """(rows from the south, columns from the west); inf where no field can be flown to."""

    @staticmethod
    def of(fields: Fields, glide: Glide, latitudes_deg: Floats, longitudes_deg: Floats) -> ReachGrid:
        """Return the grid over all places (degrees) that legs may join, their turn points and home: legs in between.

        ValueError where there are none, or where they lie more than 5,000 km from their middle.
        """
        normals = earth_vectors(latitudes_deg, longitudes_deg)[1]
        axes = _axes(normals)
        x, y = _project(axes, normals)
        spacing = max(SPACING_M, np.sqrt(float(np.ptp(x) + 1) * float(np.ptp(y) + 1) / _MOST_CELLS))
        columns, rows = int(np.ptp(x) / spacing) + 1, int(np.ptp(y) / spacing) + 1
        cell_row, cell_column, groups = _tiles(rows, columns)
        places = np.stack(
            [x.min() + (cell_column + 0.5) * spacing, y.min() + (cell_row + 0.5) * spacing,
             np.full(len(cell_row), _RADIUS_M)]
        )  # fmt: skip
        up = axes.T @ places
        latitudes = np.degrees(np.arctan2(up[2], np.hypot(up[0], up[1])))
        best = best_fields(fields, glide, latitudes, np.degrees(np.arctan2(up[1], up[0])), groups, exact=False)
        needed = np.empty((rows, columns))
        needed[cell_row, cell_column] = best.needed_m
        return ReachGrid(axes, (float(x.min()), float(y.min())), float(spacing), needed)

    def out_of_reach_m(
        self,
        altitude_m: float,
        latitudes_deg: Floats,
        longitudes_deg: Floats,
        to_latitudes_deg: Floats,
        to_longitudes_deg: Floats,
        lengths_m: Floats,
    ) -> Floats:
        """Return how many metres of each leg lie where no field is in reach; an estimate, to about a cell an end.

        `altitude_m` is the working altitude above sea less the height to arrive with above a field; legs go from the
        first places to the others, both among those that the grid was made over, and are `lengths_m` long.
        """
        result = np.empty(len(lengths_m))
        ends = (latitudes_deg, longitudes_deg), (to_latitudes_deg, to_longitudes_deg)
        starts = [_project(self.axes, earth_vectors(latitude, longitude)[1]) for latitude, longitude in ends]
        is_out = self.needed_m > altitude_m
        for first in range(0, len(lengths_m), _LEGS):
            some = slice(first, first + _LEGS)
            (x, y), (to_x, to_y) = ((one[0][some], one[1][some]) for one in starts)
            result[some] = lengths_m[some] * self._shares(is_out, x, y, to_x - x, to_y - y)
        return result

    def _shares(self, is_out: NDArray[np.bool_], x: Floats, y: Floats, dx: Floats, dy: Floats) -> Floats:
        pieces = np.ceil(np.hypot(dx, dy) / self.spacing_m).astype(np.intp) + 1
        leg = np.repeat(np.arange(len(x)), pieces)
        first = np.cumsum(pieces) - pieces
        along = (np.arange(len(leg)) - first[leg] + 0.5) / pieces[leg]
        rows, columns = is_out.shape
        column = ((x[leg] + along * dx[leg] - self.corner_m[0]) / self.spacing_m).astype(np.intp)
        row = ((y[leg] + along * dy[leg] - self.corner_m[1]) / self.spacing_m).astype(np.intp)
        out = is_out[np.clip(row, 0, rows - 1), np.clip(column, 0, columns - 1)]
        shares: Floats = np.add.reduceat(out, first, dtype=np.float64) / pieces if len(x) else np.zeros(0)
        return shares


def _axes(normals: Floats) -> Floats:
    if not normals.shape[1]:
        raise ValueError("no places to make a grid over")
    up = normals.mean(axis=1)
    up = up / max(float(np.linalg.norm(up)), 1e-9)
    if float((up @ normals).min()) < _FARTHEST_COSINE:
        raise ValueError("the places lie too far apart for one grid")
    east = np.array([-up[1], up[0], 0.0]) if np.hypot(up[0], up[1]) > 1e-9 else np.array([0.0, 1.0, 0.0])
    east = east / np.linalg.norm(east)
    return np.stack([east, np.cross(up, east), up])


def _project(axes: Floats, normals: Floats) -> tuple[Floats, Floats]:
    east, north, up = axes @ normals
    return _RADIUS_M * east / up, _RADIUS_M * north / up


def _tiles(rows: int, columns: int) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """Return rows and columns of all cells, tile by tile, and the first cell of each tile."""
    row, column = (one.ravel() for one in np.indices((rows, columns)))
    tile = (row // _TILE) * (columns // _TILE + 1) + column // _TILE
    order = np.argsort(tile, kind="stable")
    return row[order], column[order], np.flatnonzero(np.diff(tile[order], prepend=-1))
