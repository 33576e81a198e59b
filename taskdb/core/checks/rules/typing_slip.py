"""Rule `typing-slip`: a point that lies elsewhere in a reference, by the difference of one typing slip."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from taskdb.core.checks.counterparts import ALIKE_PERCENT, NEAR_M, MatchedBy, name_likeness_percent
from taskdb.core.checks.disagreements import Disagreement
from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.slips import Slip, possible_origins
from taskdb.core.checks.survey import Survey
from taskdb.core.geodesy import distance_m
from taskdb.core.model import Severity, Suggestion, Waypoint
from taskdb.core.quantities import format_short_distance

_VALUES_OF_ONE = 120.0
_VALUES_OF_BOTH = 8.0
_WELL_MEASURED_M = 10.0
_WORTH_A_WARNING, _WORTH_A_NOTE = 5e-4, 5e-3
"""Coordinates alone are less sure the more points of the reference have no counterpart: so many of a thousand clean
points would be explained by chance. Beyond the second a loose fit is not told at all."""
_NOT_SURE = 0.05
"""A point of the same name or code is there in any case: all that chance could have made is the explanation."""


def check(survey: Survey) -> Iterator[Draft]:
    """A reference has the point elsewhere, and one typing slip explains the difference.

    What: the point and its counterpart in a reference lie more than 300 m apart, and one slip of the hand (a wrong
    digit, two digits swapped, one left out or typed twice, the wrong hemisphere, latitude and longitude exchanged, a
    degree or ten minutes off, decimals, minutes and seconds read for one another) turns one into the other, with at
    most 0.02 minutes left over. An error; a warning if up to 160 m are left over (2 km of a coarse reference), and a
    warning or a note if neither name nor trusted code agree and among so many points without counterpart a slip
    explains one by chance (`by_chance`).

    Why it matters: nothing else about the point looks wrong. It is found in the air, by a pilot who turns there.

    How to mend: look the place up on a map. `check fix SET FINDING` takes the suggested position, which is the slip put
    right and not what the reference has.

    Trap: the slip may be in the reference. `side` in the evidence says where we think it is; where other references
    agree with your set, or the reference alone can hold the slip, or a group of its points was read in the wrong
    notation, the finding is only a note. A second `--against` often decides.

    Example: longitude minutes 71 look like 17 typed the other way round; with 17 the point lies 12 m from HILL in
    region@4.
    """
    for one in survey.disagreements:
        slip = one.counterpart.slip
        if one.side == "reference" and one.their_slip is not None:
            yield _their_draft(survey, one, one.their_slip)
        elif slip is not None:
            chance = _by_chance(survey, one, slip)
            is_unnamed = one.counterpart.how is MatchedBy.COORDINATES
            if one.counterpart.is_close_fit or not is_unnamed or chance <= _WORTH_A_NOTE:
                yield _draft(survey, one, slip, chance)


def _draft(survey: Survey, one: Disagreement, slip: Slip, chance: float) -> Draft:
    point, other = survey.waypoints[one.index], one.other
    left_m = distance_m(slip.mended, other.position)
    mended, theirs = Suggestion(point.code, slip.words, slip.mended), _position_of(one, point)
    is_theirs = one.side == "reference"
    more = {"slip": {"kind": slip.kind.value, "axis": slip.axis}, "by_chance": float(f"{chance:.2g}")}
    return Draft(
        _severity(survey, one, chance),
        (point,),
        _message(one, point, slip, left_m),
        evidence(survey, one) | {"left_over_m": round(left_m, 3)} | more,
        None if is_theirs else mended,
        (theirs,),
        (other,),
    )


def _their_draft(survey: Survey, one: Disagreement, slip: Slip) -> Draft:
    """Return the note on a point that stands right, while the reference has mistyped it."""
    point = survey.waypoints[one.index]
    left_m = distance_m(slip.mended, point.position)
    told = (
        f"{point.code} {point.name!r} lies {format_short_distance(one.counterpart.distance_m)} from {other_label(one)} "
        f"in {one.reference.name}; there the {slip.words.removeprefix('the ')}, and {_put_right(slip)} it lies "
        f"{format_short_distance(left_m)} from the point."
    )
    if one.misread_with > 1:
        told += f" {one.misread_with} points of {one.reference.name} read so."
    more = {"slip": {"kind": slip.kind.value, "axis": slip.axis, "in": "reference"}, "left_over_m": round(left_m, 3)}
    return Draft(
        Severity.NOTE,
        (point,),
        told + witnesses(one),
        evidence(survey, one) | more,
        None,
        (_position_of(one, point),),
        (one.other,),
    )


def _position_of(one: Disagreement, point: Waypoint) -> Suggestion:
    return Suggestion(point.code, f"the position of {one.other.code} in {one.reference.name}", one.other.position)


def _put_right(slip: Slip) -> str:
    return f"with {slip.should}" if slip.should else "put right,"


def _severity(survey: Survey, one: Disagreement, chance: float) -> Severity:
    if one.side == "reference":
        return Severity.NOTE
    if one.counterpart.how is MatchedBy.COORDINATES and chance > _WORTH_A_NOTE:
        return Severity.NOTE
    if not one.counterpart.is_close_fit or chance > (_WORTH_A_WARNING if _is_unnamed(survey, one) else _NOT_SURE):
        return Severity.WARNING
    return Severity.ERROR


def _is_unnamed(survey: Survey, one: Disagreement) -> bool:
    """Say whether nothing but the coordinates, or a code that may have been given anew, makes the two one place."""
    if one.counterpart.how is MatchedBy.COORDINATES:
        return True
    likeness = name_likeness_percent(survey.waypoints[one.index].name, one.other.name)
    return one.counterpart.how is MatchedBy.CODE and likeness < ALIKE_PERCENT


def _by_chance(survey: Survey, one: Disagreement, slip: Slip) -> float:
    """Return about how probable it is that some slip explains the difference of two places that have nothing to do
    with each other: one coordinate must agree, and the other be one of some 120 values; or both one of eight.

    Where only the coordinates speak, any point of the reference without counterpart could have been it; and where many
    places differ by as much for other reasons, a slip explains some of them by chance.
    """
    fit = 2.0 * one.counterpart.fit_e7
    latitude, longitude = (min(fit / max(spread, fit), 1.0) for spread in survey.spreads_e7)
    chance = (_VALUES_OF_BOTH if slip.axis == "both" else _VALUES_OF_ONE) * latitude * longitude
    if one.counterpart.how is MatchedBy.COORDINATES:
        chance *= one.counterpart.rivals
    return min(max(chance, _by_chance_so_near(survey.waypoints[one.index], one, slip)), 1.0)


def _by_chance_so_near(point: Waypoint, one: Disagreement, slip: Slip) -> float:
    """Return about how probable it is that some slip explains as well the difference from a place that happens to lie
    as near: the places that a slip leads to lie the closer together, the nearer they are.
    """
    apart_m = one.counterpart.distance_m
    if apart_m == 0.0:
        return 1.0  # a pole under two longitudes: there is no difference that a slip could explain
    if apart_m > NEAR_M:
        return 0.0
    fit_m = 2.0 * max(distance_m(slip.mended, one.other.position), _WELL_MEASURED_M)
    origins = [origin.mended for origin in possible_origins(point.position, point.typed)]
    around = sum(0.5 * apart_m <= distance_m(point.position, place) <= 2.0 * apart_m for place in origins)
    return one.counterpart.crowding * around * fit_m * fit_m / (math.pi * (4.0 - 0.25) * apart_m * apart_m)


def _message(one: Disagreement, point: Waypoint, slip: Slip, left_m: float) -> str:
    place = f"{other_label(one)} in {one.reference.name}, now {format_short_distance(one.counterpart.distance_m)}."
    told = f"{point.code} {point.name!r}: {slip.words}; {_put_right(slip)} the point lies "
    told += f"{format_short_distance(left_m)} from {place}"
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
    point, other = survey.waypoints[one.index], one.other
    return {
        "reference": one.reference.name,
        "reference_code": other.code,
        "reference_name": other.name,
        "reference_latitude_deg": other.position.latitude_deg,
        "reference_longitude_deg": other.position.longitude_deg,
        "distance_m": round(one.counterpart.distance_m, 3),
        "matched_by": one.counterpart.how.value,
        "name_likeness_percent": round(name_likeness_percent(point.name, other.name)),
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
