"""The search for shortest and longest paths through zones: dynamic programming over samples of their edges.

A layer holds the candidates of one point for several paths at once (axis `paths`). Where zones overlap, a point may
also ride on a neighbour's sample, then the two are the same place: see `Block`. Knows no task and no rule.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from taskdb.core.course.tracks import Floats, Ints
from taskdb.core.geodesy import quick_lengths_m
from taskdb.core.model import Earth


@dataclass(frozen=True, slots=True)
class Block:
    """A stretch of a layer's candidates: the samples of the point `host`, its own or those that it rides on."""

    host: int
    first: int
    count: int

    @property
    def here(self) -> slice:
        return slice(self.first, self.first + self.count)


@dataclass(frozen=True, slots=True)
class Layer:
    """The candidates of one point: places and normals (3, paths, candidates), and what forbids one (0 or infinite)."""

    places: Floats
    normals: Floats
    penalty: Floats
    blocks: tuple[Block, ...]

    def block_of(self, host: int) -> Block | None:
        return next((block for block in self.blocks if block.host == host), None)


def leg_costs(layers: Sequence[Layer], earth: Earth, sign: float) -> list[Floats]:
    """Return for each leg the lengths between all candidates (paths, from, to), metres, negated where `sign` is −1.

    A candidate that rides on an earlier point's sample is reached from that very sample only, at no length; one that
    rides on a later point's leads on to that very sample only.
    """
    costs = []
    for number, (a, b) in enumerate(pairwise(layers)):
        steps = b.places[:, :, None, :] - a.places[:, :, :, None]
        turns = b.normals[:, :, None, :] - a.normals[:, :, :, None]
        lengths = quick_lengths_m(steps, turns, earth)
        if sign < 0:
            lengths = -lengths
        for block in b.blocks:
            if block.host <= number:
                _tie(lengths, a.block_of(block.host), block, is_arriving=True)
        for block in a.blocks:
            if block.host > number:
                _tie(lengths, block, b.block_of(block.host), is_arriving=False)
        costs.append(lengths)
    return costs


def _tie(lengths: Floats, before: Block | None, after: Block | None, *, is_arriving: bool) -> None:
    if is_arriving and after is not None:
        lengths[:, :, after.here] = np.inf
    elif before is not None:
        lengths[:, before.here, :] = np.inf
    if before is not None and after is not None:
        each = np.arange(before.count)
        lengths[:, before.first + each, after.first + each] = 0.0


def forward(layers: Sequence[Layer], costs: Sequence[Floats]) -> tuple[list[Floats], list[Ints]]:
    """Return the least cost up to each candidate, and for each leg the candidate before it on that path."""
    totals = [layers[0].penalty]
    came_from = []
    for layer, cost in zip(layers[1:], costs, strict=True):
        through = totals[-1][:, :, None] + cost
        best = np.argmin(through, axis=1)
        came_from.append(best)
        totals.append(np.take_along_axis(through, best[:, None, :], axis=1)[:, 0, :] + layer.penalty)
    return totals, came_from


def backward(layers: Sequence[Layer], costs: Sequence[Floats]) -> tuple[list[Floats], list[Ints]]:
    """Return the least cost from each candidate to the end, and for each leg the candidate after it on that path."""
    totals = [layers[-1].penalty]
    leads_to: list[Ints] = []
    for layer, cost in zip(layers[-2::-1], reversed(costs), strict=True):
        through = totals[0][:, None, :] + cost
        best = np.argmin(through, axis=2)
        leads_to.insert(0, best)
        totals.insert(0, np.take_along_axis(through, best[:, :, None], axis=2)[:, :, 0] + layer.penalty)
    return totals, leads_to


def best_of_each(layers: Sequence[Layer], costs: Sequence[Floats]) -> tuple[Floats, Ints]:
    """Return for each path its least cost (paths) and the candidates that attain it (points, paths)."""
    totals, came_from = forward(layers, costs)
    paths = np.arange(len(totals[-1]))
    chosen = [np.argmin(totals[-1], axis=1)]
    for best in reversed(came_from):
        chosen.insert(0, best[paths, chosen[0]])
    return totals[-1][paths, chosen[-1]], np.stack(chosen)


def basins(
    layers: Sequence[Layer],
    costs: Sequence[Floats],
    runs: Sequence[Sequence[tuple[int, int, bool]]],
    most: int,
    below: float = np.inf,
) -> list[tuple[int, ...]]:
    """Return up to `most` different paths (a candidate for each point), best first, that lie in basins of their own.

    Only paths of less total cost than `below`; there may be none.

    A basin shows as a local minimum, along a run of a point's candidates, of the best total through each of them.
    Layers hold one path; `runs` lists each point's runs of candidates: first, behind the last, whether it closes.
    """
    ahead, came_from = forward(layers, costs)
    behind, leads_to = backward(layers, costs)
    found: list[tuple[float, int, int]] = []
    for point, layer in enumerate(layers):
        # A forbidden candidate stays infinite: its penalty must not be taken off again.
        through = np.where(np.isfinite(layer.penalty), ahead[point] + behind[point], np.inf)[0]
        for first, last, closed in runs[point]:
            found.extend((float(through[k]), point, int(k)) for k in _local_minima(through, first, last, closed))
    found.sort()
    paths: dict[tuple[int, ...], None] = {}
    for total, point, candidate in found:
        if total >= below:
            break
        paths[_trace(point, candidate, came_from, leads_to)] = None
        if len(paths) >= most:
            break
    return list(paths)


def _local_minima(through: Floats, first: int, last: int, closed: bool) -> Ints:
    stretch = through[first:last]
    padded = (
        np.concatenate([stretch[-1:], stretch, stretch[:1]]) if closed else np.pad(stretch, 1, constant_values=np.inf)
    )
    is_least = (stretch <= padded[:-2]) & (stretch <= padded[2:]) & np.isfinite(stretch)
    return np.flatnonzero(is_least) + first


def _trace(point: int, candidate: int, came_from: Sequence[Ints], leads_to: Sequence[Ints]) -> tuple[int, ...]:
    path = [candidate]
    for leg in range(point - 1, -1, -1):
        path.insert(0, int(came_from[leg][0, path[0]]))
    for leg in range(point, len(leads_to)):
        path.append(int(leads_to[leg][0, path[-1]]))
    return tuple(path)
