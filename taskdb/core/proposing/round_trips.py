"""Out-and-returns, and quadrilaterals of home and three turn points: far too many to be listed whole.

A quadrilateral is two halves that meet in its middle turn point: with the halves sorted by length, those that fit one
of them stand together, and no circuit is looked at in vain.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from taskdb.core.geodesy import lengths_m
from taskdb.core.proposing.courses import (
    BLOCK,
    Courses,
    are_blocked,
    found,
    none_blocked,
    pass_either_way,
)
from taskdb.core.proposing.places import Floats, Ints, Places, all_of, doubt_m, in_rows, quick_rows_m
from taskdb.core.proposing.wanted import HOME, Wanted

_ROUNDING_M = 1e-6


def out_and_returns(places: Places, wanted: Wanted) -> Iterator[Courses]:
    """Yield all courses to a turn point and back."""
    length = 2 * places.home_m
    holds = all_of(length >= wanted.least_m, length <= wanted.most_m, places.is_first, places.is_last)
    turn = np.flatnonzero(holds)
    turn = turn[none_blocked(places, (turn,), wanted)]
    yield found(places, (turn,), length[turn])


def quadrilaterals(places: Places, wanted: Wanted) -> Iterator[Courses]:
    """Yield circuits of three turn points: of each three there are three, by which of them stands in the middle."""
    least_leg, most = wanted.least_share * wanted.least_m, wanted.most_m
    doubt = doubt_m(most)
    # No side of a closed course is longer than the others together, and each of those has its share.
    places = places.only(places.home_m <= most / 2 + doubt)
    near_home = ~are_blocked(wanted, np.full(len(places), HOME), places.number) & (places.home_m >= least_leg)
    for rows in in_rows(len(places), len(places)):
        quick = quick_rows_m(places, rows, slice(None), wanted.earth)
        half = quick + places.home_m
        # The other half is no shorter than its two legs, and than the way from the middle straight home.
        other = np.maximum(places.home_m[rows], 2 * least_leg)
        fits = all_of(half <= most - other[:, None] + doubt, quick >= least_leg - doubt, near_home)
        row, turn = np.nonzero(fits)
        middle = row + rows.start
        leg = lengths_m(
            places.latitude_deg[middle], places.longitude_deg[middle],
            places.latitude_deg[turn], places.longitude_deg[turn], wanted.earth,
        )  # fmt: skip
        free = (leg > 0) & ~are_blocked(wanted, places.number[middle], places.number[turn])
        row, turn, leg = row[free], turn[free], leg[free]
        bounds = np.searchsorted(row, np.arange(len(quick) + 1))
        for number, (first, last) in enumerate(pairwise(bounds)):
            yield from _through(places, rows.start + number, turn[first:last], leg[first:last], wanted)


def _through(places: Places, middle: int, turns: Ints, legs_m: Floats, wanted: Wanted) -> Iterator[Courses]:
    """Yield the circuits with this middle turn point; `legs_m` lead to it from the turn points beside it."""
    half = places.home_m[turns] + legs_m
    order = np.argsort(half, kind="stable")
    turns, half = turns[order], half[order]
    shorter = np.minimum(places.home_m[turns], legs_m[order])
    after = np.arange(1, len(half) + 1)
    low = np.maximum(after, np.searchsorted(half, wanted.least_m - half - _ROUNDING_M))
    count = np.maximum(0, np.searchsorted(half, wanted.most_m - half + _ROUNDING_M, side="right") - low)
    for one, other in _pairs(low, count):
        length = half[one] + half[other]
        shortest = np.minimum(shorter[one], shorter[other])
        first, last = turns[one], turns[other]
        holds = all_of(
            length >= wanted.least_m, length <= wanted.most_m, shortest >= wanted.least_share * length,
            places.spot[first] != places.spot[last], pass_either_way(places, first, last),
        )  # fmt: skip
        first, last, length = first[holds], last[holds], length[holds]
        yield found(places, (np.minimum(first, last), np.full(len(first), middle), np.maximum(first, last)), length)


def _pairs(low: Ints, count: Ints) -> Iterator[tuple[Ints, Ints]]:
    """Yield each number with `count` others from its `low` on, in runs of about `BLOCK` pairs."""
    ends = np.cumsum(count)
    start = done = 0
    while start < len(count):
        stop = max(start + 1, int(np.searchsorted(ends, done + BLOCK, side="right")))
        one = np.repeat(np.arange(start, stop), count[start:stop])
        before = np.repeat(ends[start:stop] - count[start:stop], count[start:stop])
        yield one, low[one] + np.arange(done, ends[stop - 1]) - before
        start, done = stop, int(ends[stop - 1])
