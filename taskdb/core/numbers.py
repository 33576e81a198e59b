"""Numbers as programs write them (`2.7e-05`, `.5`) made plain, and counts in words (`3 waypoints`)."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

# The sign of the exponent is asked for: `1.5e-05` is how programs write small numbers, `47E1` how nobody writes any.
_EXPONENT = re.compile(r"([+-]?)(\d{1,30}(?:[.,]\d{0,30})?|[.,]\d{1,30})[eE]([+-]\d{1,3})", re.ASCII)
_ANY_EXPONENT = re.compile(_EXPONENT.pattern.replace("([+-]\\d{1,3})", "([+-]?\\d{1,3})"), re.ASCII)
_OPEN = re.compile(r"([+-]?)(?:(\d+)\.|\.(\d+))", re.ASCII)
_SMALLEST, _LARGEST = -40, 30
_MOST_POWERS = 290


def shortest_decimal(number: float) -> str:
    """Return the shortest decimal text that reads back as the same number, without an exponent."""
    text = format(Decimal(repr(float(number))), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def power_of_ten(exponent: int) -> float:
    """Return 10 to an exponent, cut to what a number can hold: a cell may have hundreds of digits."""
    return 10.0 ** max(-_MOST_POWERS, min(exponent, _MOST_POWERS))


def plain_number(text: str, *, only_numbers: bool = False) -> str:
    """Return a number with an exponent written out, `0.` as `0` and `.5` as `0.5`; any other text as it is.

    The sign stays. What is smaller than 1e-40 is 0; an exponent beyond 30 is left as it is. `only_numbers`: in a format
    where nothing but a number can stand, the exponent needs no sign.
    """
    if text.isdigit():
        return text
    match = (_ANY_EXPONENT if only_numbers else _EXPONENT).fullmatch(text)
    if match is not None:
        exponent = int(match[3])
        if exponent > _LARGEST:
            return text
        if exponent < _SMALLEST:
            return match[1] + "0"
        number = Decimal(match[2].replace(",", ".")).scaleb(exponent)
        return match[1] + format(number, "f")
    match = _OPEN.fullmatch(text)
    if match is None:
        return text
    return match[1] + (match[2] if match[3] is None else f"0.{match[3]}")


def counted(number: int, singular: str, plural: str | None = None) -> str:
    """Return `1 waypoint`, `3 waypoints`."""
    return f"{number} {singular if number == 1 else plural or singular + 's'}"


def some_of(texts: Sequence[str], most: int, *, count: int | None = None) -> str:
    """Return texts in one line, `most` of them at most: `A, B and 3 more`. `count`: of so many they are the first."""
    more = (len(texts) if count is None else count) - most
    return ", ".join(texts[:most]) + (f" and {more} more" if more > 0 else "")
