"""The shipped grid of 5 arc-minutes as ground: the height of the cell in which a place lies, as the checks read it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from taskdb.core.checks.elevations import ElevationGrid
from taskdb.core.ground import GroundHeights

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def shipped_ground(grid: ElevationGrid) -> GroundHeights:
    """Return the grid as the core's ground. Cells are 9 km high and hold no summit and no valley; none at open sea."""
    rows, columns = grid.values.shape

    def heights_m(latitude_deg: NDArray[np.float64], longitude_deg: NDArray[np.float64]) -> NDArray[np.float64]:
        import numpy as np

        row = np.clip(np.floor((90.0 - latitude_deg) * rows / 180.0).astype(np.int64), 0, rows - 1)
        column = np.floor((longitude_deg + 180.0) * columns / 360.0).astype(np.int64) % columns
        values = grid.values[row, column]
        return np.where(values == grid.missing, np.nan, values * grid.step_m + grid.lowest_m)

    return GroundHeights("the shipped grid", 180.0 / rows * 111_195.0, False, heights_m)
