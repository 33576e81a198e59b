"""Where a grid of kilometres is too coarse to judge a glide by: its own relief along the way down.

The grid knows no summit and no valley, so it withholds figures and gives none.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from taskdb.core.geodesy import earth_vectors
from taskdb.core.ground import GroundHeights

Floats = NDArray[np.float64]

RELIEF_M = 300.0
"""Where the cells around differ by more, a straight glide may meet ground that the grid does not show."""
_METRES_A_DEGREE = 111_195.0


def relief_on_the_way_m(
    grid: GroundHeights,
    latitudes_deg: Floats,
    longitudes_deg: Floats,
    to_latitudes_deg: Floats,
    to_longitudes_deg: Floats,
    distances_m: Floats,
) -> Floats:
    """Return the greatest relief on each way: highest less lowest of the 3 × 3 cells around any point of it, metres.

    Open sea, of which the grid knows nothing, counts as 0 m.
    """
    if not len(distances_m):
        return np.zeros(0)
    pieces = np.ceil(distances_m / (grid.spacing_m / 2)).astype(np.intp) + 1
    first = np.cumsum(pieces) - pieces
    owner = np.repeat(np.arange(len(pieces)), pieces)
    along = (np.arange(len(owner)) - first[owner]) / np.maximum(pieces[owner] - 1, 1)
    here = earth_vectors(latitudes_deg, longitudes_deg)[1][:, owner]
    there = earth_vectors(to_latitudes_deg, to_longitudes_deg)[1][:, owner]
    up = here * (1 - along) + there * along
    latitude = np.degrees(np.arctan2(up[2], np.hypot(up[0], up[1])))
    relief = _relief_around_m(grid, latitude, np.degrees(np.arctan2(up[1], up[0])))
    greatest: Floats = np.maximum.reduceat(relief, first)
    return greatest


def _relief_around_m(grid: GroundHeights, latitude_deg: Floats, longitude_deg: Floats) -> Floats:
    step = grid.spacing_m / _METRES_A_DEGREE
    lowest, highest = np.full(len(latitude_deg), np.inf), np.full(len(latitude_deg), -np.inf)
    for down in (-step, 0.0, step):
        latitude = np.clip(latitude_deg + down, -90.0, 90.0)
        for beside in (-step, 0.0, step):
            heights = np.nan_to_num(grid.heights_m(latitude, longitude_deg + beside), nan=0.0)
            lowest, highest = np.minimum(lowest, heights), np.maximum(highest, heights)
    relief: Floats = highest - lowest
    return relief
