"""How people mistype positions: the smallest slip that explains a difference, and the places a slip may have come from.

A slip is undone in the notation in which the point was typed (in all three that people use where that is not known).
Computes and words it; whether a slip is to be believed is for the rules.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import product
from typing import NamedTuple

from taskdb.core.checks.digits import Variant, Written, digit_variants, writings
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
    SlipKind.MINUTES_AS_DECIMALS: 1,
    SlipKind.DECIMALS_AS_MINUTES: 1,
    SlipKind.SECONDS_AS_DECIMALS: 1,
    SlipKind.DECIMALS_AS_SECONDS: 1,
}
"""In how many ways a slip of the kind can befall one coordinate so that it matters: the more, the less likely each.
Wrong and swapped digits are counted. That all kinds are equally frequent, and a misplaced point rarer, is common
practice, no source."""
_BOTH_HEMISPHERES = 3.0
_ONE_OF_TWO = math.log(2.0)
"""A slip in one coordinate could as well have befallen the other."""

_MISREAD_WORDS = {
    SlipKind.MINUTES_AS_DECIMALS: "degrees and minutes read as decimals of a degree",
    SlipKind.DECIMALS_AS_MINUTES: "decimals of a degree read as minutes",
    SlipKind.SECONDS_AS_DECIMALS: "seconds read as decimals of a minute",
    SlipKind.DECIMALS_AS_SECONDS: "decimals of a minute read as seconds",
}


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
    if e7 == 0:
        # Zero has no sign: what was mistyped may have been on either side of it.
        choices = (*choices, *(replace(written, sign=-1) for written in choices))
    for written in choices:
        variants, many = digit_variants(written, near_e7)
        found: list[tuple[SlipKind, int, Told]] = [(SlipKind(one.kind), one.value_e7, one) for one in variants]
        for kind, value, told in _other_slips(written, e7):
            if near_e7 is None or near_e7[0] <= value <= near_e7[1]:
                found.append((kind, value, told))
        for kind, value, told in found:
            cost = math.log(_WAYS.get(kind) or many[kind]) + math.log(len(choices)) + _ONE_OF_TWO
            if value != e7 and (value not in best or cost < best[value].cost):
                best[value] = CoordinateSlip(kind, value, cost, told)
    return tuple(sorted(best.values(), key=lambda slip: (slip.cost, slip.value_e7)))


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
    for kind, value in _misread(written):
        yield kind, value, (f"{axis} looks like {_MISREAD_WORDS[kind]}", None)


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


def _misread(written: Written) -> Iterator[tuple[SlipKind, int]]:
    """Yield what the digits give in another notation: they may have been read in the wrong one."""
    axis, sign, fraction = written.axis, written.sign, written.fraction
    readings: list[tuple[SlipKind, Notation, tuple[str, ...], str]] = []
    if written.notation is Notation.DECIMAL and fraction:
        # Trailing zeros are gone from the value: 20 minutes stand as 0.2.
        minutes, rest = fraction[:2].ljust(2, "0"), fraction[2:]
        readings.append((SlipKind.MINUTES_AS_DECIMALS, Notation.MINUTES, (*written.parts, minutes), rest))
        if rest:
            seconds = (*written.parts, minutes, rest[:2].ljust(2, "0"))
            readings.append((SlipKind.MINUTES_AS_DECIMALS, Notation.SECONDS, seconds, rest[2:]))
    elif written.notation is Notation.MINUTES:
        readings.append(
            (SlipKind.DECIMALS_AS_MINUTES, Notation.DECIMAL, written.parts[:1], written.parts[1] + fraction)
        )
        if fraction:
            seconds = (*written.parts, fraction[:2].ljust(2, "0"))
            readings.append((SlipKind.SECONDS_AS_DECIMALS, Notation.SECONDS, seconds, fraction[2:]))
    elif written.notation is Notation.SECONDS:
        digits = written.parts[2] + fraction
        readings.append((SlipKind.DECIMALS_AS_SECONDS, Notation.MINUTES, written.parts[:2], digits))
        readings.append((SlipKind.DECIMALS_AS_MINUTES, Notation.DECIMAL, written.parts[:1], written.parts[1] + digits))
    for kind, notation, parts, decimals in readings:
        value = Written(axis, notation, sign, parts, decimals).value_e7()
        if value is not None:
            yield kind, value


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
    theirs = _misread_by_notation(longitude, Axis.LONGITUDE, typed)
    for key, value in _misread_by_notation(latitude, Axis.LATITUDE, typed).items():
        if key in theirs:
            words = f"the coordinates look like {_MISREAD_WORDS[key[0]]}"
            add(key[0], value, theirs[key], 0.0, words)
    return tuple(found)


def _signs(e7: int) -> tuple[int, ...]:
    return (1, -1) if e7 == 0 else (-1 if e7 < 0 else 1,)


def _misread_by_notation(e7: int, axis: Axis, typed: Typed | None) -> dict[tuple[SlipKind, str, int], int]:
    """Return the readings in another notation, keyed so that latitude and longitude can be taken together."""
    found: dict[tuple[SlipKind, str, int], int] = {}
    for written in writings(e7, axis, typed):
        seen: Counter[SlipKind] = Counter()
        for kind, value in _misread(written):
            found[kind, written.notation.value, seen[kind]] = value
            seen[kind] += 1
    return found


def possible_origins(position: Position, typed: Typed | None = None) -> tuple[Slip, ...]:
    """Return every position from which one slip may have led here, the likeliest first."""
    found = list(whole_slips(position, typed))
    for axis in Axis:
        e7 = position.latitude_e7 if axis is Axis.LATITUDE else position.longitude_e7
        found.extend(_placed(slip, axis, position) for slip in coordinate_slips(e7, axis, typed))
    return tuple(sorted(found, key=lambda slip: (slip.cost, slip.mended.latitude_e7, slip.mended.longitude_e7)))


def explain_difference(
    position: Position, target: Position, typed: Typed | None = None, tolerance_e7: int = TOLERANCE_E7
) -> Slip | None:
    """Return the likeliest slip that leads from `target` to `position`, within the tolerance on each coordinate.

    None where no single slip does. The mended position keeps whatever of the position was not mistyped.
    """
    latitude, longitude = target.latitude_e7, target.longitude_e7
    found: list[Slip] = []
    if abs(position.latitude_e7 - latitude) <= tolerance_e7:
        near = (longitude - tolerance_e7, longitude + tolerance_e7)
        slips = coordinate_slips(position.longitude_e7, Axis.LONGITUDE, typed, near)
        found.extend(_placed(slip, Axis.LONGITUDE, position) for slip in slips)
    if _apart(position.longitude_e7, longitude) <= tolerance_e7:
        near = (latitude - tolerance_e7, latitude + tolerance_e7)
        slips = coordinate_slips(position.latitude_e7, Axis.LATITUDE, typed, near)
        found.extend(_placed(slip, Axis.LATITUDE, position) for slip in slips)
    found.extend(
        slip
        for slip in whole_slips(position, typed)
        if abs(slip.mended.latitude_e7 - latitude) <= tolerance_e7
        and _apart(slip.mended.longitude_e7, longitude) <= tolerance_e7
    )
    return min(found, key=lambda slip: slip.cost, default=None)


def _placed(slip: CoordinateSlip, axis: Axis, position: Position) -> Slip:
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
