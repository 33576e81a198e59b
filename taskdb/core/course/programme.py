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
    """A stretch of a layer's candidates: samples of the point `host`, its own (all of them) or those it rides on.

    `picks` are their numbers among the host's samples, ascending.
    """

    host: int
    first: int
    picks: Ints

    @property
    def here(self) -> slice:
        return slice(self.first, self.first + len(self.picks))


@dataclass(frozen=True, slots=True)
class Layer:
    """The candidates of one point: places and normals (3, paths, candidates), and what forbids one (0 or infinite).

    Blocks stand in order: its own samples, then those of earlier points that it rides on, then those of later ones.
    """

    places: Floats
    normals: Floats
    penalty: Floats
    blocks: tuple[Block, ...]

    @property
    def own(self) -> slice:
        """The point's own samples, which stand first."""
        return self.blocks[0].here


@dataclass(frozen=True, slots=True)
class Leg:
    """What the ways from one layer to the next cost, `sign` times metres.

    `costs` (paths, from, to) holds the ways from the candidates that may be left (`leaving`) to the next point's own
    samples, which alone a leg with a length leads to. `ties` are candidates of both layers that are the same samples:
    they lead each to itself at no cost. A path with a leg to a sample that a point only rides on is never needed: it
    passes the same samples as one whose point lies where the leg enters its zone.
    """

    leaving: Ints
    own: slice
    costs: Floats
    ties: tuple[tuple[Ints, Ints], ...]


def legs(layers: Sequence[Layer], earth: Earth, sign: float) -> list[Leg]:
    """Return each leg's costs: lengths in metres, negated where `sign` is −1.

    Left by a leg with a length are a point's own samples and those of earlier points that no path forbids.
    """
    found = []
    for number, (a, b) in enumerate(pairwise(layers)):
        end = max(block.here.stop for block in a.blocks if block.host <= number)
        leaving = np.flatnonzero(np.isfinite(a.penalty[:, :end]).any(axis=0))
        steps = b.places[:, :, None, b.own] - a.places[:, :, leaving, None]
        turns = b.normals[:, :, None, b.own] - a.normals[:, :, leaving, None]
        lengths = quick_lengths_m(steps, turns, earth)
        found.append(Leg(leaving, b.own, lengths if sign > 0 else -lengths, _ties(a, b)))
    return found


def _ties(a: Layer, b: Layer) -> tuple[tuple[Ints, Ints], ...]:
    hosts = {block.host: block for block in a.blocks}
    ties = []
    for there in b.blocks:
        if (here := hosts.get(there.host)) is not None:
            _, left, right = np.intersect1d(here.picks, there.picks, assume_unique=True, return_indices=True)
            ties.append((here.first + left, there.first + right))
    return tuple(ties)


def forward(layers: Sequence[Layer], ways: Sequence[Leg]) -> tuple[list[Floats], list[Ints]]:
    """Return the least cost up to each candidate, and for each leg the candidate before it on that path."""
    totals = [layers[0].penalty]
    came_from = []
    for layer, leg in zip(layers[1:], ways, strict=True):
        before, total = totals[-1], np.full(layer.penalty.shape, np.inf)
        came = np.zeros(layer.penalty.shape, dtype=np.intp)
        through = before[:, leg.leaving, None] + leg.costs
        best = np.argmin(through, axis=1)
        came[:, leg.own] = leg.leaving[best]
        total[:, leg.own] = np.take_along_axis(through, best[:, None, :], axis=1)[:, 0, :]
        for here, there in leg.ties:
            is_less = before[:, here] < total[:, there]
            came[:, there] = np.where(is_less, here, came[:, there])
            total[:, there] = np.where(is_less, before[:, here], total[:, there])
        came_from.append(came)
        totals.append(total + layer.penalty)
    return totals, came_from


def backward(layers: Sequence[Layer], ways: Sequence[Leg]) -> tuple[list[Floats], list[Ints]]:
    """Return the least cost from each candidate to the end, and for each leg the candidate after it on that path."""
    totals = [layers[-1].penalty]
    leads_to: list[Ints] = []
    for layer, leg in zip(layers[-2::-1], reversed(ways), strict=True):
        behind, total = totals[0], np.full(layer.penalty.shape, np.inf)
        leads = np.zeros(layer.penalty.shape, dtype=np.intp)
        through = behind[:, None, leg.own] + leg.costs
        best = np.argmin(through, axis=2)
        leads[:, leg.leaving] = best + leg.own.start
        total[:, leg.leaving] = np.take_along_axis(through, best[:, :, None], axis=2)[:, :, 0]
        for here, there in leg.ties:
            is_less = behind[:, there] < total[:, here]
            leads[:, here] = np.where(is_less, there, leads[:, here])
            total[:, here] = np.where(is_less, behind[:, there], total[:, here])
        leads_to.insert(0, leads)
        totals.insert(0, total + layer.penalty)
    return totals, leads_to


def best_of_each(layers: Sequence[Layer], ways: Sequence[Leg]) -> tuple[Floats, Ints]:
    """Return for each path its least cost (paths) and the candidates that attain it (points, paths)."""
    totals, came_from = forward(layers, ways)
    paths = np.arange(len(totals[-1]))
    chosen = [np.argmin(totals[-1], axis=1)]
    for best in reversed(came_from):
        chosen.insert(0, best[paths, chosen[0]])
    return totals[-1][paths, chosen[-1]], np.stack(chosen)


def basins(
    layers: Sequence[Layer],
    ways: Sequence[Leg],
    runs: Sequence[Sequence[tuple[int, int, bool]]],
    most: int,
    below: float = np.inf,
) -> list[tuple[int, ...]]:
    """Return up to `most` different paths (a candidate for each point), best first, that lie in basins of their own.

    Only paths of less total cost than `below`; there may be none.

    A basin shows as a local minimum, along a run of a point's candidates, of the best total through each of them.
    Layers hold one path; `runs` lists each point's runs of its own samples: first, behind the last, whether it closes.
    """
    ahead, came_from = forward(layers, ways)
    behind, leads_to = backward(layers, ways)
    found: list[tuple[float, int, int]] = []
    for point, layer in enumerate(layers):
        # A forbidden candidate stays infinite: its penalty must not be taken off again.
        through = np.where(np.isfinite(layer.penalty), ahead[point] + behind[point], np.inf)[0]
        for block in layer.blocks:
            along = np.full(runs[block.host][-1][1], np.inf)
            along[block.picks] = through[block.here]
            number_of = np.zeros(len(along), dtype=np.intp)
            number_of[block.picks] = np.arange(block.here.start, block.here.stop)
            for first, last, closed in runs[block.host]:
                least = _local_minima(along, first, last, closed)
                found.extend((float(along[k]), point, int(number_of[k])) for k in least)
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
