"""Courses that were found, in blocks of columns; and what makes three measured sides one of the triangles wanted."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from taskdb.core.kinds import ProposedShape
from taskdb.core.model import TriangleRules
from taskdb.core.proposing.places import Bools, Floats, Ints, Places, all_of
from taskdb.core.proposing.wanted import HOME, Wanted

BLOCK = 1 << 16
"""About how many courses a block holds: enough to be worth a call, some megabytes."""

_MOST_PLACES = 1 << 31
"""As many as the numbers of turn points can tell apart."""


@dataclass(frozen=True, slots=True)
class Courses:
    """Some courses from home and back. Lengths in metres, exact, on the earth that was asked for.

    `turns` (int32, a row a course) are numbers of turn points in the order flown; the columns reversed are the same
    course the other way round, and `both_ways` says that the first and last course wanted allow it too. `length_m`
    is flown from home to home; `perimeter_m` is that of a triangle and `margin_percent` by how many percent points it
    meets the rules of FAI triangles, negative where it misses them: both NaN of other shapes.
    """

    turns: npt.NDArray[np.int32]
    length_m: Floats
    perimeter_m: Floats
    margin_percent: Floats
    both_ways: Bools

    def __len__(self) -> int:
        """Return how many courses there are."""
        return len(self.turns)

    def only(self, chosen: Bools | slice) -> Courses:
        """Return some of the courses."""
        return Courses(**{field.name: getattr(self, field.name)[chosen] for field in fields(self)})


def found(
    places: Places, turns: tuple[Ints, ...], length_m: Floats, triangle: tuple[Floats, Floats] | None = None
) -> Courses:
    """Return courses whose turn points are `places` by their order there, turned so that they pass the way wanted.

    `triangle` gives perimeters and margins.
    """
    forwards, backwards = _ways(places, turns[0], turns[-1])
    in_order = places.number[np.stack(turns, axis=1)].astype(np.int32)
    in_order = np.where(forwards[:, None], in_order, in_order[:, ::-1])
    nothing = np.full(len(length_m), np.nan)
    perimeter, margin = triangle or (nothing, nothing)
    return Courses(np.ascontiguousarray(in_order), length_m, perimeter, margin, forwards & backwards)


def _ways(places: Places, first: Ints, last: Ints) -> tuple[Bools, Bools]:
    forwards = places.is_first[first] & places.is_last[last]
    return forwards, places.is_first[last] & places.is_last[first]


def pass_either_way(places: Places, first: Ints, last: Ints) -> Bools:
    """Say of courses by their first and last turn point whether first and last course are as wanted one way round."""
    forwards, backwards = _ways(places, first, last)
    return forwards | backwards


def none_blocked(places: Places, turns: tuple[Ints, ...], wanted: Wanted) -> Bools:
    """Say of courses whether all of their legs may be flown; each leg is asked for once."""
    free = np.ones(len(turns[0]), dtype=np.bool_)
    if wanted.blocked is None:
        return free
    numbers = [np.full(len(free), HOME), *(places.number[turn] for turn in turns), np.full(len(free), HOME)]
    for first, second in pairwise(numbers):
        rest = np.flatnonzero(free)
        free[rest] = ~are_blocked(wanted, first[rest], second[rest])
    return free


def are_blocked(wanted: Wanted, first: Ints, second: Ints) -> Bools:
    """Say of legs, by the caller's numbers or HOME, which must not be flown."""
    if wanted.blocked is None or not len(first):
        return np.zeros(len(first), dtype=np.bool_)
    # As one number each; home's is -1.
    keys = (np.minimum(first, second).astype(np.int64) + 1) * _MOST_PLACES + np.maximum(first, second) + 1
    legs, which = np.unique(keys, return_inverse=True)
    low, high = np.divmod(legs, _MOST_PLACES)
    blocked: Bools = wanted.blocked((low - 1).astype(np.int32), (high - 1).astype(np.int32))[which.reshape(-1)]
    return blocked


def margins_percent(sides_m: Floats, rules: TriangleRules) -> Floats:
    """Return by how many percent points triangles (sides along the first axis) meet the rules, as `triangle_shares`."""
    perimeter = sides_m.sum(axis=0)
    least, longest = 100 * sides_m.min(axis=0) / perimeter, 100 * sides_m.max(axis=0) / perimeter
    large = np.minimum(least - rules.large_shortest_percent, rules.large_longest_percent - longest)
    margins: Floats = np.where(perimeter >= rules.large_from_m, large, least - rules.small_shortest_percent)
    return margins


def are_wanted(sides_m: Floats, length_m: Floats, wanted: Wanted) -> tuple[Bools, Floats, Floats]:
    """Say of triangles by their exact sides and the course flown which are wanted; with perimeters and margins."""
    perimeter, least = sides_m.sum(axis=0), sides_m.min(axis=0)
    is_fai = wanted.shape is ProposedShape.FAI_TRIANGLE
    # Two corners at one place are no triangle, and have no share of nothing.
    is_triangle = least > 0
    margin = np.full(len(perimeter), -np.inf)
    margin[is_triangle] = margins_percent(sides_m[:, is_triangle], wanted.triangle)
    measure = perimeter if is_fai else length_m
    holds = all_of(
        is_triangle, measure >= wanted.least_m, measure <= wanted.most_m, least >= wanted.least_share * perimeter,
        (margin >= 0) | (not is_fai),
    )  # fmt: skip
    return holds, perimeter, margin


def in_blocks(pieces: Iterable[Courses]) -> Iterator[Courses]:
    """Yield the same courses in the same order, in blocks of up to `BLOCK`, none of them empty."""
    held: list[Courses] = []
    count = 0
    for piece in pieces:
        for start in range(0, len(piece), BLOCK):
            part = piece.only(slice(start, start + BLOCK))
            if count + len(part) > BLOCK:
                yield _joined(held)
                held, count = [], 0
            held.append(part)
            count += len(part)
    if held:
        yield _joined(held)


def _joined(pieces: list[Courses]) -> Courses:
    if len(pieces) == 1:
        return pieces[0]
    return Courses(*(np.concatenate([getattr(piece, f.name) for piece in pieces]) for f in fields(Courses)))
