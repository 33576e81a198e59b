"""What a coarse elevation grid says about a place: its cell, and how much the ground varies around it.

The grid is handed in as a plain array. It is 5 arc-minutes coarse: summits stand above it, valley floors below.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.asked_for import AskedFor
from taskdb.core.model import Position

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class ElevationGrid:
    """Cells of equal size in degrees; row 0 lies at 90° N, column 0 at 180° W; metres = value × step_m + lowest_m."""

    values: NDArray[np.uint8]
    step_m: float
    lowest_m: float
    missing: int


_ISLAND_SEA = 0.4


@dataclass(frozen=True, slots=True)
class Ground:
    """The ground around one place: its cell, the lowest and highest of the 3 × 3 cells around; metres above sea.

    `sea_cells` of the nine have no data, as open sea has none.
    """

    cell_m: float
    lowest_m: float
    highest_m: float
    sea_cells: int = 0

    @property
    def relief_m(self) -> float:
        return self.highest_m - self.lowest_m

    @property
    def is_shore(self) -> bool:
        """Say whether one of the nine is open sea, or lies at the sea or below it."""
        return self.sea_cells > 0 or self.lowest_m <= 0.0


class Grounds(AskedFor["Ground | None"]):
    """The ground around many places, None where the grid has no data: cells as the grid keeps them."""

    def __init__(self, grid: ElevationGrid, latitude_deg: NDArray[np.float64], longitude_deg: NDArray[np.float64]):
        import numpy as np

        rows, columns = grid.values.shape
        row = np.clip(np.floor((90.0 - latitude_deg) * rows / 180.0).astype(np.int64), 0, rows - 1)
        column = np.floor((longitude_deg + 180.0) * columns / 360.0).astype(np.int64) % columns
        self._grid = grid
        self._cell = grid.values[row, column]
        self._lowest, self._highest = np.full_like(self._cell, 255), np.zeros_like(self._cell)
        self._sea_cells = np.zeros_like(self._cell)
        for down in (-1, 0, 1):
            for right in (-1, 0, 1):
                cell = grid.values[np.clip(row + down, 0, rows - 1), (column + right) % columns]
                is_missing = cell == grid.missing
                self._lowest = np.minimum(self._lowest, np.where(is_missing, 255, cell))
                self._highest = np.maximum(self._highest, np.where(is_missing, 0, cell))
                self._sea_cells += is_missing

    @property
    def is_known(self) -> NDArray[np.bool_]:
        """Where the grid has data."""
        is_known: NDArray[np.bool_] = self._cell != self._grid.missing
        return is_known

    @property
    def extremes_m(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The lowest and the highest ground around; without meaning where nothing is known."""
        return self._metres(self._lowest), self._metres(self._highest)

    def _metres(self, cells: NDArray[np.uint8]) -> NDArray[np.float64]:
        return cells.astype("f8") * self._grid.step_m + self._grid.lowest_m

    def __len__(self) -> int:
        return len(self._cell)

    def _item(self, index: int) -> Ground | None:
        if self._cell[index] == self._grid.missing:
            return None
        step_m, lowest_m = self._grid.step_m, self._grid.lowest_m
        cell, low, high = (int(some[index]) * step_m + lowest_m for some in (self._cell, self._lowest, self._highest))
        return Ground(cell, low, high, int(self._sea_cells[index]))


def ground_at(grid: ElevationGrid, positions: Sequence[Position]) -> Grounds:
    """Return the ground around each position, None where the grid has no data."""
    import numpy as np

    degrees = np.array([(place.latitude_deg, place.longitude_deg) for place in positions]).reshape(-1, 2)
    return Grounds(grid, degrees[:, 0], degrees[:, 1])


def is_on_island(grid: ElevationGrid, position: Position) -> bool:
    """Say whether a position is on land or a shore with much open sea around: on an island or a cape.

    Of the 9 × 9 cells (40 km around) four in ten have no data, of the 3 × 3 not all. So stand 24 of 35 airfields that
    are far from all others (airportsdata, in countries of 40 and more), and 6 % of all.
    """
    import numpy as np

    rows, columns = grid.values.shape
    row = min(max(math.floor((90.0 - position.latitude_deg) * rows / 180.0), 0), rows - 1)
    column = math.floor((position.longitude_deg + 180.0) * columns / 360.0)
    down, right = np.clip(np.arange(row - 4, row + 5), 0, rows - 1), np.arange(column - 4, column + 5) % columns
    is_sea = grid.values[down][:, right] == grid.missing
    return float(is_sea.mean()) >= _ISLAND_SEA and not bool(is_sea[3:6, 3:6].all())
