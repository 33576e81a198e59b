"""The best credited fixes of an area task: in order of time, one in each area, the longest distance.

Dynamic programming over the corners of hulls. Where all fixes of an area come before all of the next one, only the
corners of its hull matter, for a sum of distances is largest there. So each area begins as one block, and only blocks
that stand in no order at all are forbidden after each other: what this allows beyond the rule can only be longer. Where
the best path breaks the order its two blocks are cut in time, and it is searched again; the first that keeps the order
is the best. Areas that a flight visits one after the other need no cut.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from taskdb.core.flights.hulls import corners
from taskdb.core.geodesy import earth_vectors, quick_lengths_m
from taskdb.core.model import Earth, Position

if TYPE_CHECKING:
    from taskdb.core.flights.fixes import Floats, Ints

_SAME_M = 1e-3


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


@dataclass(frozen=True, slots=True)
class _Block:
    """A run of a point's candidates in time: its first and the one behind its last, and the corners among them."""

    first: int
    behind: int
    corners: Ints


class _Layer:
    """A point's candidates in blocks, and the corners of all of them as columns."""

    def __init__(self, candidates: Candidates) -> None:
        self.candidates = candidates
        self.blocks = [self._block(0, len(candidates.at))]

    def _block(self, first: int, behind: int) -> _Block:
        return _Block(first, behind, first + corners(self.candidates.places[:, first:behind]))

    def cut(self, moment: float, *, behind_it: bool) -> bool:
        """Cut the block that holds candidates on both sides of a moment; what is at it stays before unless told."""
        at = int(np.searchsorted(self.candidates.at, moment, side="left" if behind_it else "right"))
        for number, block in enumerate(self.blocks):
            if block.first < at < block.behind:
                self.blocks[number : number + 1] = [self._block(block.first, at), self._block(at, block.behind)]
                return True
        return False

    @property
    def chosen(self) -> Ints:
        return np.concatenate([block.corners for block in self.blocks])

    def of_block(self, value: Callable[[_Block], float]) -> Floats:
        """Return a value of each block for each of its corners."""
        return np.repeat([value(block) for block in self.blocks], [len(block.corners) for block in self.blocks])

    @property
    def earliest(self) -> Floats:
        return self.of_block(lambda block: float(self.candidates.at[block.first]))

    @property
    def latest(self) -> Floats:
        return self.of_block(lambda block: float(self.candidates.at[block.behind - 1]))


def best_credit(layers: Sequence[Candidates], start: Position, end: Position | Onward, earth: Earth) -> tuple[int, ...]:
    """Return the candidate of each point on the longest path from the start through one of each, in order of time.

    The path ends at the finish, or where an unfinished flight came nearest to where it was going, after the last
    candidate. At least one point, each with candidates, and some path must keep the order.
    """
    stand = [_Layer(candidates) for candidates in layers]
    while True:
        path = _longest(stand, start, end, earth)
        is_kept = True
        for (layer, a), (following, b) in zip(_with(stand, path)[:-1], _with(stand, path)[1:], strict=True):
            first, second = float(layer.candidates.at[a]), float(following.candidates.at[b])
            if first > second:
                moment = (first + second) / 2
                layer.cut(moment, behind_it=False)
                following.cut(moment, behind_it=False)
                is_kept = False
        if is_kept and isinstance(end, Onward):
            last = stand[-1]
            moment = float(last.candidates.at[path[-1]])
            block = next(block for block in last.blocks if block.first <= path[-1] < block.behind)
            gained = end.nearest_m(moment) - end.nearest_m(float(last.candidates.at[block.first]))
            is_kept = gained <= _SAME_M or not last.cut(moment, behind_it=True)
        if is_kept:
            return path


def _with(stand: Sequence[_Layer], path: Sequence[int]) -> list[tuple[_Layer, int]]:
    return list(zip(stand, path, strict=True))


def _longest(
    stand: Sequence[_Layer], start: Position, end: Position | Onward, earth: Earth
) -> tuple[int, ...]:  # fmt: skip
    """Return the longest path through corners whose blocks may follow each other."""
    chosen = [layer.chosen for layer in stand]
    totals = _lengths(stand[0], chosen[0], start, earth)
    came_from: list[Ints] = []
    for n in range(1, len(stand)):
        a, b = stand[n - 1].candidates, stand[n].candidates
        steps = b.places[:, None, chosen[n]] - a.places[:, chosen[n - 1], None]
        turns = b.normals[:, None, chosen[n]] - a.normals[:, chosen[n - 1], None]
        through = totals[:, None] + quick_lengths_m(steps, turns, earth)
        through[stand[n - 1].earliest[:, None] > stand[n].latest[None, :]] = -np.inf
        best = np.argmax(through, axis=0)
        came_from.append(best)
        totals = through[best, np.arange(len(best))]
    totals = totals + _onward(stand[-1], chosen[-1], end, earth)
    at = int(np.argmax(totals))
    path = [int(chosen[-1][at])]
    for n in range(len(stand) - 1, 0, -1):
        at = int(came_from[n - 1][at])
        path.insert(0, int(chosen[n - 1][at]))
    return tuple(path)


def _lengths(layer: _Layer, chosen: Ints, place: Position, earth: Earth) -> Floats:
    there, normal = earth_vectors(np.array([place.latitude_deg]), np.array([place.longitude_deg]))
    return quick_lengths_m(
        layer.candidates.places[:, chosen] - there, layer.candidates.normals[:, chosen] - normal, earth
    )


def _onward(layer: _Layer, chosen: Ints, end: Position | Onward, earth: Earth) -> Floats:
    if isinstance(end, Position):
        return _lengths(layer, chosen, end, earth)
    left = layer.of_block(lambda block: end.nearest_m(float(layer.candidates.at[block.first])))
    gained: Floats = np.maximum(_lengths(layer, chosen, end.target, earth) - left, 0.0)
    return gained
