"""Rule `elevation-unit`: feet taken for metres, or metres for feet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.rules.elevation_off import other_unit_m
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Severity, Suggestion, Waypoint
from taskdb.core.quantities import FOOT_M

_SAME_M = 12.0
"""Two statements of one elevation, each rounded and measured at another end of the field, agree within this."""
_WORTH_SAYING_M = 60.0


def check(survey: Survey) -> Iterator[Draft]:
    """The elevation looks like feet taken for metres, or metres for feet.

    What: the stated elevation does not fit, and 0.3048 times or 3.2808 times it does: against the counterpart of the
    point in a reference (within 12 m), or against the ground around the position. A warning.

    Why it matters: a final glide to a field that stands 300 m too low in the set ends before the field.

    How to mend: `check fix SET FINDING` puts the elevation in. Where many points of one source show it, the whole
    source was read in the wrong unit: import it again with `--elevation-unit`.

    Trap: by chance an elevation that is simply wrong fits in the other unit. The grid is coarse: against it only
    differences beyond its band are seen.

    Example: FIELD states 1312 m where region@4 has 400 m: 1312 ft are 400 m.
    """
    told: set[int] = set()
    for index, other, name in _counterparts(survey):
        point = survey.waypoints[index]
        mended = _in_other_unit(point, other)
        if mended is not None and index not in told and other.elevation_m is not None:
            told.add(index)
            evidence = {"elevation_m": point.elevation_m, "reference": name, "reference_m": other.elevation_m}
            seen = f"where {other.code} in {name} has {other.elevation_m:.0f} m"
            yield _draft(point, mended, seen, evidence, (other,))
    for index, ground in enumerate(survey.grounds):
        point = survey.waypoints[index]
        if ground is None or index in told:
            continue
        mended = other_unit_m(point, ground)
        if mended is not None:
            evidence = {
                "elevation_m": point.elevation_m,
                "ground_lowest_m": ground.lowest_m,
                "ground_highest_m": ground.highest_m,
            }
            seen = f"where the ground lies between {ground.lowest_m:.0f} and {ground.highest_m:.0f} m"
            yield _draft(point, mended, seen, evidence, ())


def _counterparts(survey: Survey) -> Iterator[tuple[int, Waypoint, str]]:
    for said in survey.counterparts:
        for index, other in sorted(said.settled.items()):
            yield index, said.reference.waypoints[other], said.reference.name


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
    point: Waypoint, mended_m: float, seen: str, evidence: Mapping[str, object], others: tuple[Waypoint, ...]
) -> Draft:
    assert point.elevation_m is not None
    if mended_m < point.elevation_m:
        reason = f"{point.elevation_m:.0f} ft are {mended_m:.0f} m: feet taken for metres"
    else:
        reason = f"{mended_m:.0f} m are {mended_m / FOOT_M:.0f} ft, and {point.elevation_m:.0f} looks converted twice"
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
