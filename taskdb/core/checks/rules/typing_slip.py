"""Rule `typing-slip`: a point that lies elsewhere in a reference, by the difference of one typing slip."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from taskdb.core.checks.counterparts import How
from taskdb.core.checks.disagreements import Disagreement
from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.slip_join import WIDE_E7
from taskdb.core.checks.slips import TOLERANCE_E7, Slip
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Severity, Suggestion, Waypoint
from taskdb.core.quantities import format_short_distance

_VALUES_OF_ONE = 120.0
_VALUES_OF_BOTH = 8.0
_WORTH_A_WARNING, _WORTH_A_NOTE = 5e-4, 5e-3
"""Coordinates alone are less sure the more points of the reference have no counterpart: so many of a thousand clean
points would be explained by chance. Beyond the second a loose fit is not told at all."""


def check(survey: Survey) -> Iterator[Draft]:
    """A reference has the point elsewhere, and one typing slip explains the difference.

    What: the point and its counterpart in a reference lie more than 300 m apart, and one slip of the hand (a wrong
    digit, two digits swapped, one left out or typed twice, the wrong hemisphere, latitude and longitude exchanged, a
    degree or ten minutes off, minutes read as decimals, seconds read as decimals) turns one into the other, with at
    most 0.02 minutes left over. An error; where neither code nor name agree a warning if more is left over, and a
    warning or a note if among so many points without counterpart a slip explains one by chance (`by_chance`).

    Why it matters: nothing else about the point looks wrong. It is found in the air, by a pilot who turns there.

    How to mend: look the place up on a map. `check fix SET FINDING` takes the suggested position.

    Trap: the slip may be in the reference. `side` in the evidence says where we think it is; where other references
    agree with your set the finding is only a note. A second `--against` often decides.

    Example: longitude minutes 71 look like 17 typed the other way round; with 17 the point lies 12 m from HILL in
    region@4.
    """
    for one in survey.disagreements:
        slip = one.counterpart.slip
        if slip is None:
            continue
        chance = _by_chance(survey, one, slip)
        if one.counterpart.is_close_fit or chance <= _WORTH_A_NOTE:
            yield _draft(survey, one, slip, chance)


def _draft(survey: Survey, one: Disagreement, slip: Slip, chance: float) -> Draft:
    from taskdb.core.geodesy import distance_m

    point, other = survey.waypoints[one.index], one.other
    left_m = distance_m(slip.mended, other.position)
    mended = Suggestion(point.code, slip.words, slip.mended)
    theirs = Suggestion(point.code, f"the position of {other.code} in {one.reference.name}", other.position)
    suggestions = (theirs,) if one.side == "reference" else (mended, theirs)
    return Draft(
        _severity(one, chance),
        (point,),
        _message(one, point, slip, left_m),
        evidence(survey, one)
        | {
            "slip": {"kind": slip.kind.value, "axis": slip.axis},
            "left_over_m": round(left_m, 3),
            "by_chance": float(f"{chance:.2g}"),
        },
        None if one.side == "reference" else suggestions[0],
        suggestions if one.side == "reference" else suggestions[1:],
        (other,),
    )


def _severity(one: Disagreement, chance: float) -> Severity:
    if one.side == "reference":
        return Severity.NOTE
    if one.counterpart.how is How.COORDINATES:
        if chance > _WORTH_A_NOTE:
            return Severity.NOTE
        if chance > _WORTH_A_WARNING or not one.counterpart.is_close_fit:
            return Severity.WARNING
    return Severity.ERROR


def _by_chance(survey: Survey, one: Disagreement, slip: Slip) -> float:
    """Return about how probable it is that some slip explains the difference of two places that have nothing to do
    with each other: one coordinate must agree, and the other be one of some 120 values; or both one of eight.

    Where only the coordinates speak, any point of the reference without counterpart could have been it.
    """
    fit = 2.0 * (TOLERANCE_E7 if one.counterpart.is_close_fit else WIDE_E7)
    latitude, longitude = (
        min(fit / max(float(survey.spread_e7(values)), fit), 1.0)
        for values in (survey.latitude_e7, survey.longitude_e7)
    )
    chance = (_VALUES_OF_BOTH if slip.axis == "both" else _VALUES_OF_ONE) * latitude * longitude
    if one.counterpart.how is How.COORDINATES:
        chance *= one.counterpart.rivals
    return min(chance, 1.0)


def _message(one: Disagreement, point: Waypoint, slip: Slip, left_m: float) -> str:
    mended = f"with {slip.should}" if slip.should else "put right,"
    told = (
        f"{point.code} {point.name!r}: {slip.words}; {mended} the point lies {format_short_distance(left_m)} from "
        f"{other_label(one)} in {one.reference.name}, now {format_short_distance(one.counterpart.distance_m)}."
    )
    return told + witnesses(one)


def other_label(one: Disagreement) -> str:
    """Return how the counterpart is called in the reference."""
    return f"{one.other.code} {one.other.name!r}"


def witnesses(one: Disagreement) -> str:
    """Return the sentence on what further references say, or nothing."""
    told = ""
    if one.agreeing:
        told += f" {', '.join(one.agreeing)} has it there too."
    if one.opposed:
        told += f" {', '.join(one.opposed)} agrees with the checked set."
    if one.side == "reference":
        told += f" The fault is more likely in {one.reference.name}."
    return told


def evidence(survey: Survey, one: Disagreement) -> dict[str, Any]:
    """Return what speaks for the two being one place, and for which side is wrong."""
    from rapidfuzz import fuzz

    point, other = survey.waypoints[one.index], one.other
    return {
        "reference": one.reference.name,
        "reference_code": other.code,
        "reference_name": other.name,
        "reference_latitude_deg": other.position.latitude_deg,
        "reference_longitude_deg": other.position.longitude_deg,
        "distance_m": round(one.counterpart.distance_m, 3),
        "matched_by": one.counterpart.how.value,
        "name_likeness_percent": round(fuzz.token_sort_ratio(survey.fold(point.name), survey.fold(other.name))),
        "side": one.side,
        "agreeing": list(one.agreeing),
        "opposed": list(one.opposed),
    }


RULE = Rule(
    name="typing-slip",
    summary="A reference has the point elsewhere, and one typing slip explains the difference.",
    function=check,
    reads=("code", "name", "position"),
    needs=frozenset({"reference"}),
)
