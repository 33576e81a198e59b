"""Where a text of bare numbers may be cut into a latitude and a longitude, when commas may part or be decimal signs."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import combinations, pairwise

_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)"
_BARE = re.compile(rf"{_NUMBER}(?:(?:\s*,\s*|\s+){_NUMBER}){{1,8}}")
_PIECE = re.compile(rf"(\s*,\s*|\s+)?({_NUMBER})")
_MOST_COMMAS = 6

Halves = tuple[str, str]


def bare_halves(text: str) -> tuple[Halves, ...] | None:
    """Return every way to cut numbers parted by commas and blanks into two halves; None for any other text.

    A comma without a blank beside it may be a decimal comma. Halves are as written, or with blanks between their parts
    where commas part them. Whether a half can be a coordinate is not looked at.
    """
    if _BARE.fullmatch(text) is None:
        return None
    pieces = _PIECE.findall(text)
    numbers = [number for _, number in pieces]
    gaps = ["c" if gap == "," else "s" if "," in gap else "b" for gap, _ in pieces[1:]]
    tight = [i for i, gap in enumerate(gaps) if gap == "c" and _may_be_decimal(numbers[i], numbers[i + 1])]
    if len(tight) > _MOST_COMMAS:
        return ()
    found: list[Halves] = []
    for count in range(len(tight), -1, -1):
        for decimal in combinations(tight, count):
            if any(later - earlier == 1 for earlier, later in pairwise(decimal)):
                continue
            found += _cut(*_merged(numbers, gaps, decimal))
            if count and count == gaps.count("c") and "b" in gaps and _is_even(found):
                return tuple(found)  # `47,26 11,34`: both halves have their decimal comma, and nothing is open
    return tuple(dict.fromkeys(found))


def _may_be_decimal(before: str, after: str) -> bool:
    return "." not in before and after.isdigit()


def _merged(numbers: list[str], gaps: list[str], decimal: tuple[int, ...]) -> tuple[list[str], list[str]]:
    """Return the numbers and the gaps that are left where some commas are decimal signs."""
    merged, left = [numbers[0]], []
    for i, gap in enumerate(gaps):
        if i in decimal:
            merged[-1] += "," + numbers[i + 1]
        else:
            merged.append(numbers[i + 1])
            left.append(gap)
    return merged, left


def _cut(numbers: list[str], gaps: list[str]) -> Iterator[Halves]:
    """Yield the halves of numbers: cut at a comma where blanks part too, at half where only blanks do."""
    if len(set(gaps)) == 1:
        cuts = range(1, len(numbers)) if gaps[0] != "b" else [len(numbers) // 2] if len(numbers) % 2 == 0 else []
    else:
        strong = [i + 1 for i, gap in enumerate(gaps) if gap == "s"] or [i + 1 for i, g in enumerate(gaps) if g == "c"]
        weak = [gap for gap in gaps if gap == "c"]
        cuts = strong if len(strong) == 1 and (gaps[strong[0] - 1] == "c" or not weak) else []
    for cut in cuts:
        if max(cut, len(numbers) - cut) <= 3:
            yield " ".join(numbers[:cut]), " ".join(numbers[cut:])


def _is_even(found: list[Halves]) -> bool:
    """Say whether the halves of the one way found are built alike."""
    return len(found) == 1 and len({re.sub(r"[+-]?\d+(?:\.\d*)?", "0", half) for half in found[0]}) == 1
