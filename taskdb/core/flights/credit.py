"""The best credited fixes of an area task: in order of time, one in each area, the longest distance.

Dynamic programming over the corners of hulls. Where all fixes of an area come before all of the next one, only the
corners of its hull matter, for a sum of distances is largest there. So each area begins as one block, and a block may
follow another unless all of it comes before: the best path through such blocks is never shorter than the true one, the
best among them that keeps the order never longer. Where the two differ, the blocks whose corners break the order are
cut in time, and both are searched again. Areas visited one after the other need no cut.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from taskdb.core.flights.hulls import corners
from taskdb.core.geodesy import earth_vectors, quick_lengths_m
from taskdb.core.model import Earth, Position

if TYPE_CHECKING:
    from taskdb.core.flights.fixes import Bools, Floats, Ints

_CLOSE_M = 0.01
"""So near to what is possible at most, a path is the best."""
_MOST_ROUNDS = 100
"""Two areas that interleave take some rounds. Four on one place, flown through on a straight line, take hundreds, in
which nothing better comes: there the best so far is taken."""


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """What may be credited at a point, in order of time: moments, places and normals in space (3, candidates)."""

    at: Floats
    places: Floats
    normals: Floats


@dataclass(frozen=True, slots=True)
class Onward:
    """Where an unfinished flight was going: how near it came to that place from a moment on, metres."""

    target: Position
    nearest_m: Callable[[float], float]


@dataclass(frozen=True, slots=True, eq=False)
class _Block:
    """A run of a point's candidates in time: its first, the one behind its last, and the corners among them."""

    first: int
    behind: int
    corners: Ints


@dataclass(frozen=True, slots=True, eq=False)
class _Corners:
    """The corners of all blocks of a point: their numbers, moments, and those of their block's ends."""

    numbers: Ints
    at: Floats
    earliest: Floats
    latest: Floats


class _Layer:
    """A point's candidates in blocks."""

    def __init__(self, candidates: Candidates) -> None:
        self.candidates = candidates
        self.blocks = [self._block(0, len(candidates.at))]

    def _block(self, first: int, behind: int) -> _Block:
        return _Block(first, behind, first + corners(self.candidates.places[:, first:behind]))

    def cut(self, at: int) -> bool:
        """Cut the block that a candidate stands in before it; False where it begins one."""
        for number, block in enumerate(self.blocks):
            if block.first < at < block.behind:
                self.blocks[number : number + 1] = [self._block(block.first, at), self._block(at, block.behind)]
                return True
        return False

    def chosen(self) -> _Corners:
        numbers = np.concatenate([block.corners for block in self.blocks])
        counts = [len(block.corners) for block in self.blocks]
        at = self.candidates.at
        earliest = np.repeat(at[[block.first for block in self.blocks]], counts)
        latest = np.repeat(at[[block.behind - 1 for block in self.blocks]], counts)
        return _Corners(numbers, at[numbers], earliest, latest)


def best_credit(layers: Sequence[Candidates], start: Position, end: Position | Onward, earth: Earth) -> tuple[int, ...]:
    """Return the candidate of each point on the longest path from the start through one of each, in order of time.

    The path ends at the finish, or where an unfinished flight came nearest to where it was going, after the last
    candidate. At least one point, each with candidates, and some path must keep the order.
    """
    stand = [_Layer(candidates) for candidates in layers]
    rounds = 0
    best: tuple[int, ...] = ()
    best_m = -np.inf
    while True:
        loose, loose_m, ordered, ordered_m = _longest(stand, start, end, earth)
        if ordered_m > best_m:
            best, best_m = ordered, ordered_m
        rounds += 1
        if loose_m <= best_m + _CLOSE_M or (rounds >= _MOST_ROUNDS and best):
            return best
        _cut(stand, loose, end)


def _cut(stand: Sequence[_Layer], loose: Sequence[int], end: Position | Onward) -> None:
    """Cut the blocks whose corners on a path stand in the wrong order; behind the last point, what it gained there."""
    for number, (a, b) in enumerate(pairwise(loose)):
        layer, following = stand[number], stand[number + 1]
        first, second = float(layer.candidates.at[a]), float(following.candidates.at[b])
        if first > second:
            middle = (first + second) / 2
            layer.cut(int(np.searchsorted(layer.candidates.at, middle, side="right")))
            following.cut(int(np.searchsorted(following.candidates.at, middle, side="right")))
    if isinstance(end, Onward):
        stand[-1].cut(loose[-1])


def _longest(
    stand: Sequence[_Layer], start: Position, end: Position | Onward, earth: Earth
) -> tuple[tuple[int, ...], float, tuple[int, ...], float]:
    """Return the longest path through corners whose blocks may follow each other, and the longest that keeps the order.

    Each with its length, metres; the second may be none, of a length of minus infinity.
    """
    chosen = [layer.chosen() for layer in stand]
    loose = _Search(_lengths(stand[0], chosen[0], start, earth))
    ordered = _Search(loose.total_m)
    for n, (a, b) in enumerate(pairwise(chosen)):
        legs = _legs(stand[n].candidates, a.numbers, stand[n + 1].candidates, b.numbers, earth)
        loose.step(legs, a.earliest[:, None] > b.latest[None, :])
        ordered.step(legs, a.at[:, None] > b.at[None, :])
    last = chosen[-1]
    if isinstance(end, Onward):
        away = _lengths(stand[-1], last, end.target, earth)
        left, left_at_best = (np.array([end.nearest_m(at) for at in ats.tolist()]) for ats in (last.at, last.earliest))
        loose.total_m = loose.total_m + np.maximum(away - left_at_best, 0.0)
        ordered.total_m = ordered.total_m + np.maximum(away - left, 0.0)
    else:
        away = _lengths(stand[-1], last, end, earth)
        loose.total_m, ordered.total_m = loose.total_m + away, ordered.total_m + away
    numbers = [one.numbers for one in chosen]
    return (*loose.path(numbers), *ordered.path(numbers))


class _Search:
    """The longest way to each corner of a point, and where it came from."""

    def __init__(self, total_m: Floats) -> None:
        self.total_m = total_m
        self.came_from: list[Ints] = []

    def step(self, legs_m: Floats, is_forbidden: Bools) -> None:
        through = np.where(is_forbidden, -np.inf, self.total_m[:, None] + legs_m)
        best = np.argmax(through, axis=0)
        self.came_from.append(best)
        self.total_m = through[best, np.arange(len(best))]

    def path(self, numbers: Sequence[Ints]) -> tuple[tuple[int, ...], float]:
        at = int(np.argmax(self.total_m))
        length_m = float(self.total_m[at])
        path = [int(numbers[-1][at])]
        for n in range(len(self.came_from) - 1, -1, -1):
            at = int(self.came_from[n][at])
            path.insert(0, int(numbers[n][at]))
        return tuple(path), length_m


def _legs(a: Candidates, from_: Ints, b: Candidates, to: Ints, earth: Earth) -> Floats:
    """Return the lengths between candidates of two points (from, to), metres."""
    steps = b.places[:, None, to] - a.places[:, from_, None]
    turns = b.normals[:, None, to] - a.normals[:, from_, None]
    return quick_lengths_m(steps, turns, earth)


def _lengths(layer: _Layer, chosen: _Corners, place: Position, earth: Earth) -> Floats:
    there, normal = earth_vectors(np.array([place.latitude_deg]), np.array([place.longitude_deg]))
    held = layer.candidates
    return quick_lengths_m(held.places[:, chosen.numbers] - there, held.normals[:, chosen.numbers] - normal, earth)
