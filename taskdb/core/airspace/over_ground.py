"""The lowest and the highest ground under a volume, which decide where its heights above ground lie above the sea."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from taskdb.core.airspace.volume import Volume
from taskdb.core.model import E7

if TYPE_CHECKING:
    from taskdb.core.ground import GroundHeights

_MOST_PLACES = 4_000_000
_METRES_A_DEGREE = 111_000.0
_BETWEEN_M = 50.0
"""Ground between two heights of a fine grid may stand out of them or lie under them by so much: common practice, no
source."""


# Three rules ask for every task, and a large volume has millions of places.
@lru_cache(maxsize=1 << 12)
def ground_range_m(volume: Volume, ground: GroundHeights) -> tuple[float, float] | None:
    """Return between which heights above the sea the ground lies within the box round a volume, with 50 m to spare.

    None where the user's terrain does not know all of it, for a volume too large to be looked at in the terrain's own
    steps, for one over the antimeridian or a pole, and for the shipped grid of 9 km: it knows no summits.
    """
    import numpy as np

    if not ground.is_users:
        return None
    corners = np.array([vertex for polygon in volume.polygons for vertex in polygon[0]]) / E7
    (west, south), (east, north) = corners.min(axis=0), corners.max(axis=0)
    step = ground.spacing_m / _METRES_A_DEGREE
    wide, high = int((east - west) / step) + 2, int((north - south) / step) + 2
    if east - west > 180 or wide * high > _MOST_PLACES:
        return None
    longitudes, latitudes = np.meshgrid(np.linspace(west, east, wide), np.linspace(south, north, high))
    heights = ground.heights_m(latitudes.ravel(), longitudes.ravel())
    if np.isnan(heights).any():
        return None
    return float(heights.min()) - _BETWEEN_M, float(heights.max()) + _BETWEEN_M
