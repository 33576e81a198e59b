"""Rule `elevation-unit`: feet taken for metres, or metres for feet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from taskdb.core.checks.columns import once_or_each
from taskdb.core.checks.elevations import Ground
from taskdb.core.checks.ground_bands import beyond_band_m, fitting_unit_m, may_be_hill, other_unit_m
from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Severity, Suggestion, Waypoint
from taskdb.core.quantities import FOOT_M

_SAME_M = 12.0
"""Two statements of one elevation, each rounded and measured at another end of the field, agree within this."""
_WORTH_SAYING_M = 60.0


def check(survey: Survey) -> Iterator[Draft]:
    """The elevation looks like feet taken for metres, or metres for feet.

    What: the stated elevation does not fit, and 0.3048 times or 3.2808 times it does: against the counterpart of the
    point in a reference (within 12 m), or against the ground around the position, by the bands of `elevation-off`. A
    warning. While the point may be a summit, feet are not concluded from the ground: then there is nothing, or in flat
    land inland a note without a mend. More than 20 points that are one in five of a set's, or a source's, are told
    once: the column was read in the wrong unit.

    Why it matters: a final glide to a field that stands 300 m too low in the set ends before the field.

    How to mend: `check fix SET FINDING` puts the elevation in. Where a whole source was read in the wrong unit, import
    it again with `--elevation-unit`: mends one by one would leave those that happen to fit.

    Trap: by chance an elevation that is simply wrong fits in the other unit. The grid is coarse: against it only
    differences beyond its band are seen, and real summits stand up to 2,000 m above it.

    Example: FIELD states 1312 m where region@4 has 400 m: 1312 ft are 400 m.
    """
    import numpy as np

    misread = dict((*_against_ground(survey), *_against_references(survey)))
    stated = np.flatnonzero(survey.elevation_m != 0.0)
    yield from once_or_each(
        survey,
        {index: (draft,) for index, draft in misread.items()},
        stated,
        name="elevation_m",
        told="state an elevation that fits in the other unit only",
        doubt="the column was read in the wrong unit. Import it again with --elevation-unit ft (or m).",
    )
    for index, ground in survey.off_ground():
        if index in misread or survey.is_confirmed(index):
            continue
        point = survey.waypoints[index]
        mended_m = fitting_unit_m(point, ground) if may_be_hill(point, ground) else None
        if mended_m is not None:
            yield Draft(
                Severity.NOTE,
                (point,),
                f"{point.code} {point.name!r} states {point.elevation_m:.0f} m {_seen(ground)}: a hill stands there, "
                f"or feet were taken for metres ({point.elevation_m:.0f} ft are {mended_m:.0f} m). "
                "Look it up, and say by feature or landable what it is.",
                _ground_evidence(point, ground),
            )


def _against_references(survey: Survey) -> Iterator[tuple[int, Draft]]:
    """Yield the points that a reference has in the other unit; of several references the first speaks."""
    told: set[int] = set()
    for said in survey.counterparts:
        for index, number in sorted(said.settled.items()):
            point, other = survey.waypoints[index], said.reference.waypoints[number]
            mended_m = _in_other_unit(point, other)
            if mended_m is None or index in told or _is_theirs(survey, index, other):
                continue
            told.add(index)
            evidence = {
                "elevation_m": point.elevation_m, "reference": said.reference.name, "reference_m": other.elevation_m
            }  # fmt: skip
            seen = f"where {other.code} in {said.reference.name} has {other.elevation_m:.0f} m"
            yield index, _draft(point, mended_m, seen, evidence, (other,))


def _is_theirs(survey: Survey, index: int, other: Waypoint) -> bool:
    """Say whether the ground bears the point out and not the reference: then the fault is theirs."""
    point, ground = survey.waypoints[index], survey.ground(index)
    if ground is None:
        return False
    theirs = replace(point, elevation_m=other.elevation_m)
    return beyond_band_m(point, ground) == 0.0 and beyond_band_m(theirs, ground) > 0.0


def _against_ground(survey: Survey) -> Iterator[tuple[int, Draft]]:
    """Yield the points whose elevation fits the ground in the other unit only."""
    for index, ground in survey.off_ground():
        point = survey.waypoints[index]
        mended_m = other_unit_m(point, ground)
        if mended_m is not None:
            yield index, _draft(point, mended_m, _seen(ground), _ground_evidence(point, ground))


def _ground_evidence(point: Waypoint, ground: Ground) -> dict[str, Any]:
    return {
        "elevation_m": point.elevation_m, "ground_lowest_m": ground.lowest_m, "ground_highest_m": ground.highest_m
    }  # fmt: skip


def _seen(ground: Ground) -> str:
    return f"where the ground lies between {ground.lowest_m:.0f} and {ground.highest_m:.0f} m"


def _in_other_unit(point: Waypoint, other: Waypoint) -> float | None:
    """Return the elevation read in the other unit, where that is what the reference has."""
    if not point.elevation_m or not other.elevation_m:
        return None
    if abs(point.elevation_m - other.elevation_m) < _WORTH_SAYING_M:
        return None
    for metres in (point.elevation_m * FOOT_M, point.elevation_m / FOOT_M):
        if abs(metres - other.elevation_m) <= _SAME_M:
            return round(metres, 1)
    return None


def _draft(
    point: Waypoint, mended_m: float, seen: str, evidence: dict[str, Any], others: tuple[Waypoint, ...] = ()
) -> Draft:
    """Return the warning about a point whose elevation reads in the other unit: what it would be, and against what."""
    assert point.elevation_m is not None
    if mended_m < point.elevation_m:
        reason = f"{point.elevation_m:.0f} ft are {mended_m:.0f} m: feet taken for metres"
    else:
        feet = mended_m / FOOT_M
        reason = f"{mended_m:.0f} m are {feet:.0f} ft, and {point.elevation_m:.0f} looks converted twice"
    return Draft(
        Severity.WARNING,
        (point,),
        f"{point.code} {point.name!r} states {point.elevation_m:.0f} m {seen}; {reason}.",
        evidence,
        Suggestion(point.code, reason, field="elevation_m", value=mended_m),
        others=others,
    )


RULE = Rule(
    name="elevation-unit",
    summary="The elevation looks like feet taken for metres, or metres for feet.",
    function=check,
    reads=("position", "elevation_m"),
)
