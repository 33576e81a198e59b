"""What a column's cells are, as far as coordinates go: letters of a hemisphere, numbers, whole numbers, text."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from taskdb.core.notation.angles import plain_signs
from taskdb.core.notation.joined import letter_of
from taskdb.core.numbers import plain_number

MOST = 0.75
"""What holds for this share of a column's cells holds for the column: a few may be spoilt."""

_NUMBER = re.compile(
    r"[NSEWOnsewo]? ?([+-]?)(\d+)(?:[.,](\d*))? ?(?:°|'|\"|''|d|m|s|deg|min|sec|Grad|Min|Sek)?\.? ?([NSEWOnsewo]?)"
)


@dataclass(frozen=True, slots=True)
class Cells:
    """A column's cells. `letters` are the hemispheres where it holds nothing else; `has_text` where it holds no single
    numbers. `is_whole`: without decimals; `below_60`, `below_181`: within what minutes and degrees can be.
    `is_sign`: nothing but plus and minus signs.
    """

    filled: int
    letters: frozenset[str] = frozenset()
    is_number: bool = False
    is_whole: bool = False
    below_60: bool = False
    below_181: bool = False
    has_minus: bool = False
    is_sign: bool = False

    @property
    def has_text(self) -> bool:
        return self.filled > 0 and not (self.is_number or self.letters or self.is_sign)


def look_at(cells: Sequence[str]) -> Cells:
    """Return what the cells of a column are."""
    filled = [plain_signs(cell) for cell in cells if cell.strip()]
    if not filled:
        return Cells(0)
    least = MOST * len(filled)
    letters = [letter for cell in filled if (letter := letter_of(cell)) is not None]
    if len(letters) >= least:
        # One letter of the other axis among many is spoilt, and its row will say so.
        for axis in ("NS", "EWO"):
            own = frozenset(letters) & set(axis)
            if sum(letter in own for letter in letters) >= MOST * len(letters):
                return Cells(len(filled), own)
        return Cells(len(filled), frozenset(letters))
    if all(cell in ("+", "-") for cell in filled):
        return Cells(len(filled), is_sign=True)
    found = [match for cell in filled if (match := _NUMBER.fullmatch(plain_number(cell))) is not None]
    if len(found) < least:
        return Cells(len(filled))
    sizes = [int(match[2][:9]) for match in found]
    return Cells(
        len(filled),
        is_number=True,
        is_whole=sum(not (match[3] or "").strip("0") for match in found) >= least,
        below_60=sum(size < 60 for size in sizes) >= least,
        below_181=sum(size <= 180 for size in sizes) >= least,
        has_minus=any(match[1] == "-" for match in found),
    )
