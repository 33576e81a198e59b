"""How a stated elevation fits fine terrain at a position, within what the position may be off by what stands there.

Computes bands and likelihoods; whether a point is told is for the rule `off-terrain`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.checks.ground_bands import Standing, standing
from taskdb.core.ground import GroundHeights
from taskdb.core.model import Position, Waypoint

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

WITHIN_M: Mapping[Standing, float] = {
    Standing.FIELD: 200.0,
    Standing.TOWN: 300.0,
    Standing.SUMMIT: 150.0,
    Standing.UNKNOWN: 250.0,
}
"""How far from its position what is meant may lie: the end of a runway, the church of a town, the top of a hill.
Common practice, no source."""
BELOW_M = ABOVE_M = 35.0
"""What models, roundings and trees are good for, beyond the lowest and the highest ground within that distance. SRTM's
own goal was 16 m, nine tenths of heights within it (SRTM documentation)."""
OF_RELIEF = 0.15
"""How much more for each metre that the ground within that distance differs: a model is the worse the steeper it is."""
ABOVE_SUMMITS_M, ABOVE_SUMMITS_OF_RELIEF = 70.0, 0.5
"""The same above what may be a summit: a raster cuts tops off."""
COARSE_M = 200.0
"""Files whose heights lie further apart than this know no summit and no valley floor: the rule wants finer ones."""
_RINGS = ((0.5, 6), (1.0, 12))
_AT_ONCE = 5_000
"""So many places are asked together: 19 heights each, some megabytes."""
_METRES_A_DEGREE = 111_195.0
_MISSTATED = 0.02
_HEIGHT_RANGE_M = 3_000.0


@dataclass(frozen=True, slots=True)
class TerrainFit:
    """The ground within `within_m` of a position, metres above sea, and how far the elevation may lie beyond."""

    height_m: float
    lowest_m: float
    highest_m: float
    below_m: float
    above_m: float
    within_m: float

    def beyond_m(self, elevation_m: float) -> float:
        """Return how far an elevation lies beyond what the ground allows, 0 within."""
        low = self.lowest_m - self.below_m - elevation_m
        return max(low, elevation_m - self.highest_m - self.above_m, 0.0)

    def misfit(self, elevation_m: float) -> float:
        """Return how badly an elevation fits, as a negative log-likelihood: it falls off exponentially beyond the
        lowest and highest ground, and 2 % of elevations are taken to be simply wrong."""
        scale = (self.below_m + self.above_m) / 4.0
        off = max(self.lowest_m - elevation_m, elevation_m - self.highest_m, 0.0)
        likelihood = math.exp(-off / scale) / (2.0 * scale + self.highest_m - self.lowest_m)
        return -math.log((1.0 - _MISSTATED) * likelihood + _MISSTATED / _HEIGHT_RANGE_M)


UNKNOWN_GROUND_MISFIT = -math.log(1.0 / _HEIGHT_RANGE_M)
"""A place of which the terrain says nothing fits as badly as any height does."""


def terrain_fits(
    terrain: GroundHeights, points: Sequence[Waypoint], positions: Sequence[Position] | None = None
) -> list[TerrainFit | None]:
    """Return how the ground lies around each position for what stands at the point; None where heights lack.

    `points` and `positions` go together: a position is where the point may have stood; None: where they stand.
    """
    found: list[TerrainFit | None] = []
    for begin in range(0, len(points), _AT_ONCE):
        some = points[begin : begin + _AT_ONCE]
        stood = [point.position for point in some] if positions is None else positions[begin : begin + _AT_ONCE]
        found += _fits(terrain, some, stood)
    return found


def _fits(terrain: GroundHeights, points: Sequence[Waypoint], positions: Sequence[Position]) -> list[TerrainFit | None]:
    import numpy as np

    stands = [standing(point) for point in points]
    within_m = np.array([WITHIN_M[one] for one in stands])
    heights = _around(terrain, positions, within_m)
    lowest, highest = heights.min(axis=1), heights.max(axis=1)
    relief = highest - lowest
    may_be_top = np.array([one in (Standing.SUMMIT, Standing.UNKNOWN) for one in stands])
    below = BELOW_M + OF_RELIEF * relief
    above = np.where(may_be_top, ABOVE_SUMMITS_M + ABOVE_SUMMITS_OF_RELIEF * relief, ABOVE_M + OF_RELIEF * relief)
    return [
        None
        if np.isnan(relief[k])
        else TerrainFit(
            float(heights[k, 0]), float(lowest[k]), float(highest[k]), float(below[k]), float(above[k]),
            float(within_m[k]),
        )
        for k in range(len(points))
    ]  # fmt: skip


def _around(
    terrain: GroundHeights, positions: Sequence[Position], within_m: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the heights at each position (first) and on rings about it; NaN in a row where any lacks."""
    import numpy as np

    north, east = [0.0], [0.0]
    for radius, count in _RINGS:
        turns = [2.0 * math.pi * k / count for k in range(count)]
        north += [radius * math.cos(turn) for turn in turns]
        east += [radius * math.sin(turn) for turn in turns]
    latitude = np.array([place.latitude_deg for place in positions])
    longitude = np.array([place.longitude_deg for place in positions])
    reach = within_m / _METRES_A_DEGREE
    narrow = np.maximum(np.cos(np.radians(latitude)), 1e-6)
    latitudes = np.clip(latitude[:, None] + reach[:, None] * np.array(north), -90.0, 90.0)
    longitudes = longitude[:, None] + (reach / narrow)[:, None] * np.array(east)
    longitudes = (longitudes + 180.0) % 360.0 - 180.0
    return terrain.heights_m(latitudes.ravel(), longitudes.ravel()).reshape(latitudes.shape)
