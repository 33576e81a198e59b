"""The search for the shortest and the longest path through stops: where basins are, and down into each of them.

Samples of all edges and dynamic programming find the basins; the same programme on ever narrower windows, all basins
at once, goes down to a millimetre without derivatives, so corners and coincident points need no care. Knows no task.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from taskdb.core.course.overlaps import Stop, riders
from taskdb.core.course.programme import Layer, basins, best_of_each, legs
from taskdb.core.course.tracks import Flags, Floats, Ints, Positions, Samples, outside_m, spread, with_extra
from taskdb.core.geodesy import wrap_longitude
from taskdb.core.model import Earth, Position

_MOST_BASINS_SHORTEST = 12
_MOST_BASINS_LONGEST = 6
_MOST_BASINS_AGAIN = 4
_MOST_LOOKS = 5
_OFFSETS = np.linspace(-1.0, 1.0, 7)
_RESCALE = np.array([0.5, 0.5, 0.75, 1.5])
"""How a window changes its size when its best sample lies in its middle … at its end."""

_SCALES = np.concatenate([-(2.0 ** -np.arange(12)), 2.0 ** -np.arange(12)])
_FINEST_M = 1e-3
_MOST_ROUNDS = 60


@dataclass(slots=True)
class _Place:
    """Where the paths in search stand on one stop's tracks: edge, coordinate and half the window, by path."""

    edge: Ints
    along: Floats
    width: Floats

    def keep(self, paths: Ints) -> None:
        self.edge, self.along, self.width = self.edge[paths], self.along[paths], self.width[paths]


@dataclass(frozen=True, slots=True)
class _Problem:
    """What is searched: the stops, who may ride on whom, the earth; sign 1 for shortest, −1 for longest."""

    stops: Sequence[Stop]
    rides: Flags
    earth: Earth
    sign: float


@dataclass(frozen=True, slots=True)
class _Spread:
    """Samples of all stops as positions (paths, samples), those of stop `n` from `starts[n]` to `starts[n + 1]`."""

    at: Positions
    starts: Ints

    def own(self, number: int) -> Ints:
        return np.arange(self.starts[number], self.starts[number + 1])


@dataclass(frozen=True, slots=True)
class _Found:
    """The best total (negative when longest is sought), the points of all paths that come as near, where it stands."""

    total: float
    points: list[list[Position]]
    standing: list[_Place]


def best_paths(stops: Sequence[Stop], earth: Earth, sign: float) -> list[list[Position]]:
    """Return the shortest (sign 1) or longest (−1) path through the stops: candidates that differ by less than 1 cm.

    Measured as the search measures; whoever reports a length measures them by geodesics and takes the best. Legs are
    shorter than a quarter of the earth: beyond that a distance is no longer convex, and a longest path may be missed.
    """
    if sign > 0:
        problem, most = _Problem(stops, riders(stops), earth, sign), _MOST_BASINS_SHORTEST
    else:
        nobody = np.zeros((len(stops), len(stops)), dtype=bool)
        problem, most = _Problem(stops, nobody, earth, sign), _MOST_BASINS_LONGEST
    samples = [spread(stop.tracks) for stop in stops]
    found = _from_samples(problem, samples, most)
    if found is None:
        raise ValueError("no path touches the zones")
    for _ in range(_MOST_LOOKS if sign > 0 else 0):
        # Where two places are nearer to each other than the samples, a basin may not show among them. So look
        # again, with samples at all scales round the best path, until nothing better comes.
        around = [_around(stop, s, place) for stop, s, place in zip(stops, samples, found.standing, strict=True)]
        better = _from_samples(problem, around, _MOST_BASINS_AGAIN, below=found.total - _FINEST_M)
        if better is None:
            break
        found = better
    return found.points


def _from_samples(problem: _Problem, samples: Sequence[Samples], most: int, below: float = math.inf) -> _Found | None:
    """Return the best of the basins that show among the samples, or None where none is better than `below`."""
    coarse = _spread(problem.stops, [s.along[None, :] for s in samples])
    layers = _layers(problem, coarse)
    ways = legs(layers, coarse.at, problem.earth, problem.sign)
    paths = basins(layers, ways, *_neighbours(samples), most, below)
    return _zoom(problem, _stand(problem.stops, samples, coarse, np.array(paths).T)) if paths else None


def _around(stop: Stop, samples: Samples, place: _Place) -> Samples:
    """Return the samples with more of them at all scales round a standing place."""
    if stop.zone is None:
        return samples
    offsets = _SCALES * float(samples.step_m.max(initial=0.0))
    return with_extra(stop.tracks, samples, stop.tracks.wrapped(place.edge, place.along + offsets))


def _neighbours(samples: Sequence[Samples]) -> tuple[Ints, Ints]:
    """Return for each sample of all stops the one before and the one behind it along its edge, −1 where none is."""
    before, after, count = [], [], 0
    for own in samples:
        for first, last, closed in own.runs:
            numbers = np.arange(count + first, count + last)
            before.append(np.concatenate([numbers[-1:] if closed else [-1], numbers[:-1]]))
            after.append(np.concatenate([numbers[1:], numbers[:1] if closed else [-1]]))
        count += len(own.along)
    return np.concatenate(before), np.concatenate(after)


def _spread(stops: Sequence[Stop], along: Sequence[Floats]) -> _Spread:
    """Return coordinates (paths, samples) on each stop's tracks as the samples of all stops."""
    placed = [stop.tracks.positions(own) for stop, own in zip(stops, along, strict=True)]
    latitudes, longitudes = (np.concatenate(parts, axis=1) for parts in zip(*placed, strict=True))
    starts = np.cumsum([0, *(own.shape[1] for own in along)])
    return _Spread(Positions.at(latitudes, longitudes), starts)


def _layers(problem: _Problem, spread: _Spread) -> list[Layer]:
    """Return each stop's candidates: its own samples first, then those that it rides on, where they are in its zone."""
    count = len(problem.stops)
    earlier, later = _ridden(problem, spread, range(count)), _ridden(problem, spread, range(count - 1, -1, -1))
    layers = []
    for number in range(count):
        own, (before, may_not), (behind, may_not_yet) = spread.own(number), earlier[number], later[number]
        free = np.zeros((len(spread.at.latitudes), len(own)))
        samples, penalty = np.concatenate([own, before, behind]), np.concatenate([free, may_not, may_not_yet], axis=1)
        layers.append(Layer(samples, penalty, len(own), len(own) + len(before)))
    return layers


def _ridden(problem: _Problem, spread: _Spread, numbers: range) -> dict[int, tuple[Ints, Floats]]:
    """Return for each stop the samples of those before it in `numbers` on which it rides, with what forbids them.

    A sample is ridden on through all the zones between, so only those that the zone before still holds go on.
    """
    host = np.repeat(np.arange(len(problem.stops)), np.diff(spread.starts))
    found, onward = {}, np.zeros(0, dtype=np.intp)
    for number in numbers:
        onward = onward[problem.rides[number, host[onward]]]
        found[number] = _held(problem.stops[number], spread, onward)
        onward = np.concatenate([found[number][0], spread.own(number)])
    return found


def _held(stop: Stop, spread: _Spread, samples: Ints) -> tuple[Ints, Floats]:
    """Return those of the samples that lie in a stop's zone in at least one path, and which paths must not use them."""
    if stop.zone is None or not len(samples):
        return samples[:0], np.zeros((len(spread.at.latitudes), 0))
    penalty = np.where(outside_m(stop.zone, stop.at, spread.at.taken(samples)) > 0, np.inf, 0.0)
    is_held = np.isfinite(penalty).any(axis=0)
    return samples[is_held], penalty[:, is_held]


def _stand(stops: Sequence[Stop], samples: Sequence[Samples], coarse: _Spread, chosen: Ints) -> list[_Place]:
    """Return where the paths (points, paths) stand on every stop's own tracks; a rider next to where it rides."""
    steps = np.concatenate([own.step_m for own in samples])
    standing = []
    for number, (stop, own) in enumerate(zip(stops, samples, strict=True)):
        index, is_own = _own_index(coarse, number, chosen[number])
        place = _Place(own.edge[index].copy(), own.along[index].copy(), own.step_m[index].copy())
        if not is_own.all():
            hosted = chosen[number][~is_own]
            edge, along = stop.tracks.nearest(coarse.at.latitudes[0, hosted], coarse.at.longitudes[0, hosted])
            place.edge[~is_own], place.along[~is_own] = edge, along
            place.width[~is_own] = np.maximum(own.step_m.max(initial=0.0), steps[hosted])
        standing.append(place)
    return standing


def _own_index(spread: _Spread, number: int, chosen: Ints) -> tuple[Ints, Flags]:
    """Return which of a stop's own samples are chosen (the last for one that is not its own), and which are its own."""
    index, count = chosen - spread.starts[number], spread.starts[number + 1] - spread.starts[number]
    is_own = (index >= 0) & (index < count)
    return np.where(is_own, index, count - 1), is_own


def _zoom(problem: _Problem, standing: list[_Place]) -> _Found:
    """Return the best points near each standing path: the programme on ever narrower windows, all paths at once."""
    stops = problem.stops
    for round_ in range(_MOST_ROUNDS):
        windows = [
            p.along[:, None]
            if s.zone is None
            else s.tracks.wrapped(p.edge[:, None], p.along[:, None] + p.width[:, None] * _OFFSETS)
            for s, p in zip(stops, standing, strict=True)
        ]
        spread = _spread(stops, windows)
        layers = _layers(problem, spread)
        totals, chosen = best_of_each(layers, legs(layers, spread.at, problem.earth, problem.sign))
        latitudes, longitudes = _move(problem, standing, windows, spread, chosen)
        is_done = max(float(p.width.max()) for p in standing) < _FINEST_M or round_ == _MOST_ROUNDS - 1
        # A path can gain no more than its points can still move.
        slack = 10 * _FINEST_M if is_done else 4 * sum(p.width for p in standing)
        paths = np.flatnonzero(totals <= totals.min() + slack)
        if is_done:
            break
        if len(paths) < len(totals):
            for place in standing:
                place.keep(paths)
    points = [_points(stops, latitudes[:, path], longitudes[:, path]) for path in paths]
    best = np.array([int(np.argmin(totals))])
    for place in standing:
        place.keep(best)
    return _Found(float(totals.min()), points, standing)


def _points(stops: Sequence[Stop], latitudes: Floats, longitudes: Floats) -> list[Position]:
    return [
        stop.at if stop.zone is None else Position(float(latitude), wrap_longitude(float(longitude)))
        for stop, latitude, longitude in zip(stops, latitudes, longitudes, strict=True)
    ]


def _move(
    problem: _Problem, standing: Sequence[_Place], windows: Sequence[Floats], spread: _Spread, chosen: Ints
) -> tuple[Floats, Floats]:
    """Move every standing place to the chosen sample and narrow its window; return the chosen positions.

    A place that went to the end of its window widens it, for the best place may lie beyond. Each place does so by
    itself: windows of different sizes would else hold each other up where two places can only move together.
    """
    paths = np.arange(chosen.shape[1])
    latitudes, longitudes = spread.at.latitudes[paths, chosen], spread.at.longitudes[paths, chosen]
    for n, (stop, place, window) in enumerate(zip(problem.stops, standing, windows, strict=True)):
        index, is_own = _own_index(spread, n, chosen[n])
        moved = window[paths, index]
        if stop.zone is not None:
            is_moving = is_own & (np.abs(moved - place.along) > 0) & (place.width > _FINEST_M)
            place.width = place.width * np.where(is_moving, _RESCALE[np.abs(index - window.shape[1] // 2)], 0.5)
        if not is_own.all():
            edge, along = stop.tracks.nearest(latitudes[n], longitudes[n])
            place.edge = np.where(is_own, place.edge, edge)
            moved = np.where(is_own, moved, along)
        place.along = moved
    return latitudes, longitudes
