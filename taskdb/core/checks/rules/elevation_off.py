"""Rule `elevation-off`: a stated elevation that the ground around the position does not have."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from taskdb.core.checks.columns import column_draft, doubtful_columns, members_of
from taskdb.core.checks.elevations import Ground
from taskdb.core.checks.ground_bands import (
    Standing,
    are_summits,
    beyond_band_m,
    fitting_unit_m,
    is_flat,
    may_be_hill,
    other_unit_m,
    standing,
)
from taskdb.core.checks.mends import candidate_words, likely_origins, split
from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Severity, Suggestion

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_SURE = 1.25
_MANY_SHARE = 0.05
"""From such a share of the stated elevations on it is the elevations that are wrong, not positions."""


def check(survey: Survey) -> Iterator[Draft]:
    """The stated elevation does not fit the ground at the position.

    What: the elevation lies further below the lowest, or above the highest, of the nine cells (of 5 arc-minutes, 9 km)
    around the position than one or two good points in a thousand do. A note; a warning beyond 1.25 times the band.
    Elevation 0 and no elevation are no evidence. The band in metres, by how far the nine cells differ:

        the nine cells differ by    under 60   150   300   600  1200  more
        below the lowest, all            120   190   450   650   850   900
        above, landable places           170   200   210   210   210   210
        above, towns, water, ways        170   240   360   380   460   460
        above, what may be a summit      350   750  1100  2100  2100  2150
        the same on a shore             1650  1800  1800  2100  2100  2150

    What may be a summit is every point that is neither landable nor settlement, water, crossing or transport. In flat
    land inland such a point without a feature is noted from 170 m on: a hill, or an error.

    Why it matters: either the elevation is wrong, and final glides are computed to it, or the position is, and the
    elevation is the only witness.

    How to mend: look both up. Where an elevation in the other unit would fit, see `elevation-unit`; else the
    alternatives are places from which one typing slip leads here and where the elevation fits. None is suggested:
    as often it is the elevation that is wrong. Where more than 20 and one in twenty of a set's, or a source's,
    elevations are off, it is the elevations: that is told once, and where they came from (unit, column, model) is what
    to look up. Summits count for nothing there.

    A warning is only a note where a reference has the point at the same place.

    Trap: the grid is coarse. Real summits stand above its highest cell by 650 m (median), 1,330 m (one in ten), 1,830 m
    (one in a hundred), so of a point that may be one hardly anything is seen. Say what it is (`landable`, `feature`),
    and more is. In mountains hardly any wrong position is seen at all.

    Example: LAKE states 1,240 m where the ground lies between 380 and 420 m.
    """
    off, hills = [], []
    for index, ground in survey.off_ground():
        if survey.terrain_fits[index] is not None:  # the terrain says more: rule off-terrain
            continue
        point = survey.waypoints[index]
        if beyond_band_m(point, ground) > 0.0:
            if other_unit_m(point, ground) is None:
                off.append(index)
        elif may_be_hill(point, ground) and is_flat(ground) and fitting_unit_m(point, ground) is None:
            hills.append(index)
    columns = doubtful_columns(survey, *_no_summits(survey, off), _MANY_SHARE)
    for column in columns:
        yield column_draft(
            survey,
            column,
            Severity.WARNING,
            name="elevation_m",
            told="state an elevation that the ground there does not have",
            doubt="the elevations themselves are in doubt. Look up where they came from (unit, column, model).",
        )
    off = [index for index in off if index not in members_of(columns)]
    mends = likely_origins(survey, off)
    for index in sorted((*off, *hills)):
        yield _draft(survey, index, mends.get(index, ()))


def _no_summits(survey: Survey, off: list[int]) -> tuple[list[int], NDArray[np.int64]]:
    """Return of the points that are off, and of all that state an elevation, those that are not given as summits."""
    import numpy as np

    is_stated = (survey.elevation_m != 0.0) & ~are_summits(survey.waypoints)
    return [index for index in off if is_stated[index]], np.flatnonzero(is_stated)


def _draft(survey: Survey, index: int, mends: tuple[Suggestion, ...]) -> Draft:
    point, ground = survey.waypoints[index], survey.ground(index)
    assert ground is not None and point.elevation_m is not None
    beyond_m = beyond_band_m(point, ground)
    evidence = {
        "elevation_m": point.elevation_m,
        "ground_m": ground.cell_m,
        "ground_lowest_m": ground.lowest_m,
        "ground_highest_m": ground.highest_m,
        "beyond_m": round(beyond_m, 1),
        "stands_as": standing(point).value,
    }
    is_sure = beyond_band_m(point, ground, _SURE) > 0.0
    if beyond_m == 0.0:
        told = "a hill stands there, or elevation or position is wrong."
    elif _is_high(point.elevation_m, ground) and standing(point) in (Standing.SUMMIT, Standing.UNKNOWN):
        told = "too high for a summit there; elevation or position is wrong" + candidate_words(mends)
    else:
        told = "elevation or position is wrong" + candidate_words(mends)
    return Draft(
        survey.weighed(index, Severity.WARNING if is_sure else Severity.NOTE),
        (point,),
        f"{point.code} {point.name!r} states {point.elevation_m:.0f} m where the ground lies between "
        f"{ground.lowest_m:.0f} and {ground.highest_m:.0f} m: {told}",
        evidence,
        *split(survey, index, mends),
    )


def _is_high(elevation_m: float, ground: Ground) -> bool:
    return elevation_m > ground.highest_m


RULE = Rule(
    name="elevation-off",
    summary="The stated elevation does not fit the ground at the position.",
    function=check,
    reads=("position", "elevation_m"),
    needs=frozenset({"elevation-grid"}),
)
