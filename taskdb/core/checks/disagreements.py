"""Where a set and its references disagree about a place: who says what, and on which side the fault is likely to be.

A reference has faults too: two sources that agree speak against the third, and so do a country left by one side, a
slip that is possible on one side alone, and a reference whose rows were read in the wrong notation as a group.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from taskdb.core.checks.counterparts import Counterpart, Counterparts
from taskdb.core.checks.given import Reference
from taskdb.core.checks.misread import find_misread_groups
from taskdb.core.checks.outlines import Outlines, distance_to_country_m
from taskdb.core.checks.region import OUTSIDE_M
from taskdb.core.checks.slip_join import LOOSE_FROM_M, wide_e7
from taskdb.core.checks.slips import TOLERANCE_E7, Slip, SlipKind, explain_difference, whole_slips
from taskdb.core.geodesy import distance_m
from taskdb.core.matching.limits import MEASURED_AGAIN_WITHIN_M
from taskdb.core.model import Position, Waypoint

_SAME_SHARE, _SAME_AT_MOST_M = 0.1, 3_000.0
"""Two sources have a place at the same spot also where they are coarse, if what parts them is a tenth of the
difference at most."""
_MISREAD_FIT_M = 2_000.0
"""A row of a misread group belongs to a place if its mended position is so near: rows of such lists are whole minutes,
and two lists have an aerodrome some hundred metres apart."""
_CONVERTED_FROM = 5
"""So many decimals of a degree (1.1 m) hardly anybody types: a program wrote them (common practice, no source)."""
_MISREAD = frozenset({SlipKind.MINUTES_AS_DECIMALS, SlipKind.SECONDS_AS_DECIMALS})


@dataclass(frozen=True, slots=True)
class Disagreement:
    """A checked point that a reference has elsewhere. `agreeing` are further references that have it where the first
    has it, `opposed` those that have it where the checked set has it; `side` is where the fault is likely to be:
    "checked", "reference" or "either". `their_slip` leads from the checked place to the reference's, None where none
    does; `misread_with` is how many points of the reference were read in the wrong notation together with this one.
    """

    index: int
    counterpart: Counterpart
    reference: Reference
    agreeing: tuple[str, ...]
    opposed: tuple[str, ...]
    side: str
    their_slip: Slip | None = None
    misread_with: int = 0

    @property
    def other(self) -> Waypoint:
        return self.reference.waypoints[self.counterpart.other_index]


def find_disagreements(
    checked: Sequence[Waypoint], said: Sequence[Counterparts], outlines: Outlines | None
) -> tuple[Disagreement, ...]:
    """Return one disagreement for each checked point that any reference has elsewhere, in order of the points."""
    by_index: dict[int, list[tuple[Counterparts, Counterpart]]] = {}
    for counterparts in said:
        for one in counterparts.apart:
            by_index.setdefault(one.index, []).append((counterparts, one))
    told = [_told(index, by_index[index], said) for index in sorted(by_index)]
    misread = {counterparts.reference.name: _misread_rows(counterparts, checked) for counterparts in said}
    return tuple(_weighed(one, checked[one.index], misread[one.reference.name], outlines) for one in told)


def _told(index: int, apart: Sequence[tuple[Counterparts, Counterpart]], said: Sequence[Counterparts]) -> Disagreement:
    """Return what the sources say: the place that most of them have speaks, then the best explained one; of equals
    the first that was given, a list of aerodromes last.
    """
    places = [counterparts.reference.waypoints[one.other_index].position for counterparts, one in apart]
    agreeing = [
        tuple(
            other.reference.name
            for (other, _), there in zip(apart, places, strict=True)
            if other is not counterparts and _is_same(place, there, one.distance_m)
        )
        for (counterparts, one), place in zip(apart, places, strict=True)
    ]

    def rank(number: int) -> tuple[int, bool, float, bool]:
        counterparts, one = apart[number]
        cost = one.slip.cost if one.slip else 0.0
        return -len(agreeing[number]), one.slip is None, cost, counterparts.reference.kind == "airports"

    first = min(range(len(apart)), key=rank)
    speaker, best = apart[first]
    # An older state of the checked set is no second witness for it.
    opposed = tuple(
        counterparts.reference.name
        for counterparts in said
        if counterparts is not speaker
        and counterparts.reference.kind != "revision"
        and (index in counterparts.settled or _is_by(index, counterparts, apart, best.distance_m))
    )
    return Disagreement(index, best, speaker.reference, agreeing[first], opposed, "either")


def _is_same(place: Position, other: Position, apart_m: float) -> bool:
    return distance_m(place, other) <= max(MEASURED_AGAIN_WITHIN_M, min(_SAME_SHARE * apart_m, _SAME_AT_MOST_M))


def _is_by(
    index: int, counterparts: Counterparts, apart: Sequence[tuple[Counterparts, Counterpart]], apart_m: float
) -> bool:
    """Say whether a reference has the point about where the checked set has it, beside a difference of `apart_m`."""
    own = [one.distance_m for other, one in apart if other is counterparts and one.index == index]
    return bool(own) and own[0] <= min(_SAME_SHARE * apart_m, _SAME_AT_MOST_M)


def _misread_rows(said: Counterparts, checked: Sequence[Waypoint]) -> dict[int, int]:
    """Return the rows of a reference that were read in the wrong notation as a group and belong where the checked set
    has them, each with how many there are. Groups are looked for only where some row would fit.
    """
    rows = said.reference.waypoints
    fitting = {
        one.other_index: checked[one.index].position
        for one in said.apart
        if _misread_slip(rows[one.other_index], checked[one.index].position) is not None
    }
    if not fitting:
        return {}
    countries = {rows[index].country for index in fitting}
    among = [index for index, row in enumerate(rows) if row.country in countries]
    found = {}
    for group in find_misread_groups([rows[index] for index in among]):
        mended = [among[row.index] for row in group.readable]
        found.update({index: len(mended) for index in mended if index in fitting})
    return found


def _misread_slip(twin: Waypoint, target: Position) -> Slip | None:
    """Return the confusion of notations that leads from about the target to the reference's position."""
    slips = [slip for slip in whole_slips(twin.position, twin.typed) if slip.kind in _MISREAD]
    left_m, _, best = min(
        ((distance_m(slip.mended, target), number, slip) for number, slip in enumerate(slips)),
        default=(math.inf, 0, None),
    )
    return best if left_m <= _MISREAD_FIT_M else None


def _weighed(one: Disagreement, point: Waypoint, misread: dict[int, int], outlines: Outlines | None) -> Disagreement:
    """Return the disagreement with the side on which the fault is likely to be, and the slip of the other side."""
    twin, with_it = one.other, misread.get(one.counterpart.other_index, 0)
    theirs = _their_slip(twin, point.position, one.counterpart.distance_m, is_misread=bool(with_it))
    side = _side_by_witnesses(one, point, outlines)
    is_theirs_alone = one.counterpart.slip is None and theirs is not None and not _is_possible_here(one, point)
    if side == "either" and (with_it or is_theirs_alone):
        side = "reference"
    return replace(one, side=side, their_slip=theirs, misread_with=with_it)


def _is_possible_here(one: Disagreement, point: Waypoint) -> bool:
    """Say whether a slip may be on the checked side before it was converted: long decimals of a degree are what
    programs make of minutes, mistyped or not.
    """
    typed = point.typed
    is_by_hand = typed is not None and (typed.notation != "decimal-degrees" or (typed.decimals or 0) < _CONVERTED_FROM)
    if is_by_hand:
        return False
    tolerances = [TOLERANCE_E7, *([wide_e7(point.position)] if one.counterpart.distance_m > LOOSE_FROM_M else [])]
    return explain_difference(point.position, one.other.position, None, *tolerances) is not None


def _their_slip(twin: Waypoint, target: Position, distance_m: float, *, is_misread: bool) -> Slip | None:
    tolerances = [TOLERANCE_E7]
    if distance_m > LOOSE_FROM_M:
        tolerances.append(wide_e7(target))
    if is_misread:
        return _misread_slip(twin, target)
    return explain_difference(twin.position, target, twin.typed, *tolerances)


def _side_by_witnesses(one: Disagreement, point: Waypoint, outlines: Outlines | None) -> str:
    if len(one.agreeing) != len(one.opposed):
        return "checked" if len(one.agreeing) > len(one.opposed) else "reference"
    if outlines is not None and point.country:
        here = distance_to_country_m(outlines, point.country, point.position)
        there = distance_to_country_m(outlines, point.country, one.other.position)
        if here is not None and there is not None:
            if here > OUTSIDE_M and there == 0.0:
                return "checked"
            if there > OUTSIDE_M and here == 0.0:
                return "reference"
    return "either"
