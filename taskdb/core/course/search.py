"""The search for the shortest and the longest path through stops: where basins are, and down into each of them.

Samples of all edges and dynamic programming find the basins; the same programme on ever narrower windows, all basins
at once, goes down to a millimetre without derivatives, so corners and coincident points need no care. Knows no task.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from taskdb.core.course.overlaps import Stop, riders
from taskdb.core.course.programme import Block, Layer, basins, best_of_each, legs
from taskdb.core.course.tracks import Floats, Ints, Samples, outside_m, spread, with_extra
from taskdb.core.geodesy import earth_vectors, wrap_longitude
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
class _Spread:
    """Samples of one stop as positions, by path and sample."""

    latitudes: Floats
    longitudes: Floats
    places: Floats
    normals: Floats


@dataclass(frozen=True, slots=True)
class _Problem:
    """What is searched: the stops, on whose samples each may ride, the earth; sign 1 for shortest, −1 for longest."""

    stops: Sequence[Stop]
    rides: Sequence[Sequence[int]]
    earth: Earth
    sign: float


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
        problem, most = _Problem(stops, [[] for _ in stops], earth, sign), _MOST_BASINS_LONGEST
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
    coarse = [_spread(stop, s.along[None, :]) for stop, s in zip(problem.stops, samples, strict=True)]
    layers = _layers(problem.stops, coarse, problem.rides)
    ways = legs(layers, problem.earth, problem.sign)
    paths = basins(layers, ways, [s.runs for s in samples], most, below)
    return _zoom(problem, _stand(problem.stops, samples, coarse, layers, paths)) if paths else None


def _around(stop: Stop, samples: Samples, place: _Place) -> Samples:
    """Return the samples with more of them at all scales round a standing place."""
    if stop.zone is None:
        return samples
    offsets = _SCALES * float(samples.step_m.max(initial=0.0))
    return with_extra(stop.tracks, samples, stop.tracks.wrapped(place.edge, place.along + offsets))


def _spread(stop: Stop, along: Floats) -> _Spread:
    latitudes, longitudes = stop.tracks.positions(along)
    return _Spread(latitudes, longitudes, *earth_vectors(latitudes, longitudes))


def _layers(stops: Sequence[Stop], spreads: Sequence[_Spread], rides: Sequence[Sequence[int]]) -> list[Layer]:
    """Return each stop's candidates: its own samples first, then those that it rides on, where they are in its zone.

    A sample is ridden on through all the zones between, so only those that the zone before still holds go on.
    """
    blocks: list[list[_Ridden]] = [[] for _ in stops]
    for numbers in (range(len(stops)), range(len(stops) - 1, -1, -1)):
        alive: dict[int, Ints] = {}
        for number in numbers:
            is_onward = numbers.step > 0
            hosts = [h for h in rides[number] if (h < number) is is_onward and len(alive.get(h, ())) > 0]
            ridden = _ridden(stops[number], spreads, {h: alive[h] for h in hosts})
            blocks[number].extend(ridden)
            alive = {r.host: r.picks for r in ridden}
            alive[number] = np.arange(spreads[number].latitudes.shape[1])
    return [_layer(number, own, blocks[number]) for number, own in enumerate(spreads)]


@dataclass(frozen=True, slots=True)
class _Ridden:
    """Samples of a host that a stop may ride on, with what forbids them (paths, picks)."""

    host: int
    picks: Ints
    penalty: Floats
    places: Floats
    normals: Floats


def _ridden(stop: Stop, spreads: Sequence[_Spread], alive: Mapping[int, Ints]) -> list[_Ridden]:
    """Return the samples ridden on that lie in the stop's zone in at least one path; all hosts are asked in one go."""
    if not alive or stop.zone is None:
        return []
    latitudes = np.concatenate([spreads[h].latitudes[:, picks] for h, picks in alive.items()], axis=1)
    longitudes = np.concatenate([spreads[h].longitudes[:, picks] for h, picks in alive.items()], axis=1)
    penalty = np.where(outside_m(stop.zone, stop.at, latitudes, longitudes) > 0, np.inf, 0.0)
    found, first = [], 0
    for host, picks in alive.items():
        own = penalty[:, first : first + len(picks)]
        first += len(picks)
        held = np.isfinite(own).any(axis=0)
        if held.any():
            places, normals = spreads[host].places[:, :, picks[held]], spreads[host].normals[:, :, picks[held]]
            found.append(_Ridden(host, picks[held], own[:, held], places, normals))
    return found


def _layer(number: int, own: _Spread, ridden: Sequence[_Ridden]) -> Layer:
    count = own.latitudes.shape[1]
    blocks = [Block(number, 0, np.arange(count))]
    for r in ridden:
        blocks.append(Block(r.host, count, r.picks))
        count += len(r.picks)
    free = np.zeros(own.latitudes.shape)
    if not ridden:
        return Layer(own.places, own.normals, free, tuple(blocks))
    places = np.concatenate([own.places, *(r.places for r in ridden)], axis=2)
    normals = np.concatenate([own.normals, *(r.normals for r in ridden)], axis=2)
    return Layer(places, normals, np.concatenate([free, *(r.penalty for r in ridden)], axis=1), tuple(blocks))


def _stand(
    stops: Sequence[Stop],
    samples: Sequence[Samples],
    coarse: Sequence[_Spread],
    layers: Sequence[Layer],
    paths: Sequence[tuple[int, ...]],
) -> list[_Place]:
    """Return where each of the paths stands on every stop's own tracks; a rider stands next to where it rides."""
    standing = []
    for number, (stop, own) in enumerate(zip(stops, samples, strict=True)):
        chosen = np.array([path[number] for path in paths])
        count = len(own.along)
        index = np.minimum(chosen, count - 1)
        place = _Place(own.edge[index].copy(), own.along[index].copy(), own.step_m[index].copy())
        for block in layers[number].blocks[1:]:
            rides = (chosen >= block.here.start) & (chosen < block.here.stop)
            if rides.any():
                host, at = coarse[block.host], block.picks[chosen[rides] - block.first]
                edge, along = stop.tracks.nearest(host.latitudes[0, at], host.longitudes[0, at])
                place.edge[rides], place.along[rides] = edge, along
                place.width[rides] = np.maximum(own.step_m.max(initial=0.0), samples[block.host].step_m[at])
        standing.append(place)
    return standing


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
        spreads = [_spread(stop, window) for stop, window in zip(stops, windows, strict=True)]
        layers = _layers(stops, spreads, problem.rides)
        totals, chosen = best_of_each(layers, legs(layers, problem.earth, problem.sign))
        latitudes, longitudes = _move(problem, standing, windows, spreads, layers, chosen)
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
    problem: _Problem,
    standing: Sequence[_Place],
    windows: Sequence[Floats],
    spreads: Sequence[_Spread],
    layers: Sequence[Layer],
    chosen: Ints,
) -> tuple[Floats, Floats]:
    """Move every standing place to the chosen candidate and narrow its window; return the chosen positions.

    A place that went to the end of its window widens it, for the best place may lie beyond. Each place does so by
    itself: windows of different sizes would else hold each other up where two places can only move together.
    """
    paths = np.arange(chosen.shape[1])
    latitudes, longitudes = np.empty(chosen.shape), np.empty(chosen.shape)
    for n, (stop, place, window) in enumerate(zip(problem.stops, standing, windows, strict=True)):
        count = window.shape[1]
        own = chosen[n] < count
        index = np.minimum(chosen[n], count - 1)
        latitudes[n], longitudes[n] = spreads[n].latitudes[paths, index], spreads[n].longitudes[paths, index]
        moved = window[paths, index]
        if stop.zone is not None:
            is_moving = own & (np.abs(moved - place.along) > 0) & (place.width > _FINEST_M)
            place.width = place.width * np.where(is_moving, _RESCALE[np.abs(index - count // 2)], 0.5)
        if problem.rides[n] and not own.all():
            for block in layers[n].blocks[1:]:
                riding = (chosen[n] >= block.here.start) & (chosen[n] < block.here.stop)
                host, k = spreads[block.host], block.picks[chosen[n][riding] - block.first]
                latitudes[n, riding] = host.latitudes[paths[riding], k]
                longitudes[n, riding] = host.longitudes[paths[riding], k]
            edge, along = stop.tracks.nearest(latitudes[n], longitudes[n])
            place.edge = np.where(own, place.edge, edge)
            moved = np.where(own, moved, along)
        place.along = moved
    return latitudes, longitudes
