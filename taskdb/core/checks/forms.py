"""In which form the coordinates of a source were typed, and which rows have a digit less or more than all others."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence

from taskdb.core.checks.digits import PART_NAMES, typed_in
from taskdb.core.model import Waypoint
from taskdb.core.notation.angles import Notation
from taskdb.values import dataclass

LEAST_ROWS = 40
USUAL_SHARE = 0.97
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


def find_oddities(waypoints: Sequence[Waypoint]) -> tuple[Oddity, ...]:
    """Return the odd parts, in order of the points.

    Only in sources of at least 40 rows of which 97 % agree: where trailing zeros are dropped one row in ten differs,
    and nothing is told. Nor is it of whole parts that are nowhere filled up with zeros: 9 and 10 are both whole.
    """
    rows: dict[tuple[Notation, str | None, str, str], list[tuple[int, int]]] = defaultdict(list)
    filled: set[tuple[Notation, str | None, str, str]] = set()
    for index, point in enumerate(waypoints):
        notation = typed_in(point.typed)
        if notation is None or point.typed is None:
            continue
        for axis, text in (("latitude", point.typed.latitude), ("longitude", point.typed.longitude)):
            for part, digits, is_filled in _digits(text or ""):
                rows[notation, point.source, axis, part].append((index, digits))
                if is_filled:
                    filled.add((notation, point.source, axis, part))
    odd: list[Oddity] = []
    for key, found in rows.items():
        if key not in filled:
            continue
        axis, part = key[2:]
        usual, count = Counter(digits for _, digits in found).most_common(1)[0]
        share = count / len(found)
        if len(found) >= LEAST_ROWS and share >= USUAL_SHARE:
            odd.extend(Oddity(index, axis, part, digits, usual, share) for index, digits in found if digits != usual)
    return tuple(sorted(odd, key=lambda one: (one.index, one.axis, one.part)))


def _digits(text: str) -> Iterator[tuple[str, int, bool]]:
    """Yield the number of digits of each whole part and of the decimals, and whether zeros fill them up."""
    groups = [group.replace(",", ".").partition(".") for group in _NUMBER.findall(text)]
    for name, (whole, _, _) in zip(PART_NAMES, groups, strict=False):
        yield name, len(whole), len(whole) > 1 and whole.startswith("0")
    if groups:
        yield "decimals", len(groups[-1][2]), True
