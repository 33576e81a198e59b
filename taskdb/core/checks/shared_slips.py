"""Explanations that several doubtful points share: nine islands in the wrong hemisphere were not mistyped one by one.

A wrong hemisphere, an exchange and a confused notation befall many rows at once. Counts for how many points each would
explain, and finds those that bring several points together to one country in which the set has none. Ranks nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from taskdb.core.checks.outlines import UNCODED, countries_at
from taskdb.core.checks.slips import Slip, SlipKind, hemisphere_slips, whole_slips
from taskdb.core.checks.survey import Survey
from taskdb.core.matching.points import Points

TOGETHER = 3
"""So many points make an explanation a shared one."""
_AT_ONCE = 250
_SAMPLE = 2_000
_NEARER = 0.9

Key = tuple[int, str]
"""A point by index, and the words of the slip."""


class Company(NamedTuple):
    """How many more points a slip brings to one country, and how far they then lie from the set, at the median."""

    others: int
    gap_m: float


@dataclass(frozen=True, slots=True)
class SharedSlips:
    """`others`: how many more points each slip brings to where they may lie. `abroad`: the slips that bring a point,
    and so many more with it, to a country that none of them states and the set does not know.
    """

    others: dict[Key, int]
    abroad: dict[Key, Company]

    def of(self, index: int, slip: Slip) -> int:
        """Return how many more points the same slip explains, 0 where it is none that points share."""
        key = (index, slip.words) if is_shareable(slip) else (index, "")
        company = self.abroad.get(key)
        return company.others if company is not None else self.others.get(key, 0)


def is_shareable(slip: Slip) -> bool:
    """Say whether a slip is of a kind that befalls many rows at once."""
    return slip.axis == "both" or slip.kind is SlipKind.HEMISPHERE


def find_shared(survey: Survey, indexes: Sequence[int], keep: Callable[[int, Slip], bool] | None) -> SharedSlips:
    """Return the explanations that at least three of the points share; `keep` leaves out what is ruled out."""
    home: dict[str, list[int]] = defaultdict(list)
    away: dict[tuple[str, str], list[tuple[int, Slip]]] = defaultdict(list)
    for index, slip, codes in _landed(survey, indexes, keep):
        expected = survey.region.expected[index]
        if not expected or not expected.isdisjoint(codes):
            home[slip.words].append(index)
        elif not survey.region.is_stated[index]:
            for code in codes - {UNCODED}:
                away[slip.words, code].append((index, slip))
    others = {
        (index, words): len(members) - 1
        for words, members in home.items()
        if len(members) >= TOGETHER
        for index in members
    }
    at_home = {index for members in home.values() for index in members}
    return SharedSlips(others, dict(_abroad(survey, away, at_home)))


def _landed(
    survey: Survey, indexes: Sequence[int], keep: Callable[[int, Slip], bool] | None
) -> Iterator[tuple[int, Slip, frozenset[str]]]:
    """Yield each shareable slip of each point once a wording, with the countries to which it leads."""
    outlines = survey.given.outlines
    for begin in range(0, len(indexes) if len(indexes) >= TOGETHER else 0, _AT_ONCE):
        slips: dict[Key, Slip] = {}
        for index in indexes[begin : begin + _AT_ONCE]:
            point = survey.waypoints[index]
            for slip in (*whole_slips(point.position, point.typed), *hemisphere_slips(point.position, point.typed)):
                if keep is None or keep(index, slip):
                    slips.setdefault((index, slip.words), slip)
        places = [slip.mended for slip in slips.values()]
        around = countries_at(outlines, places) if outlines is not None else [frozenset[str]()] * len(places)
        for ((index, _), slip), codes in zip(slips.items(), around, strict=True):
            yield index, slip, codes


def _abroad(
    survey: Survey, away: dict[tuple[str, str], list[tuple[int, Slip]]], at_home: set[int]
) -> Iterator[tuple[Key, Company]]:
    """Yield the slips that bring several points to one country, nearer to the set than they stand. Points that such a
    slip brings home are left out.
    """
    for (words, _), members in sorted(away.items(), key=lambda group: len(group[1])):
        free = [(index, slip) for index, slip in members if index not in at_home]
        if len(free) < TOGETHER:
            continue
        stand = _gap_m(survey, [survey.points.centred_m[index] for index, _ in free])
        lie = _gap_m(survey, list(Points.of([slip.mended for _, slip in free]).centred_m))
        if lie <= _NEARER * stand:
            for index, _ in free:
                yield (index, words), Company(len(free) - 1, lie)


def _gap_m(survey: Survey, centred_m: Sequence[object]) -> float:
    """Return how far places lie from the points in company, at the median."""
    import numpy as np

    dense = survey.region.dense.centred_m
    if not len(dense):
        return 0.0
    dense = dense[:: max(1, len(dense) // _SAMPLE)]
    some = np.array(centred_m[:: max(1, len(centred_m) // 50)])
    apart = np.sqrt(((some[:, None, :] - dense[None, :, :]) ** 2).sum(axis=2)).min(axis=1)
    return float(np.median(apart))
