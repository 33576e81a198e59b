"""One coordinate as the digits that a person types, and what becomes of it when single digits go wrong.

Works on one latitude or longitude in one notation. What a slip means, how likely it is and how it is said stands in
`slips`; reading text stands in `taskdb.core.notation`.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NamedTuple

from taskdb.core.model import E7, Typed
from taskdb.core.notation.angles import Axis, Notation

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

PART_NAMES = ("degrees", "minutes", "seconds")
FAMILIES = (Notation.DECIMAL, Notation.MINUTES, Notation.SECONDS)
_FAMILY = {
    Notation.DECIMAL: Notation.DECIMAL,
    Notation.MINUTES: Notation.MINUTES,
    Notation.SECONDS: Notation.SECONDS,
    Notation.PACKED_MINUTES: Notation.MINUTES,
    Notation.PACKED_SECONDS: Notation.SECONDS,
}
_PLACES = {Notation.DECIMAL: 0, Notation.MINUTES: 1, Notation.SECONDS: 2}
_MOST_DECIMALS = {Notation.DECIMAL: 7, Notation.MINUTES: 5, Notation.SECONDS: 3}
_TELLING_DECIMALS = {Notation.DECIMAL: 5, Notation.MINUTES: 3, Notation.SECONDS: 1}
"""A position that is whole at so few decimals was most likely typed so: below 1 % by chance, but that every other
whole 5th decimal of a degree is also whole in thousandths of a minute."""
ASSUMED_DECIMALS = {Notation.DECIMAL: 6, Notation.MINUTES: 3, Notation.SECONDS: 1}
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_LEAST_EFFECT_E7 = 18_000
"""Changes below 200 m are no slip that matters: they are left out of the variants."""


@dataclass(frozen=True, slots=True)
class Written:
    """A coordinate's digits: whole parts with their leading zeros, and the decimals of the last one (or "")."""

    axis: Axis
    notation: Notation
    sign: int
    parts: tuple[str, ...]
    fraction: str

    def value_e7(self) -> int | None:
        """Return the coordinate in 1e-7 degree; None where the digits make no coordinate (60 minutes, 95° N)."""
        if any(len(part) > (2 if place else 3) for place, part in enumerate(self.parts)):
            return None
        total, scale = 0, 1
        for place, part in enumerate(self.parts):
            number = int(part)
            if place and number >= 60:
                return None
            total, scale = total * 60 + number, scale * (60 if place else 1)
        decimals = len(self.fraction)
        total = total * 10**decimals + int(self.fraction or "0")
        scale *= 10**decimals
        value = (2 * total * E7 + scale) // (2 * scale)
        return self.sign * value if value <= self.axis.limit_deg * E7 else None


class Variant(NamedTuple):
    """What the coordinate would be with one digit-level slip undone; `texts` are its parts and decimals then."""

    kind: str
    value_e7: int
    written: Written
    texts: tuple[str, ...]

    def differing(self) -> tuple[str, str, str]:
        """Return the name of the part in question, how it stands there and how it should be."""
        parts, fraction = self.written.parts, self.written.fraction
        places = [place for place, part in enumerate(parts) if part != self.texts[place]]
        if fraction != self.texts[-1]:
            was = _with_decimals(parts[-1], fraction)
            return PART_NAMES[len(parts) - 1], was, _with_decimals(self.texts[-2], self.texts[-1])
        first = places[0]
        if len(places) == 1:
            return PART_NAMES[first], _plain(parts[first]), _plain(self.texts[first])
        pair = [f"{_plain(texts[first])}°{texts[first + 1]}" for texts in (parts, self.texts)]
        return f"{PART_NAMES[first]} and {PART_NAMES[first + 1]}", pair[0], pair[1]


def write(e7: int, axis: Axis, notation: Notation, most: int) -> tuple[Written, bool]:
    """Return the coordinate in the fewest decimals that give it exactly, up to `most`; say whether it is exact."""
    size, places = abs(e7), _PLACES[notation]
    for decimals in range(most + 1):
        scale = 60**places * 10**decimals
        total = (2 * size * scale + E7) // (2 * E7)
        is_exact = (2 * total * E7 + scale) // (2 * scale) == size
        if is_exact or decimals == most:
            break
    rest, fraction = divmod(total, 10**decimals)
    parts = [""] * (places + 1)
    for place in range(places, 0, -1):
        rest, number = divmod(rest, 60)
        parts[place] = f"{number:02d}"
    parts[0] = f"{rest:0{2 if axis is Axis.LATITUDE else 3}d}"
    digits = f"{fraction:0{decimals}d}" if decimals else ""
    return Written(axis, notation, -1 if e7 < 0 else 1, tuple(parts), digits), is_exact


class WrittenAll(NamedTuple):
    """Coordinates as `write` gives them, a value for each: degrees, minutes, decimals as a number, and how many."""

    degrees: NDArray[np.int64]
    minutes: NDArray[np.int64]
    fraction: NDArray[np.int64]
    decimals: NDArray[np.int64]


def write_all(e7: NDArray[np.integer[Any]], notation: Notation, most: int) -> WrittenAll:
    """Return what `write` gives for each coordinate, in decimals of a degree or of a minute."""
    import numpy as np

    size = np.abs(e7)
    places = _PLACES[notation]
    total, decimals = np.zeros_like(size), np.zeros(len(size), dtype=np.int64)
    left = np.arange(len(size))
    for number in range(most + 1):
        scale = 60**places * 10**number
        value = (2 * size[left] * scale + E7) // (2 * E7)
        total[left], decimals[left] = value, number
        left = left[(2 * value * E7 + scale) // (2 * scale) != size[left]]
    whole, fraction = np.divmod(total, 10**decimals)
    degrees, minutes = np.divmod(whole, 60) if places else (whole, np.zeros_like(whole))
    return WrittenAll(degrees, minutes, fraction, decimals)


def typed_in(typed: Typed | None) -> Notation | None:
    """Return which of decimal degrees, minutes or seconds was typed, None where it is not known."""
    return None if typed is None else notation_of(typed.notation)


def notation_of(name: str | None) -> Notation | None:
    """Return which of decimal degrees, minutes or seconds a notation of this name writes; None where none does."""
    try:
        return _FAMILY.get(Notation(name)) if name is not None else None
    except ValueError:
        return None


def writings(e7: int, axis: Axis, typed: Typed | None = None) -> tuple[Written, ...]:
    """Return how the coordinate was typed; where that is not known, in each notation that its value lets one think of.

    A value that is whole in few minutes or seconds was typed in them; one that is whole in none may come from any.
    """
    known = typed_in(typed)
    if typed is not None and known is not None:
        text = typed.latitude if axis is Axis.LATITUDE else typed.longitude
        return (_as_in_text(write(e7, axis, known, _MOST_DECIMALS[known])[0], text or ""),)
    told = [write(e7, axis, notation, _TELLING_DECIMALS[notation]) for notation in FAMILIES]
    exact = tuple(written for written, is_exact in told if is_exact)
    return exact or tuple(write(e7, axis, notation, ASSUMED_DECIMALS[notation])[0] for notation in FAMILIES)


def _as_in_text(written: Written, text: str) -> Written:
    """Return the same coordinate with its whole parts as they stand in the text: with leading zeros or without."""
    groups = _NUMBER.findall(text)
    if len(groups) != len(written.parts):
        return written
    typed = tuple(group.replace(",", ".").partition(".")[0] for group in groups)
    if any(not part or int(part) != int(own) for part, own in zip(typed, written.parts, strict=True)):
        return written
    return replace(written, parts=typed)


def digit_variants(written: Written, near_e7: tuple[int, int] | None = None) -> tuple[list[Variant], Counter[str]]:
    """Return what the coordinate would be with one digit put right, two swapped back, one put in or taken out.

    With `near_e7` only those between the two values; beside them how many there are of each kind in all.
    """
    # Trailing zeros were typed as well, and one of them may be the wrong digit.
    telling = _TELLING_DIGITS[written.notation]
    padded = written.fraction.ljust(telling + 1, "0") if telling else written.fraction
    return _Undoing(replace(written, fraction=padded), near_e7).run()


class _Undoing:
    """Undoes every digit-level slip in turn; by arithmetic, since there are 200 and few are kept."""

    def __init__(self, written: Written, near_e7: tuple[int, int] | None) -> None:
        self.written = written
        self.texts = (*written.parts, written.fraction)
        last = len(written.parts) - 1
        self.weights = [E7 / 60.0**place for place in range(last + 1)]
        self.numbers = [int(part) for part in written.parts]
        self.fraction = int(written.fraction) / 10.0 ** len(written.fraction) if written.fraction else 0.0
        whole = sum(number * weight for number, weight in zip(self.numbers, self.weights, strict=True))
        self.size = whole + self.fraction * self.weights[last]
        self.limit = written.axis.limit_deg * float(E7)
        self.near = near_e7
        self.found: list[Variant] = []
        self.counts: Counter[str] = Counter()

    def run(self) -> tuple[list[Variant], Counter[str]]:
        for place, text in enumerate(self.written.parts):
            self._wrong_digits(place, text, len(text))
            self._swapped(place, text, len(text))
            for other in _with_digit_put_in(text, False, len(text)):
                self._take_part("dropped", place, other)
            for other in _with_double_taken_out(text, False, len(text)):
                self._take_part("doubled", place, other)
        fraction, last = self.written.fraction, len(self.written.parts)
        kept = min(len(fraction), _TELLING_DIGITS[self.written.notation])
        self._wrong_digits(last, fraction, kept)
        self._swapped(last, fraction, kept)
        for other in _with_digit_put_in(fraction, True, kept):
            self._take_fraction("dropped", other)
        for other in _with_double_taken_out(fraction, True, kept):
            self._take_fraction("doubled", other)
        self._swapped_across()
        return self.found, self.counts

    def _wrong_digits(self, place: int, text: str, kept: int) -> None:
        is_fraction = place == len(self.written.parts)
        for at in range(kept):
            step = 10.0 ** -(at + 1) if is_fraction else 10.0 ** (len(text) - 1 - at)
            own = int(text[at])
            for digit in range(10):
                if digit == own:
                    continue
                change = (digit - own) * step
                if place and not is_fraction and self.numbers[place] + change >= 60:
                    continue
                size = self.size + change * self.weights[min(place, len(self.weights) - 1)]
                if self._counts("digit", size):
                    self._keep("digit", size, {place: f"{text[:at]}{digit}{text[at + 1 :]}"})

    def _swapped(self, place: int, text: str, kept: int) -> None:
        for at in range(min(kept, len(text) - 1)):
            if text[at] != text[at + 1]:
                other = text[:at] + text[at + 1] + text[at] + text[at + 2 :]
                if place == len(self.written.parts):
                    self._take_fraction("swap", other)
                else:
                    self._take_part("swap", place, other)

    def _swapped_across(self) -> None:
        """Two digits with a separator or the decimal point between them."""
        for place in range(len(self.texts) - 1):
            left, right = self.texts[place], self.texts[place + 1]
            if right and left[-1] != right[0]:
                texts = {place: left[:-1] + right[0], place + 1: left[-1] + right[1:]}
                value = self._with(texts).value_e7()
                if value is not None and self._counts("swap", abs(value)):
                    self._keep("swap", abs(value), texts)

    def _take_part(self, kind: str, place: int, text: str) -> None:
        number = int(text)
        if len(text) > (2 if place else 3) or (place and number >= 60):
            return
        size = self.size + (number - self.numbers[place]) * self.weights[place]
        if self._counts(kind, size):
            self._keep(kind, size, {place: text})

    def _take_fraction(self, kind: str, text: str) -> None:
        fraction = int(text) / 10.0 ** len(text)
        size = self.size + (fraction - self.fraction) * self.weights[-1]
        if self._counts(kind, size):
            self._keep(kind, size, {len(self.written.parts): text})

    def _counts(self, kind: str, size: float) -> bool:
        """Count a value that matters and say whether it is one of those asked for."""
        if size > self.limit or abs(size - self.size) < _LEAST_EFFECT_E7:
            return False
        self.counts[kind] += 1
        return self.near is None or self.near[0] <= self.written.sign * size <= self.near[1]

    def _keep(self, kind: str, size: float, changed: Mapping[int, str]) -> None:
        texts = tuple(changed.get(place, text) for place, text in enumerate(self.texts))
        self.found.append(Variant(kind, self.written.sign * round(size), self.written, texts))

    def _with(self, changed: Mapping[int, str]) -> Written:
        texts = [changed.get(place, text) for place, text in enumerate(self.texts)]
        return replace(self.written, parts=tuple(texts[:-1]), fraction=texts[-1])


_TELLING_DIGITS = {Notation.DECIMAL: 3, Notation.MINUTES: 1, Notation.SECONDS: 0}
"""How many decimals can move a point by more than 200 m."""


def _with_digit_put_in(text: str, is_fraction: bool, kept: int) -> Iterator[str]:
    if is_fraction:
        for at in range(kept):
            for digit in "0123456789":
                if digit != text[at]:
                    yield text[:at] + digit + text[at:]
        return
    # A whole part that begins with a zero may have been typed without it, one digit short; or the zero is the second
    # digit, and the first was left out (104 as 04).
    found: dict[str, None] = {}
    for short in dict.fromkeys((text.lstrip("0") or "0", text)):
        for at in range(len(short) + 1):
            for digit in "0123456789":
                if at or digit != "0":
                    found[short[:at] + digit + short[at:]] = None
    yield from found


def _with_double_taken_out(text: str, is_fraction: bool, kept: int) -> Iterator[str]:
    short = text if is_fraction else (text.lstrip("0") or "0")
    for at in range(min(len(short) - 1, kept) if is_fraction else len(short) - 1):
        if short[at] == short[at + 1] and not (at and short[at - 1] == short[at]):
            yield short[:at] + short[at + 1 :]


def _with_decimals(whole: str, fraction: str) -> str:
    digits = fraction.rstrip("0")
    return f"{int(whole)}.{digits}" if digits else str(int(whole))


def _plain(part: str) -> str:
    return part.lstrip("0").zfill(1) if len(part) == 3 else part
