"""Triangles with home at a corner, and those of three turn points with home on a side: each once.

Quick lengths sieve, with room for what they may be off; every triangle that passes is measured by geodesics, and only
they decide.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from taskdb.core.model import Position
from taskdb.core.proposing.courses import BLOCK, Courses, are_wanted, found, none_blocked, pass_either_way
from taskdb.core.proposing.nearest import nearest_sides
from taskdb.core.proposing.places import (
    Ints,
    Places,
    Singles,
    all_of,
    doubt_m,
    exact_lengths_m,
    in_rows,
    quick_matrix_m,
    quick_rows_m,
)
from taskdb.core.proposing.sides import Sides, sides_at
from taskdb.core.proposing.wanted import Wanted


def triangles_at_corner(places: Places, wanted: Wanted) -> Iterator[Courses]:
    """Yield triangles of home and two turn points."""
    (low, high), shares, doubt = wanted.perimeter_band_m, wanted.side_shares, doubt_m(wanted.most_m)
    shortest, longest = shares[0] * low - doubt, shares[1] * high + doubt
    places = places.only((places.home_m >= shortest) & (places.home_m <= longest))
    for rows in in_rows(len(places), len(places)):
        side = quick_rows_m(places, rows, slice(rows.start, None), wanted.earth)
        around = places.home_m[rows, None] + places.home_m[rows.start :] + side
        fits = all_of(around >= low - doubt, around <= high + doubt, side >= shortest, side <= longest)
        b, c = np.nonzero(fits)
        b, c = b[b < c] + rows.start, c[b < c] + rows.start
        passing = pass_either_way(places, b, c)
        yield _measured_at_corner(places, b[passing], c[passing], wanted)


def _measured_at_corner(places: Places, b: Ints, c: Ints, wanted: Wanted) -> Courses:
    sides = np.stack([places.home_m[b], exact_lengths_m(places, b, c, wanted.earth), places.home_m[c]])
    length = sides.sum(axis=0)
    holds, perimeter, margin = are_wanted(sides, length, wanted)
    holds[holds] = none_blocked(places, (b[holds], c[holds]), wanted)
    return found(places, (b[holds], c[holds]), length[holds], (perimeter[holds], margin[holds]))


def triangles_by_side(places: Places, home: Position, wanted: Wanted) -> Iterator[Courses]:
    """Yield triangles of three turn points, flown from home to one end of the nearest side and back from the other."""
    (low, high), shares, doubt = wanted.perimeter_band_m, wanted.side_shares, doubt_m(wanted.most_m)
    shortest, longest = shares[0] * low, shares[1] * high
    # From a place on the triangle no corner is farther than half the way round, and home is `within_m` of such a one;
    # one per cent for a sphere.
    places = places.only(places.home_m <= high / 2 + 1.01 * wanted.within_m + doubt)
    # Round home in order: sides that follow each other then share their third corners' legs, which are measured once.
    places = places.only(np.argsort(places.out_deg, kind="stable"))
    quick = quick_matrix_m(places, wanted.earth)
    sides = sides_at(places, home, quick, wanted.within_m, shortest, longest)
    passing = pass_either_way(places, sides.a, sides.b)
    for a, b, c in _in_runs(_third_corners(quick, sides, np.flatnonzero(passing), wanted)):
        kept = nearest_sides(places, home, quick, sides, (a, b, c))
        yield _measured_by_side(places, a[kept], b[kept], c[kept], wanted)


def _third_corners(quick_m: Singles, sides: Sides, which: Ints, wanted: Wanted) -> Iterator[tuple[Ints, Ints, Ints]]:
    """Yield triangles by the sides that home lies on and every place that may be their third corner."""
    (low, high), shares, doubt = wanted.perimeter_band_m, wanted.side_shares, doubt_m(wanted.most_m)
    shortest, longest = shares[0] * low - doubt, shares[1] * high + doubt
    for rows in in_rows(len(which), len(quick_m)):
        a, b = sides.a[which[rows]], sides.b[which[rows]]
        side, by_a, by_b = quick_m[a, b][:, None], quick_m[a], quick_m[b]
        both = by_a + by_b
        row, c = np.nonzero((both >= (low - doubt) - side) & (both <= (high + doubt) - side))
        one, other, third = by_a[row, c], by_b[row, c], side[row, 0]
        around, least = one + other + third, np.minimum(np.minimum(one, other), third)
        most = np.maximum(np.maximum(one, other), third)
        a, b = a[row], b[row]
        fits = all_of(
            least >= shortest, most <= longest, least >= shares[0] * around - doubt, most <= shares[1] * around + doubt,
        )  # fmt: skip
        yield a[fits], b[fits], c[fits]


def _in_runs(pieces: Iterator[tuple[Ints, Ints, Ints]]) -> Iterator[tuple[Ints, ...]]:
    """Yield the same triangles in longer runs, so that a leg of many is measured once, within bounded memory."""
    held: list[tuple[Ints, Ints, Ints]] = []
    count = 0
    for piece in pieces:
        held.append(piece)
        count += len(piece[0])
        if count >= BLOCK:
            yield tuple(np.concatenate(column) for column in zip(*held, strict=True))
            held, count = [], 0
    if held:
        yield tuple(np.concatenate(column) for column in zip(*held, strict=True))


def _measured_by_side(places: Places, a: Ints, b: Ints, c: Ints, wanted: Wanted) -> Courses:
    legs = exact_lengths_m(places, np.concatenate([b, c, a]), np.concatenate([c, a, b]), wanted.earth).reshape(3, -1)
    length = places.home_m[b] + legs[0] + legs[1] + places.home_m[a]
    holds, perimeter, margin = are_wanted(legs, length, wanted)
    a, b, c = a[holds], b[holds], c[holds]
    is_turned = places.number[a] > places.number[b]
    turns = (np.where(is_turned, b, a), c, np.where(is_turned, a, b))
    free = none_blocked(places, turns, wanted)
    length, perimeter, margin = (values[holds][free] for values in (length, perimeter, margin))
    return found(places, tuple(turn[free] for turn in turns), length, (perimeter, margin))
