"""In which form the coordinates of a source were typed, and which rows have a digit less or more than all others."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.checks.digits import PART_NAMES, notation_of
from taskdb.core.notation.angles import Notation
from taskdb.core.packed_waypoints import CodedValues, PackedWaypoints

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LEAST_ROWS = 40
USUAL_SHARE = 0.97
_Part = tuple[Notation, str | None, str]
_SHAPE = str.maketrans("23456789", "11111111")
"""What differs in nothing but in digits other than zero is of one shape: a million texts have some hundred."""
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")


@dataclass(frozen=True, slots=True)
class Oddity:
    """A part of a coordinate with another number of digits than is usual in its source.

    `part` is "degrees", "minutes", "seconds" or "decimals"; `share` of the rows of the source have `usual` digits.
    """

    index: int
    axis: str
    part: str
    digits: int
    usual: int
    share: float


def find_oddities(waypoints: PackedWaypoints) -> tuple[Oddity, ...]:
    """Return the odd parts, in order of the points.

    Only in sources of at least 40 rows of which 97 % agree: where trailing zeros are dropped one row in ten differs,
    and nothing is told. Nor is it of whole parts that are nowhere filled up with zeros: 9 and 10 are both whole.
    """
    import numpy as np

    typed = waypoints.typed
    notations = [None if form is None else notation_of(form[0]) for form in typed.forms.values]
    if not any(notations):
        return ()
    odd: list[Oddity] = []
    sources = waypoints.column("source")
    for axis, texts in zip(("latitude", "longitude"), typed.coordinates(), strict=True):
        shapes = CodedValues((text or "").translate(_SHAPE) for text in texts)
        some, many = len(sources.values), len(shapes.values)
        numbers = (typed.forms.numbers.astype(np.int64) * some + sources.numbers) * many + shapes.numbers
        kinds, kind_of, counts = np.unique(numbers, return_inverse=True, return_counts=True)
        written: dict[_Part, dict[int, list[int]]] = defaultdict(dict)
        filled: set[_Part] = set()
        for kind, number in enumerate(kinds.tolist()):
            notation = notations[number // many // some]
            for part, digits, is_filled in _digits(shapes.values[number % many]) if notation is not None else ():
                key = (notation, sources.values[number // many % some], part)
                written[key].setdefault(digits, []).append(kind)
                if is_filled:
                    filled.add(key)
        for key in filled:
            odd += _odd_rows(axis, key[2], written[key], kind_of, counts)
    return tuple(sorted(odd, key=lambda one: (one.index, one.axis, one.part)))


def _odd_rows(
    axis: str, part: str, kinds: Mapping[int, Sequence[int]], kind_of: NDArray[np.int64], counts: NDArray[np.int64]
) -> Iterator[Oddity]:
    """Yield the rows that have other numbers of digits than nearly all; `kinds` are the kinds of rows by the number."""
    import numpy as np

    rows = {digits: int(counts[some].sum()) for digits, some in kinds.items()}
    usual = max(rows, key=rows.__getitem__)
    total = sum(rows.values())
    share = rows[usual] / total
    if total < LEAST_ROWS or share < USUAL_SHARE:
        return
    for digits, some in kinds.items():
        if digits != usual:
            for index in np.flatnonzero(np.isin(kind_of, some)).tolist():
                yield Oddity(index, axis, part, digits, usual, share)


def _digits(text: str) -> Iterator[tuple[str, int, bool]]:
    """Yield the number of digits of each whole part and of the decimals, and whether zeros fill them up."""
    groups = [group.replace(",", ".").partition(".") for group in _NUMBER.findall(text)]
    for name, (whole, _, _) in zip(PART_NAMES, groups, strict=False):
        yield name, len(whole), len(whole) > 1 and whole.startswith("0")
    if groups:
        yield "decimals", len(groups[-1][2]), True
