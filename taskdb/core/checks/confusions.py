"""One coordinate's digits read in another notation than the one in which they were typed: what they may have meant.

Decimals read as minutes or seconds, minutes and seconds read as decimals, seconds read as decimals of a minute and
back; with the zeros in front lost, and with what a lenient reader made of 75 minutes. How likely that is and how it is
said with a position stands in `slips`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

from taskdb.core.checks.digits import Written
from taskdb.core.notation.angles import Notation

MINUTES_AS_DECIMALS = "minutes-as-decimals"
DECIMALS_AS_MINUTES = "decimals-as-minutes"
SECONDS_AS_DECIMALS = "seconds-as-decimals"
DECIMALS_AS_SECONDS = "decimals-as-seconds"

_ZEROS_LOST = math.log(4.0)
"""How much less likely it is, as natural logarithm, that 5 minutes were written as 5 and not as 05. From the habit of
writing two digits, no source."""


class Confusion(NamedTuple):
    """What the digits give in the notation in which they were typed: `words` say what happened, `cost` how much less
    likely it is than that they stand there as they were typed.
    """

    kind: str
    words: str
    value_e7: int
    cost: float


@lru_cache(maxsize=1 << 12)  # a coordinate is held against several others in turn
def confusions(written: Written) -> tuple[Confusion, ...]:
    """Return what the coordinate may have been if its digits were read in the wrong notation, no value twice."""
    found: dict[tuple[str, int], Confusion] = {}
    bare = replace(written, fraction=written.fraction.rstrip("0"))
    for kind, words, notation, parts, decimals, cost in _readings(bare):
        value = Written(written.axis, notation, written.sign, parts, decimals).value_e7()
        if value is not None and (words, value) not in found:
            found[words, value] = Confusion(kind, words, value, cost)
    return tuple(found.values())


_Reading = tuple[str, str, Notation, tuple[str, ...], str, float]


def _readings(written: Written) -> Iterator[_Reading]:
    if written.notation is Notation.DECIMAL:
        if written.fraction:
            yield from _meant_minutes(written.parts[0], written.fraction)
            yield from _meant_seconds(written.parts[0], written.fraction)
    elif written.notation is Notation.MINUTES:
        for degrees, (minutes,) in _uncarried(written.parts):
            words = "decimals of a degree read as minutes"
            yield DECIMALS_AS_MINUTES, words, Notation.DECIMAL, (degrees,), minutes + written.fraction, 0.0
        if written.fraction:
            yield from _meant_seconds_of_minutes(written)
    else:
        for degrees, (minutes, seconds) in _uncarried(written.parts):
            words = "decimals of a degree read as minutes and seconds"
            digits = minutes + seconds + written.fraction
            yield DECIMALS_AS_MINUTES, words, Notation.DECIMAL, (degrees,), digits, 0.0
            if seconds.startswith("0") and not written.fraction:
                digits = minutes + seconds[1:]
                yield DECIMALS_AS_MINUTES, words, Notation.DECIMAL, (degrees,), digits, _ZEROS_LOST
        yield from _meant_decimals_of_minutes(written)


def _meant_minutes(degrees: str, digits: str) -> Iterator[_Reading]:
    """47.125 may have been 47°12.5′, and 47.525 have been 47°5.25′."""
    words = "minutes read as decimals of a degree"
    # Trailing zeros are gone from the value: 20 minutes stand as 0.2.
    whole = (degrees, digits[:2].ljust(2, "0"))
    yield MINUTES_AS_DECIMALS, words, Notation.MINUTES, whole, digits[2:], 0.0
    yield MINUTES_AS_DECIMALS, words, Notation.MINUTES, (degrees, digits[:1]), digits[1:], _ZEROS_LOST


def _meant_seconds(degrees: str, digits: str) -> Iterator[_Reading]:
    """47.1207 may have been 47°12′07″, and so may 47.127, since 70″ are none; 47.512 may have been 47°5′12″."""
    words = "minutes and seconds read as decimals of a degree"
    splits = [
        (digits[:2].ljust(2, "0"), digits[2:4].ljust(2, "0"), digits[4:], 0.0),
        (digits[:1], digits[1:3].ljust(2, "0"), digits[3:], _ZEROS_LOST),
    ]
    if len(digits) == 3:
        splits.append((digits[:2], digits[2:], "", _ZEROS_LOST))
    if len(digits) == 2:
        splits.append((digits[:1], digits[1:], "", 2.0 * _ZEROS_LOST))
    for minutes, seconds, decimals, cost in splits:
        yield MINUTES_AS_DECIMALS, words, Notation.SECONDS, (degrees, minutes, seconds), decimals, cost


def _meant_seconds_of_minutes(written: Written) -> Iterator[_Reading]:
    """12.07 minutes may have been 12′07″, and so may 12.7."""
    words, digits = "seconds read as decimals of a minute", written.fraction
    parts = (*written.parts, digits[:2].ljust(2, "0"))
    yield SECONDS_AS_DECIMALS, words, Notation.SECONDS, parts, digits[2:], 0.0
    if len(digits) == 1:
        yield SECONDS_AS_DECIMALS, words, Notation.SECONDS, (*written.parts, digits), "", _ZEROS_LOST


def _meant_decimals_of_minutes(written: Written) -> Iterator[_Reading]:
    """12′07″ may have been 12.07 minutes or 12.7; 13′15″ have been 12.75, taken for 12′75″."""
    words = "decimals of a minute read as seconds"
    degrees, minutes, seconds = written.parts
    choices = [((degrees, minutes), seconds.zfill(2) + written.fraction, 0.0)]
    if seconds.zfill(2).startswith("0") and not written.fraction:
        choices.append(((degrees, minutes), seconds[-1:], _ZEROS_LOST))
    if int(seconds) < 40:
        lower = int(degrees) * 60 + int(minutes) - 1
        if lower >= 0:
            parts = (f"{lower // 60:0{len(degrees)}d}", f"{lower % 60:02d}")
            choices.append((parts, f"{int(seconds) + 60}{written.fraction}", 0.0))
    for parts, decimals, cost in choices:
        yield DECIMALS_AS_SECONDS, words, Notation.MINUTES, parts, decimals, cost


def _uncarried(parts: tuple[str, ...]) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Yield degrees and the rest as they stand, and with 60 minutes or seconds taken back from the part before: a
    lenient reader makes 51°15′ of 50°75′.
    """
    degrees, *rest = (int(part) for part in parts)
    choices = [(degrees, rest)]
    if len(rest) > 1 and rest[1] < 40:
        choices.append((degrees, [rest[0] - 1, rest[1] + 60]))
    choices.extend([(degree - 1, [numbers[0] + 60, *numbers[1:]]) for degree, numbers in choices])
    for degree, numbers in choices:
        if degree >= 0 and all(0 <= number < 100 for number in numbers):
            yield str(degree), tuple(f"{number:02d}" for number in numbers)
