"""Coordinates of one shape read by their places with numpy, thousands at once.

The same numbers as one by one: whole digits over a power of ten are the decimal number, correctly rounded, and the
rest is the same sum.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

import numpy as np

from taskdb.core.model import E7

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy.typing as npt

    from taskdb.core.notation.angles import Axis

    Letters = npt.NDArray[np.uint32]
    Floats = npt.NDArray[np.float64]

_ZERO = ord("0")
_MOST_DIGITS = 15
"""Whole numbers up to here are exact, and so are the powers of ten under them (IEEE 754 double)."""


class Shape(Protocol):
    """Where the parts of every cell of a column stand: degrees, minutes and perhaps seconds, their fraction, a side."""

    @property
    def texts(self) -> Sequence[str]: ...
    @property
    def parts(self) -> Sequence[tuple[int, int]]: ...
    @property
    def fraction(self) -> tuple[int, int]: ...
    @property
    def letter(self) -> int: ...


def read_by_place(shape: Shape, axis: Axis) -> tuple[list[int], list[int]] | None:
    """Return 1e-7 degrees and decimals of each cell; None where one is out of range or has very many digits."""
    start, end = shape.fraction
    if any(stop - first > _MOST_DIGITS for first, stop in shape.parts):
        return None
    width = len(shape.texts[0])
    letters = np.frombuffer("".join(shape.texts).encode("utf-32-le"), dtype=np.uint32).reshape(-1, width)
    degrees, minutes, *seconds = (_number(letters, *span) for span in shape.parts)
    values = degrees + minutes / 60.0
    for part in seconds:
        values = values + part / 3600.0
    e7 = np.rint(values * E7)
    if e7.max() > axis.limit_deg * E7:
        return None
    side = letters[:, shape.letter]
    signed = np.where((side == ord("S")) | (side == ord("W")), -e7, e7).astype(np.int64)
    return signed.tolist(), _decimals(letters, start, end).tolist()


def _number(letters: Letters, first: int, stop: int) -> Floats:
    """Return the number that stands in each row between two places, with a point or without."""
    whole = np.zeros(len(letters), dtype=np.int64)
    behind_point: int | None = None
    for at in range(first, stop):
        if letters[0, at] == ord("."):
            behind_point = stop - at - 1
        else:
            whole = whole * 10 + (letters[:, at].astype(np.int64) - _ZERO)
    number: Floats = whole / 10.0 ** (behind_point or 0)
    return number


def _decimals(letters: Letters, start: int, end: int) -> npt.NDArray[np.int64]:
    """Return how many digits of a fraction stand before the zeros at its end."""
    count = np.full(len(letters), max(end - start, 0), dtype=np.int64)
    for place in range(end - 1, start - 1, -1):
        count -= (count == place - start + 1) & (letters[:, place] == _ZERO)
    return count
