"""Which elevations the ground around a point allows, by what the point is: a field, a town, or perhaps a summit.

The nine cells of a coarse grid are no ceiling for a summit. Computes how far a statement lies beyond; decides nothing.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from enum import StrEnum
from typing import TYPE_CHECKING

from taskdb.core.checks.elevations import Ground, Grounds
from taskdb.core.model import Feature, Landable, Waypoint
from taskdb.core.packed_waypoints import PackedWaypoints
from taskdb.core.quantities import FOOT_M

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

RELIEF_M = (60.0, 150.0, 300.0, 600.0, 1200.0)
"""The bands change at these differences between the highest and the lowest of the 3 × 3 cells."""
BELOW_M = (120.0, 190.0, 450.0, 650.0, 850.0, 900.0)
ABOVE_FIELDS_M = (170.0, 200.0, 210.0, 210.0, 210.0, 210.0)
"""How far below the lowest and above the highest of the 3 × 3 cells around a stated elevation may lie, by relief.

Measured on 25,000 airfields (airportsdata against the 5 arc-minute grid, mix-ups of feet and metres apart): beyond
these bands lie about 1.5 of a thousand good ones, beyond 1.25 times the bands 1.
"""
ABOVE_TOWNS_M = (170.0, 240.0, 360.0, 380.0, 460.0, 460.0)
"""Hill towns. Measured on 25,669 settlements with elevations (of GeoNames, in Stellarium 0.22): 2 lie above."""
ABOVE_SUMMITS_M = (350.0, 750.0, 1100.0, 2100.0, 2100.0, 2150.0)
ABOVE_SUMMITS_ON_SHORES_M = (1650.0, 1800.0, 1800.0, 2100.0, 2100.0, 2150.0)
"""Summits. Measured on 1,138 volcanoes (Smithsonian, Volcanoes of the World) and the 101 highest points of New Zealand
(LINZ): above the highest cell they stand 690 m at the median, 1,330 m at 90 %, 1,830 m at 99 %; 1 lies above the band.
An island that is one steep mountain shows in the grid as a flat cell or two.
"""
_FLAT_M = 150.0
_COAST_M = -30.0
_UNIT_FITS_M = 60.0


class Standing(StrEnum):
    """What stands at a point, as far as its elevation goes."""

    FIELD = "landable"
    TOWN = "town-or-way"
    SUMMIT = "summit"
    UNKNOWN = "unknown"


_FIELDS = frozenset((Landable.AERODROME, Landable.FIELD, Landable.EMERGENCY))
_LOW = frozenset((Feature.SETTLEMENT, Feature.CROSSING, Feature.WATER, Feature.TRANSPORT))
_HIGH = frozenset((Feature.RELIEF, Feature.STRUCTURE))


def standing(point: Waypoint) -> Standing:
    """Return what the point is: where nothing says so it is not known, and may be a summit."""
    if point.landable in _FIELDS or point.runways:
        return Standing.FIELD
    if point.feature in _LOW:
        return Standing.TOWN
    return Standing.SUMMIT if point.feature in _HIGH else Standing.UNKNOWN


def are_summits(points: PackedWaypoints) -> NDArray[np.bool_]:
    """Return of which points `standing` gives a summit."""
    landable, feature, runways = (points.column(name) for name in ("landable", "feature", "runways"))
    is_field = landable.where(one in _FIELDS for one in landable.values) | runways.where(map(bool, runways.values))
    return feature.where(one in _HIGH for one in feature.values) & ~is_field


def beyond_band_m(point: Waypoint, ground: Ground, widened: float = 1.0) -> float:
    """Return how far the stated elevation lies beyond what the ground allows there, 0 within; 0 for zero and unknown.

    `widened` is a factor on the band. Where the point may be a summit the band above is that of summits.
    """
    if not point.elevation_m:
        return 0.0
    lowest, highest, step = _around(point, ground)
    low = lowest - widened * BELOW_M[step] - point.elevation_m
    high = point.elevation_m - highest - widened * _above_m(standing(point), ground)[step]
    return max(low, high, 0.0)


def are_off_fields(elevation_m: NDArray[np.float64], grounds: Grounds) -> NDArray[np.bool_]:
    """Return which elevations lie beyond what the ground allows to fields: those of all others are within too.

    A sieve over many points at once, 0 being no evidence; the other bands reach higher.
    """
    import numpy as np

    floor_m = np.where(elevation_m > 0.0, _COAST_M, -np.inf)
    lowest, highest = (np.maximum(extreme, floor_m) for extreme in grounds.extremes_m)
    step = np.searchsorted(RELIEF_M, highest - lowest)
    is_low = lowest - np.array(BELOW_M)[step] - elevation_m > 0.0
    is_high = elevation_m - highest - np.array(ABOVE_FIELDS_M)[step] > 0.0
    is_off: NDArray[np.bool_] = (is_low | is_high) & (elevation_m != 0.0) & grounds.is_known
    return is_off


def may_be_hill(point: Waypoint, ground: Ground) -> bool:
    """Say whether in flat land inland an elevation fits only if an unnamed hill stands there: worth a note."""
    if not point.elevation_m or standing(point) is not Standing.UNKNOWN or ground.is_shore:
        return False
    lowest, highest, step = _around(point, ground)
    is_above = point.elevation_m - highest > ABOVE_FIELDS_M[step]
    return is_above and highest - lowest < _FLAT_M and beyond_band_m(point, ground) == 0.0


def is_flat(ground: Ground) -> bool:
    """Say whether the ground is flat enough for a hill to stand out."""
    return ground.relief_m < RELIEF_M[0]


def other_unit_m(point: Waypoint, ground: Ground) -> float | None:
    """Return the elevation read in the other unit where that fits the ground and the stated one does not fit at all."""
    if beyond_band_m(point, ground) == 0.0:
        return None
    return fitting_unit_m(point, ground)


def fitting_unit_m(point: Waypoint, ground: Ground) -> float | None:
    """Return the elevation read in the other unit where that fits the ground, whether or not the stated one does."""
    if not point.elevation_m:
        return None
    for metres in (point.elevation_m * FOOT_M, point.elevation_m / FOOT_M):
        if ground.lowest_m - _UNIT_FITS_M <= metres <= ground.highest_m + _UNIT_FITS_M:
            return round(metres, 1)
    return None


def _around(point: Waypoint, ground: Ground) -> tuple[float, float, int]:
    """Return the lowest and the highest ground around, and the step of the bands."""
    # Over water the grid gives the sea bed; only where the stated elevation is below the sea is that meant.
    floor_m = _COAST_M if (point.elevation_m or 0.0) > 0.0 else -math.inf
    lowest, highest = max(ground.lowest_m, floor_m), max(ground.highest_m, floor_m)
    return lowest, highest, bisect_left(RELIEF_M, highest - lowest)


def _above_m(standing_: Standing, ground: Ground) -> tuple[float, ...]:
    if standing_ is Standing.FIELD:
        return ABOVE_FIELDS_M
    if standing_ is Standing.TOWN:
        return ABOVE_TOWNS_M
    return ABOVE_SUMMITS_ON_SHORES_M if ground.is_shore else ABOVE_SUMMITS_M
