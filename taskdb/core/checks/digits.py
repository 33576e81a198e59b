"""One coordinate as the digits that a person types, and what becomes of it when single digits go wrong.

Works on one latitude or longitude in one notation. What a slip means, how likely it is and how it is said stands in
`slips`; reading text stands in `taskdb.core.notation`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from taskdb.core.model import E7, Typed
from taskdb.core.notation.angles import Axis, Notation

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
_ASSUMED_DECIMALS = {Notation.DECIMAL: 6, Notation.MINUTES: 3, Notation.SECONDS: 1}
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

    def last_part(self) -> str:
        """Return the last part with its decimals, leading zeros dropped."""
        whole = str(int(self.parts[-1]))
        return f"{whole}.{self.fraction}" if self.fraction else whole


@dataclass(frozen=True, slots=True)
class Variant:
    """What the coordinate would be with one digit-level slip undone; `was` and `should` are the part in question."""

    kind: str
    value_e7: int
    part: str
    was: str
    should: str


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


def family(typed: Typed | None) -> Notation | None:
    """Return which of decimal degrees, minutes or seconds was typed, None where it is not known."""
    if typed is None or typed.notation is None:
        return None
    try:
        return _FAMILY.get(Notation(typed.notation))
    except ValueError:
        return None


def writings(e7: int, axis: Axis, typed: Typed | None = None) -> tuple[Written, ...]:
    """Return how the coordinate was typed; where that is not known, in each notation that its value lets one think of.

    A value that is whole in few minutes or seconds was typed in them; one that is whole in none may come from any.
    """
    known = family(typed)
    if typed is not None and known is not None:
        text = typed.latitude if axis is Axis.LATITUDE else typed.longitude
        return (_as_in_text(write(e7, axis, known, _MOST_DECIMALS[known])[0], text or ""),)
    told = [write(e7, axis, notation, _TELLING_DECIMALS[notation]) for notation in FAMILIES]
    exact = tuple(written for written, is_exact in told if is_exact)
    return exact or tuple(write(e7, axis, notation, _ASSUMED_DECIMALS[notation])[0] for notation in FAMILIES)


def _as_in_text(written: Written, text: str) -> Written:
    """Return the same coordinate with its whole parts as they stand in the text: with leading zeros or without."""
    groups = _NUMBER.findall(text)
    if len(groups) != len(written.parts):
        return written
    typed = tuple(group.replace(",", ".").partition(".")[0] for group in groups)
    if any(not part or int(part) != int(own) for part, own in zip(typed, written.parts, strict=True)):
        return written
    return replace(written, parts=typed)


def digit_variants(written: Written) -> Iterator[Variant]:
    """Yield what the coordinate would be with one digit put right, two swapped back, one put in or taken out."""
    for kind, other in _altered(written):
        value = other.value_e7()
        if value is not None and abs(value - _value(written)) >= _LEAST_EFFECT_E7:
            yield _variant(kind, written, other, value)


def _value(written: Written) -> int:
    return written.value_e7() or 0


def _altered(written: Written) -> Iterator[tuple[str, Written]]:
    texts = [*written.parts, written.fraction]
    for place, text in enumerate(texts):
        is_fraction = place == len(texts) - 1
        kept = min(len(text), _telling_digits(written)) if is_fraction else len(text)
        for at in range(kept):
            for digit in "0123456789":
                if digit != text[at]:
                    yield "digit", _replace(written, place, text[:at] + digit + text[at + 1 :])
            if at + 1 < len(text) and text[at] != text[at + 1]:
                yield "swap", _replace(written, place, text[:at] + text[at + 1] + text[at] + text[at + 2 :])
        for other in _with_digit_put_in(text, is_fraction, kept):
            yield "dropped", _replace(written, place, other)
        for other in _with_double_taken_out(text, is_fraction, kept):
            yield "doubled", _replace(written, place, other)
    yield from _swapped_across(written, texts)


def _telling_digits(written: Written) -> int:
    """Return how many decimals can move a point by more than 200 m."""
    return {Notation.DECIMAL: 3, Notation.MINUTES: 1, Notation.SECONDS: 0}[written.notation]


def _with_digit_put_in(text: str, is_fraction: bool, kept: int) -> Iterator[str]:
    if is_fraction:
        for at in range(kept):
            for digit in "0123456789":
                if digit != text[at]:
                    yield text[:at] + digit + text[at:]
        return
    # A whole part that begins with a zero may have been typed without it, one digit short.
    short = text.lstrip("0") or "0"
    for at in range(len(short) + 1):
        for digit in "0123456789":
            if at or digit != "0":
                yield short[:at] + digit + short[at:]


def _with_double_taken_out(text: str, is_fraction: bool, kept: int) -> Iterator[str]:
    short = text if is_fraction else (text.lstrip("0") or "0")
    for at in range(min(len(short) - 1, kept) if is_fraction else len(short) - 1):
        if short[at] == short[at + 1] and not (at and short[at - 1] == short[at]):
            yield short[:at] + short[at + 1 :]


def _swapped_across(written: Written, texts: list[str]) -> Iterator[tuple[str, Written]]:
    """Yield the swaps of two digits that have a separator or the decimal point between them."""
    for place in range(len(texts) - 1):
        left, right = texts[place], texts[place + 1]
        if right and left[-1] != right[0]:
            swapped = _replace(written, place, left[:-1] + right[0])
            yield "swap", _replace(swapped, place + 1, left[-1] + right[1:])


def _replace(written: Written, place: int, text: str) -> Written:
    if place == len(written.parts):
        return replace(written, fraction=text)
    return replace(written, parts=(*written.parts[:place], text, *written.parts[place + 1 :]))


def _variant(kind: str, old: Written, new: Written, value_e7: int) -> Variant:
    places = [place for place, part in enumerate(old.parts) if part != new.parts[place]]
    if old.fraction == new.fraction and len(places) == 1:
        (place,) = places
        return Variant(kind, value_e7, PART_NAMES[place], _plain(old.parts[place]), _plain(new.parts[place]))
    if old.fraction == new.fraction:
        first = places[0]
        pair = [f"{_plain(one.parts[first])}°{one.parts[first + 1]}" for one in (old, new)]
        return Variant(kind, value_e7, f"{PART_NAMES[first]} and {PART_NAMES[first + 1]}", pair[0], pair[1])
    return Variant(kind, value_e7, PART_NAMES[len(old.parts) - 1], old.last_part(), new.last_part())


def _plain(part: str) -> str:
    return part.lstrip("0").zfill(1) if len(part) == 3 else part
