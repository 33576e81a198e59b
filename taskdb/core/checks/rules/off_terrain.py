"""Rule `off-terrain`: an elevation that the user's own terrain does not have near the position."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.checks.columns import column_draft, doubtful_columns, members_of
from taskdb.core.checks.ground_bands import standing
from taskdb.core.checks.mends import candidate_words, likely_origins, split
from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Severity, Suggestion
from taskdb.core.quantities import FOOT_M

_MANY_SHARE = 0.05
_SURE_M = 60.0


def check(survey: Survey) -> Iterator[Draft]:
    """The stated elevation does not fit the terrain near the position.

    What: runs with `--terrain` alone. The elevation lies further below the lowest, or above the highest, ground near
    the position than models and roundings explain: 35 m and 15 % of how far that ground differs; above what may be a
    summit 70 m and half of it, since a raster cuts tops off. Near is within 200 m of a landable place, 300 m of a town,
    water or way, 150 m of a summit or structure, 250 m of what says nothing of itself. A note; a warning from 60 m
    beyond. Elevation 0 and no elevation are no evidence.

    Why it matters: without a reference this alone finds a position that is mistyped by a few minutes inside the region.

    How to mend: the alternatives are places from which one typing slip leads here, in the right country, near others of
    the set, and with ground at the stated elevation. None is suggested: as often it is the elevation that is wrong.
    Where an elevation read in the other unit fits, it is said. Where more than 20 and one in twenty of a set's, or a
    source's, elevations are off, that is told once: look up unit, column and datum.

    A warning is only a note where a reference has the point at the same place.

    Trap: in plains nothing is seen, since the ground is as high where the slip leads; and where valleys are wide, what
    slips along them. A slip in the last digits moves a point by less than near. Terrain knows no masts, and old models
    no new quarry or dam.

    Example: HILL states 1,240 m where the terrain within 150 m has 612 to 655 m; longitude minutes 17 look like 71.
    """
    import numpy as np

    terrain = survey.terrain
    if terrain is None:
        return
    fits, elevation_m = survey.terrain_fits, survey.elevation_m
    stated = [index for index in np.flatnonzero(elevation_m != 0.0).tolist() if fits[index] is not None]
    off = [index for index in stated if _beyond_m(survey, index) > 0.0]
    if not off:
        return
    columns = doubtful_columns(survey, off, np.array(stated), _MANY_SHARE)
    for column in columns:
        yield column_draft(
            survey,
            column,
            Severity.WARNING,
            name="elevation_m",
            told=f"state an elevation that the ground there does not have ({terrain.name})",
            doubt="the elevations themselves are in doubt. Look up where they came from (unit, column, model).",
        )
    off = [index for index in off if index not in members_of(columns)]
    mends = likely_origins(survey, off)
    for index in off:
        yield _draft(survey, index, mends.get(index, ()), terrain.source)


def _beyond_m(survey: Survey, index: int) -> float:
    fit = survey.terrain_fits[index]
    return 0.0 if fit is None else fit.beyond_m(float(survey.elevation_m[index]))


def _draft(survey: Survey, index: int, mends: tuple[Suggestion, ...], source: str) -> Draft:
    point, fit = survey.waypoints[index], survey.terrain_fits[index]
    assert fit is not None and point.elevation_m is not None
    beyond_m = fit.beyond_m(point.elevation_m)
    evidence = {
        "elevation_m": point.elevation_m,
        "ground_m": round(fit.height_m, 1),
        "ground_lowest_m": round(fit.lowest_m, 1),
        "ground_highest_m": round(fit.highest_m, 1),
        "within_m": fit.within_m,
        "beyond_m": round(beyond_m, 1),
        "stands_as": standing(point).value,
        "terrain": source,
    }
    other = next(
        (metres for metres in (point.elevation_m * FOOT_M, point.elevation_m / FOOT_M) if fit.beyond_m(metres) == 0.0),
        None,
    )
    told = f"; read in the other unit it is {other:.0f} m and fits" if other is not None else ""
    return Draft(
        survey.weighed(index, Severity.WARNING if beyond_m > _SURE_M else Severity.NOTE),
        (point,),
        f"{point.code} {point.name!r} states {point.elevation_m:.0f} m where the terrain within {fit.within_m:.0f} m "
        f"has {fit.lowest_m:.0f} to {fit.highest_m:.0f} m{told}: elevation or position is wrong"
        + candidate_words(mends),
        evidence,
        *split(survey, index, mends),
    )


RULE = Rule(
    name="off-terrain",
    summary="The stated elevation does not fit the terrain near the position.",
    function=check,
    reads=("position", "elevation_m"),
    needs=frozenset({"terrain"}),
)
