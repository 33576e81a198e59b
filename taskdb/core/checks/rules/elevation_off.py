"""Rule `elevation-off`: a stated elevation that the ground around the position does not have."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterator

from taskdb.core.checks.elevations import Ground
from taskdb.core.checks.mends import likely_origins
from taskdb.core.checks.offers import candidate_words, split
from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Severity, Suggestion, Waypoint
from taskdb.core.quantities import FOOT_M

_RELIEF_M = (60.0, 150.0, 300.0, 600.0, 1200.0)
_BELOW_M = (120.0, 190.0, 450.0, 650.0, 850.0, 900.0)
_ABOVE_M = (170.0, 200.0, 210.0, 210.0, 210.0, 210.0)
"""How far below the lowest and above the highest of the 3 × 3 cells around a stated elevation may lie, by relief.

Measured on 25,000 airfields (airportsdata against the 5 arc-minute grid, mix-ups of feet and metres apart): beyond
these bands lie about 1.5 of a thousand good ones, beyond 1.25 times the bands 1.
"""
_SURE = 1.25
_COAST_M = -30.0
_UNIT_FITS_M = 60.0
_MANY, _MANY_SHARE = 20, 0.05
"""From so many, and such a share of the stated elevations, on it is the elevations that are wrong, not positions."""


def check(survey: Survey) -> Iterator[Draft]:
    """The stated elevation does not fit the ground at the position.

    What: the elevation lies further below the lowest, or above the highest, of the nine cells (of 5 arc-minutes, 9 km)
    around the position than one or two good points in a thousand do. The band widens with the relief: 120 m below and
    170 m above in flat land, 900 m below in high mountains. A note; a warning beyond 1.25 times the band. Elevation 0
    and no elevation are no evidence.

    Why it matters: either the elevation is wrong, and final glides are computed to it, or the position is, and the
    elevation is the only witness.

    How to mend: look both up. Where an elevation in the other unit would fit, see `elevation-unit`; else the
    alternatives are places from which one typing slip leads here and where the elevation fits. None is suggested:
    as often it is the elevation that is wrong. Where more than 20 and one in twenty of a set's elevations are off, it
    is the elevations: no places are offered, and where they came from (unit, column, model) is what to look up.

    A warning is only a note where a reference has the point at the same place.

    Trap: the grid is coarse. It sees nothing below its band: in mountains hardly any wrong position at all.

    Example: LAKE states 1,240 m where the ground lies between 380 and 420 m.
    """
    off = [
        index
        for index, ground in enumerate(survey.grounds)
        if ground is not None
        and beyond_band_m(survey.waypoints[index], ground) > 0.0
        and other_unit_m(survey.waypoints[index], ground) is None
    ]
    stated = sum(bool(point.elevation_m) for point in survey.waypoints)
    is_column = len(off) > max(_MANY, _MANY_SHARE * stated)
    mends = {} if is_column else likely_origins(survey, off)
    doubt = f"{len(off)} of {stated} elevations are off: the elevations themselves are in doubt" if is_column else ""
    for index in off:
        yield _draft(survey, index, mends.get(index, ()), doubt)


def beyond_band_m(point: Waypoint, ground: Ground, widened: float = 1.0) -> float:
    """Return how far the stated elevation lies beyond what the ground allows, 0 within; 0 for zero and unknown.

    `widened` is a factor on the band.
    """
    if not point.elevation_m:
        return 0.0
    # Over water the grid gives the sea bed; only where the stated elevation is below the sea is that meant.
    floor_m = _COAST_M if point.elevation_m > 0.0 else -math.inf
    lowest, highest = max(ground.lowest_m, floor_m), max(ground.highest_m, floor_m)
    step = bisect_left(_RELIEF_M, highest - lowest)
    low = lowest - widened * _BELOW_M[step] - point.elevation_m
    high = point.elevation_m - highest - widened * _ABOVE_M[step]
    return max(low, high, 0.0)


def other_unit_m(point: Waypoint, ground: Ground) -> float | None:
    """Return the elevation read in the other unit where that fits the ground and the stated one does not fit at all."""
    if not point.elevation_m or beyond_band_m(point, ground) == 0.0:
        return None
    for metres in (point.elevation_m * FOOT_M, point.elevation_m / FOOT_M):
        if ground.lowest_m - _UNIT_FITS_M <= metres <= ground.highest_m + _UNIT_FITS_M:
            return round(metres, 1)
    return None


def _draft(survey: Survey, index: int, mends: tuple[Suggestion, ...], doubt: str) -> Draft:
    point, ground = survey.waypoints[index], survey.grounds[index]
    assert ground is not None and point.elevation_m is not None
    evidence = {
        "elevation_m": point.elevation_m,
        "ground_m": ground.cell_m,
        "ground_lowest_m": ground.lowest_m,
        "ground_highest_m": ground.highest_m,
        "beyond_m": round(beyond_band_m(point, ground), 1),
    }
    is_sure = beyond_band_m(point, ground, _SURE) > 0.0
    return Draft(
        survey.weighed(index, Severity.WARNING if is_sure else Severity.NOTE),
        (point,),
        f"{point.code} {point.name!r} states {point.elevation_m:.0f} m where the ground lies between "
        f"{ground.lowest_m:.0f} and {ground.highest_m:.0f} m: "
        + (doubt or "elevation or position is wrong" + candidate_words(mends)),
        evidence,
        *split(survey, index, mends),
    )


RULE = Rule(
    name="elevation-off",
    summary="The stated elevation does not fit the ground at the position.",
    function=check,
    reads=("position", "elevation_m"),
    needs=frozenset({"elevation-grid"}),
)
