"""What a coarse elevation grid says about a place: its cell, and how much the ground varies around it.

The grid is handed in as a plain array. It is 5 arc-minutes coarse: summits stand above it, valley floors below.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from taskdb.core.model import Position
from taskdb.values import dataclass

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


def ground_at(grid: ElevationGrid, positions: Sequence[Position]) -> list[Ground | None]:
    """Return the ground around each position, None where the grid has no data."""
    import numpy as np

    if not positions:
        return []
    rows, columns = grid.values.shape
    latitude = np.array([place.latitude_deg for place in positions])
    longitude = np.array([place.longitude_deg for place in positions])
    row = np.clip(np.floor((90.0 - latitude) * rows / 180.0).astype(np.int64), 0, rows - 1)
    column = np.floor((longitude + 180.0) * columns / 360.0).astype(np.int64) % columns
    around = np.stack(
        [
            grid.values[np.clip(row + down, 0, rows - 1), (column + right) % columns]
            for down in (-1, 0, 1)
            for right in (-1, 0, 1)
        ]
    ).astype(np.float64)
    is_missing = around == grid.missing
    metres = around * grid.step_m + grid.lowest_m
    lowest = np.where(is_missing, np.inf, metres).min(axis=0)
    highest = np.where(is_missing, -np.inf, metres).max(axis=0)
    sea_cells = is_missing.sum(axis=0)
    return [
        None
        if is_missing[4, k]
        else Ground(float(metres[4, k]), float(lowest[k]), float(highest[k]), int(sea_cells[k]))
        for k in range(len(positions))
    ]


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
