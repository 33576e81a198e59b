"""How people mistype positions: the smallest slip that explains a difference, and the places a slip may have come from.

A slip is undone in the notation in which the point was typed (in all three that people use where that is not known).
Computes and words it; whether a slip is to be believed is for the rules.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache
from itertools import product
from typing import NamedTuple

from taskdb.core.checks.confusions import Confusion, confusions
from taskdb.core.checks.digits import (
    ASSUMED_DECIMALS,
    FAMILIES,
    Variant,
    Written,
    digit_variants,
    typed_in,
    write,
    writings,
)
from taskdb.core.model import E7, Position, Typed
from taskdb.core.notation.angles import Axis, Notation

TOLERANCE_E7 = 3_333
"""0.02 minutes of arc: a slip explains a difference when nothing more than this is left of it."""

_HALF_TURN_E7 = 180 * E7
_TURN_E7 = 2 * _HALF_TURN_E7


class SlipKind(StrEnum):
    """What went wrong in typing."""

    DIGIT = "digit"
    SWAP = "swap"
    DROPPED = "dropped"
    DOUBLED = "doubled"
    POINT = "point"
    OFF = "off"
    HEMISPHERE = "hemisphere"
    EXCHANGE = "exchange"
    MINUTES_AS_DECIMALS = "minutes-as-decimals"
    DECIMALS_AS_MINUTES = "decimals-as-minutes"
    SECONDS_AS_DECIMALS = "seconds-as-decimals"
    DECIMALS_AS_SECONDS = "decimals-as-seconds"


_WAYS = {
    SlipKind.DROPPED: 6,
    SlipKind.DOUBLED: 6,
    SlipKind.POINT: 10,
    SlipKind.OFF: 4,
    SlipKind.HEMISPHERE: 1,
}
"""In how many ways a slip of the kind can befall one coordinate so that it matters: the more, the less likely each.
Wrong and swapped digits are counted, confused notations say themselves what they cost. That all kinds are equally
frequent, and a misplaced point rarer, is common practice, no source."""
_BOTH_HEMISPHERES = 3.0
_ONE_OF_TWO = math.log(2.0)
"""A slip in one coordinate could as well have befallen the other."""

_CONVERTED = 3.0
"""How much less likely it is, as natural logarithm, that digits were confused before they were converted to the
notation in which the point is known to have been written."""


Told = Variant | tuple[str, str | None]
"""What there is to say of a slip: the digits that differ, or the words and the mended part."""


class CoordinateSlip(NamedTuple):
    """One coordinate with a slip undone: what it should be (1e-7 degree), and at which cost."""

    kind: SlipKind
    value_e7: int
    cost: float
    told: Told


@dataclass(frozen=True, slots=True)
class Slip:
    """A position with one slip undone. `axis` is "latitude", "longitude" or "both"; a lower cost is more likely."""

    kind: SlipKind
    axis: str
    mended: Position
    cost: float
    told: Told

    @property
    def words(self) -> str:
        """What it looks like, as a person would say it."""
        return _digit_words(self.axis, self.kind, self.told) if isinstance(self.told, Variant) else self.told[0]

    @property
    def should(self) -> str | None:
        """The mended part alone where there is one ("17")."""
        return self.told.differing()[2] if isinstance(self.told, Variant) else self.told[1]


def coordinate_slips(
    e7: int, axis: Axis, typed: Typed | None = None, near_e7: tuple[int, int] | None = None
) -> tuple[CoordinateSlip, ...]:
    """Return every value that one slip in this coordinate may have come from, the likeliest of equal values once.

    With `near_e7` only the values between the two. A slip is the less likely the more slips of its kind there could
    be: of 60 wrong digits each is a sixtieth.
    """
    best: dict[int, CoordinateSlip] = {}
    choices = writings(e7, axis, typed)
    if e7 in (0, -_HALF_TURN_E7):
        # Zero has no sign, and 180° have two: what was mistyped may have been on either side.
        choices = (*choices, *(replace(written, sign=-written.sign) for written in choices))
    for written in choices:
        for kind, value, own, told in _undone(written, e7, near_e7):
            cost = own + math.log(len(choices)) + _ONE_OF_TWO
            if value != e7 and (value not in best or cost < best[value].cost):
                best[value] = CoordinateSlip(kind, value, cost, told)
    for written in _before_conversion(e7, axis, typed):
        for kind, value, own, told in _confused_in_one(written, near_e7):
            if value != e7 and value not in best:
                best[value] = CoordinateSlip(kind, value, own + _CONVERTED + _ONE_OF_TWO, told)
    return tuple(sorted(best.values(), key=lambda slip: (slip.cost, slip.value_e7)))


_Undone = tuple[SlipKind, int, float, Told]


def _undone(written: Written, e7: int, near_e7: tuple[int, int] | None) -> Iterator[_Undone]:
    """Yield what the coordinate may have been, as it is written, with what each slip costs."""
    variants, many = digit_variants(written, near_e7)
    for one in variants:
        kind = SlipKind(one.kind)
        yield kind, one.value_e7, math.log(_WAYS.get(kind) or many[kind]), one
    for kind, value, told in _other_slips(written, e7):
        if near_e7 is None or near_e7[0] <= value <= near_e7[1]:
            yield kind, value, math.log(_WAYS[kind]), told
    yield from _confused_in_one(written, near_e7)


def _confused_in_one(written: Written, near_e7: tuple[int, int] | None) -> Iterator[_Undone]:
    for one in confusions(written):
        if near_e7 is None or near_e7[0] <= one.value_e7 <= near_e7[1]:
            yield SlipKind(one.kind), one.value_e7, one.cost, (f"{written.axis} looks like {one.words}", None)


def _before_conversion(e7: int, axis: Axis, typed: Typed | None) -> tuple[Written, ...]:
    """Return the coordinate in the notations in which it was not typed, where it is known how it was."""
    known = typed_in(typed)
    others = [one for one in FAMILIES if one is not known] if known is not None else []
    return tuple(write(e7, axis, notation, ASSUMED_DECIMALS[notation])[0] for notation in others)


def _other_slips(written: Written, e7: int) -> Iterator[tuple[SlipKind, int, Told]]:
    """Yield the slips that are none of single digits."""
    axis = written.axis
    if e7:
        letters = axis.letters if e7 > 0 else axis.letters[::-1]
        words = f"{axis} {letters[0]} looks like {letters[1]}: the wrong hemisphere"
        yield SlipKind.HEMISPHERE, -e7, (words, letters[1])
    for step, said in ((E7, "one degree"), (E7 // 6, "ten minutes")):
        if step != E7 and written.notation is Notation.DECIMAL:
            continue
        for value, way in ((abs(e7) + step, "small"), (abs(e7) - step, "large")):
            if 0 <= value <= axis.limit_deg * E7:
                yield SlipKind.OFF, written.sign * value, (f"{axis} looks {said} too {way}", None)
    for value, was, should in _point_shifts(written):
        words = f"{axis} {was} looks like {should} with the decimal point misplaced"
        yield SlipKind.POINT, value, (words, should)


def _digit_words(axis: str, kind: SlipKind, variant: Variant) -> str:
    part, was, should = variant.differing()
    end = {
        SlipKind.DIGIT: "with one digit wrong",
        SlipKind.SWAP: "with two neighbouring digits swapped",
        SlipKind.DROPPED: "with a digit left out",
        SlipKind.DOUBLED: "with a digit typed twice",
    }[kind]
    if kind is SlipKind.SWAP and len(was) == 2:
        end = "typed the other way round"
    return f"{axis} {part} {was} look like {should} {end}"


def _point_shifts(written: Written) -> Iterator[tuple[int, str, str]]:
    """Yield decimal degrees with the point one place further left or right."""
    if written.notation is not Notation.DECIMAL or not written.fraction:
        return
    whole = str(int(written.parts[0]))
    shifted = [(whole + written.fraction[0], written.fraction[1:])]
    if len(whole) > 1:
        shifted.append((whole[:-1], whole[-1] + written.fraction))
    for new_whole, fraction in shifted:
        value = Written(written.axis, written.notation, written.sign, (new_whole,), fraction).value_e7()
        if value is not None:
            yield value, f"{whole}.{written.fraction}", f"{new_whole}.{fraction}" if fraction else new_whole


@lru_cache(maxsize=1 << 10)  # a point is held against several others in turn
def whole_slips(position: Position, typed: Typed | None = None) -> tuple[Slip, ...]:
    """Return the slips that change both coordinates at once: exchanged, both hemispheres, both misread."""
    latitude, longitude = position.latitude_e7, position.longitude_e7
    found: list[Slip] = []

    def add(kind: SlipKind, new_latitude: int, new_longitude: int, cost: float, words: str) -> None:
        if abs(new_latitude) <= 90 * E7 and (new_latitude, new_longitude) != (latitude, longitude):
            found.append(Slip(kind, "both", _position(new_latitude, new_longitude), cost, (words, None)))

    add(SlipKind.EXCHANGE, longitude, latitude, 0.0, "latitude and longitude look exchanged")
    # Where hemisphere letters stand in columns of their own, only the numbers change places. Zero has no letter.
    words = "latitude and longitude look exchanged, each keeping its hemisphere"
    for north, east in product(_signs(latitude), _signs(longitude)):
        kept = (north * abs(longitude), east * abs(latitude))
        if kept != (longitude, latitude):
            add(SlipKind.EXCHANGE, *kept, 0.0, words)
    add(SlipKind.HEMISPHERE, -latitude, -longitude, _BOTH_HEMISPHERES, "both hemispheres look wrong")
    found.extend(_confused(position, typed))
    return tuple(found)


def _signs(e7: int) -> tuple[int, ...]:
    return (1, -1) if e7 == 0 else (-1 if e7 < 0 else 1,)


def _confused(position: Position, typed: Typed | None) -> Iterator[Slip]:
    """Yield the positions whose digits may both have been read in the wrong notation, the likeliest of equal ones."""
    best: dict[tuple[int, int], tuple[float, Confusion]] = {}
    e7 = (position.latitude_e7, position.longitude_e7)
    axes = (Axis.LATITUDE, Axis.LONGITUDE)
    for written_in, more in ((writings, 0.0), (_before_conversion, _CONVERTED)):
        both = [written_in(value, axis, typed) for value, axis in zip(e7, axes, strict=True)]
        for notation in FAMILIES:
            latitudes, longitudes = (
                [reading for one in own if one.notation is notation for reading in confusions(one)] for own in both
            )
            for one, other in product(latitudes, longitudes):
                key, cost = (one.value_e7, other.value_e7), one.cost + other.cost + more
                if one.words == other.words and key != e7 and (key not in best or cost < best[key][0]):
                    best[key] = (cost, one)
    for (latitude, longitude), (cost, how) in best.items():
        words = f"the coordinates look like {how.words}"
        yield Slip(SlipKind(how.kind), "both", _position(latitude, longitude), cost, (words, None))


def hemisphere_slips(position: Position, typed: Typed | None = None) -> Iterator[Slip]:
    """Yield the positions with one hemisphere changed."""
    for axis, e7 in ((Axis.LATITUDE, position.latitude_e7), (Axis.LONGITUDE, position.longitude_e7)):
        near = (min(-e7, 0), max(-e7, 0))
        for slip in coordinate_slips(e7, axis, typed, near):
            if slip.kind is SlipKind.HEMISPHERE:
                yield _with_mended(slip, axis, position)


def possible_origins(position: Position, typed: Typed | None = None) -> tuple[Slip, ...]:
    """Return every position from which one slip may have led here, the likeliest first."""
    found = list(whole_slips(position, typed))
    for axis in Axis:
        e7 = position.latitude_e7 if axis is Axis.LATITUDE else position.longitude_e7
        found.extend(_with_mended(slip, axis, position) for slip in coordinate_slips(e7, axis, typed))
    return tuple(sorted(found, key=lambda slip: (slip.cost, slip.mended.latitude_e7, slip.mended.longitude_e7)))


def explain_difference(
    position: Position, target: Position, typed: Typed | None = None, *tolerances_e7: int
) -> Slip | None:
    """Return the likeliest slip that leads from `target` to `position`, within a tolerance on each coordinate.

    Of several tolerances, ascending, the first that any slip keeps decides; 0.02 minutes where none is given. None
    where no single slip does. The mended position keeps whatever of the position was not mistyped.
    """
    tolerances = tolerances_e7 or (TOLERANCE_E7,)
    latitude, longitude, widest = target.latitude_e7, target.longitude_e7, tolerances[-1]
    found: list[Slip] = []
    if abs(position.latitude_e7 - latitude) <= widest:
        near = (longitude - widest, longitude + widest)
        slips = coordinate_slips(position.longitude_e7, Axis.LONGITUDE, typed, near)
        found.extend(_with_mended(slip, Axis.LONGITUDE, position) for slip in slips)
    if _apart(position.longitude_e7, longitude) <= widest:
        near = (latitude - widest, latitude + widest)
        slips = coordinate_slips(position.latitude_e7, Axis.LATITUDE, typed, near)
        found.extend(_with_mended(slip, Axis.LATITUDE, position) for slip in slips)
    found.extend(whole_slips(position, typed))
    left = [(left_over_e7(slip, target), slip) for slip in found]
    for tolerance in tolerances:
        kept = [slip for left_e7, slip in left if left_e7 <= tolerance]
        if kept:
            return min(kept, key=lambda slip: slip.cost)
    return None


def left_over_e7(slip: Slip, target: Position) -> int:
    """Return how far the mended position is off the target, the larger of both coordinates."""
    mended = slip.mended
    return max(abs(mended.latitude_e7 - target.latitude_e7), _apart(mended.longitude_e7, target.longitude_e7))


def _with_mended(slip: CoordinateSlip, axis: Axis, position: Position) -> Slip:
    """Return the whole position with one coordinate mended."""
    if axis is Axis.LATITUDE:
        mended = _position(slip.value_e7, position.longitude_e7)
    else:
        mended = _position(position.latitude_e7, slip.value_e7)
    return Slip(slip.kind, axis.value, mended, slip.cost, slip.told)


def _apart(one_e7: int, other_e7: int) -> int:
    return abs((one_e7 - other_e7 + _HALF_TURN_E7) % _TURN_E7 - _HALF_TURN_E7)


def _position(latitude_e7: int, longitude_e7: int) -> Position:
    return Position.from_e7(latitude_e7, (longitude_e7 + _HALF_TURN_E7) % _TURN_E7 - _HALF_TURN_E7)
