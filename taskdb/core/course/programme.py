"""The search for shortest and longest paths through zones: dynamic programming over samples of their edges.

A layer holds the candidates of one point for several paths at once (axis `paths`). The samples of all points have one
numbering: where zones overlap, a point may also ride on a neighbour's sample, then the two are the same place. Knows
no task and no rule.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from taskdb.core.course.tracks import Floats, Ints, Positions
from taskdb.core.geodesy import quick_lengths_m
from taskdb.core.model import Earth


@dataclass(frozen=True, slots=True)
class Layer:
    """The candidates of one point: their numbers among all samples, and what forbids one (0 or infinite, by path).

    In order: its `own` samples, then those of earlier points that it rides on, then (from `later` on) those of later
    ones.
    """

    samples: Ints
    penalty: Floats
    own: int
    later: int


@dataclass(frozen=True, slots=True)
class Leg:
    """What the ways from one layer to the next cost, `sign` times metres.

    `costs` (paths, from, to) holds the ways from the candidates that may be left (`leaving`) to the next point's `own`
    samples, which alone a leg with a length leads to. `ties` are candidates of both layers that are the same samples:
    they lead each to itself at no cost. A path with a leg to a sample that a point only rides on is never needed: it
    passes the same samples as one whose point lies where the leg enters its zone.
    """

    leaving: Ints
    own: int
    costs: Floats
    ties: tuple[Ints, Ints]


def legs(layers: Sequence[Layer], at: Positions, earth: Earth, sign: float) -> list[Leg]:
    """Return each leg's costs: lengths in metres, negated where `sign` is −1.

    `at` are the positions of all samples (paths, samples). Left by a leg with a length are a point's own samples and
    those of earlier points that no path forbids.
    """
    found = []
    for a, b in pairwise(layers):
        leaving = np.flatnonzero(np.isfinite(a.penalty[:, : a.later]).any(axis=0))
        start, end = a.samples[leaving], b.samples[: b.own]
        steps = at.places[:, :, None, end] - at.places[:, :, start, None]
        turns = at.normals[:, :, None, end] - at.normals[:, :, start, None]
        lengths = quick_lengths_m(steps, turns, earth)
        number_of = np.full(at.latitudes.shape[1], -1)
        number_of[a.samples] = np.arange(len(a.samples))
        there = np.flatnonzero(number_of[b.samples] >= 0)
        ties = number_of[b.samples[there]], there
        found.append(Leg(leaving, b.own, lengths if sign > 0 else -lengths, ties))
    return found


def forward(layers: Sequence[Layer], ways: Sequence[Leg]) -> tuple[list[Floats], list[Ints]]:
    """Return the least cost up to each candidate, and for each leg the candidate before it on that path."""
    totals = [layers[0].penalty]
    came_from = []
    for layer, leg in zip(layers[1:], ways, strict=True):
        before, total = totals[-1], np.full(layer.penalty.shape, np.inf)
        came = np.zeros(layer.penalty.shape, dtype=np.intp)
        through = before[:, leg.leaving, None] + leg.costs
        best = np.argmin(through, axis=1)
        came[:, : leg.own] = leg.leaving[best]
        total[:, : leg.own] = np.take_along_axis(through, best[:, None, :], axis=1)[:, 0, :]
        here, there = leg.ties
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
        through = behind[:, None, : leg.own] + leg.costs
        best = np.argmin(through, axis=2)
        leads[:, leg.leaving] = best
        total[:, leg.leaving] = np.take_along_axis(through, best[:, :, None], axis=2)[:, :, 0]
        here, there = leg.ties
        is_less = behind[:, there] < total[:, here]
        leads[:, here] = np.where(is_less, there, leads[:, here])
        total[:, here] = np.where(is_less, behind[:, there], total[:, here])
        leads_to.insert(0, leads)
        totals.insert(0, total + layer.penalty)
    return totals, leads_to


def best_of_each(layers: Sequence[Layer], ways: Sequence[Leg]) -> tuple[Floats, Ints]:
    """Return for each path its least cost (paths) and the samples that attain it (points, paths)."""
    totals, came_from = forward(layers, ways)
    paths = np.arange(len(totals[-1]))
    chosen = [np.argmin(totals[-1], axis=1)]
    for best in reversed(came_from):
        chosen.append(best[paths, chosen[-1]])
    least = totals[-1][paths, chosen[0]]
    return least, np.stack([layer.samples[own] for layer, own in zip(layers, reversed(chosen), strict=True)])


def basins(
    layers: Sequence[Layer], ways: Sequence[Leg], before: Ints, after: Ints, most: int, below: float = np.inf
) -> list[tuple[int, ...]]:
    """Return up to `most` different paths (a sample for each point), best first, that lie in basins of their own.

    Only paths of less total cost than `below`; there may be none.

    A basin shows as a local minimum, along an edge, of the best total through each of a point's candidates. Layers hold
    one path; `before` and `after` are the neighbours of all samples along their edges, −1 where there is none.
    """
    ahead, came_from = forward(layers, ways)
    behind, leads_to = backward(layers, ways)
    found: list[tuple[float, int, int]] = []
    for point, layer in enumerate(layers):
        # A forbidden candidate stays infinite: its penalty must not be taken off again.
        through = np.where(np.isfinite(layer.penalty), ahead[point] + behind[point], np.inf)[0]
        along = np.full(len(before) + 1, np.inf)
        along[layer.samples] = through
        is_least = (through <= along[before[layer.samples]]) & (through <= along[after[layer.samples]])
        least = np.flatnonzero(is_least & (through < below))
        found.extend(zip(through[least].tolist(), [point] * len(least), least.tolist(), strict=True))
    found.sort()
    paths: dict[tuple[int, ...], None] = {}
    passed: set[tuple[int, int]] = set()
    for _, point, candidate in found:
        if (point, candidate) in passed:
            continue
        path = _trace(point, candidate, came_from, leads_to)
        passed.update(enumerate(path))
        paths[tuple(int(layer.samples[k]) for layer, k in zip(layers, path, strict=True))] = None
        if len(paths) >= most:
            break
    return list(paths)


def _trace(point: int, candidate: int, came_from: Sequence[Ints], leads_to: Sequence[Ints]) -> list[int]:
    ahead, path = [candidate], [candidate]
    for came in reversed(came_from[:point]):
        ahead.append(int(came[0, ahead[-1]]))
    for leads in leads_to[point:]:
        path.append(int(leads[0, path[-1]]))
    return ahead[:0:-1] + path
