"""The shortest and the longest path through a task's zones, with the points that attain them.

Samples of the zones' edges and dynamic programming find the basins, a joint zoom in each of them goes down to a
millimetre, and the winner is measured by geodesics. Deductions and what a contest counts are not its concern.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from taskdb.core.course.boundary import Edge, bulging_edges, corner, edges
from taskdb.core.course.overlaps import Stop, overlapping, riders, sampled
from taskdb.core.course.programme import Block, Layer, basins, best_of_each, leg_costs
from taskdb.core.course.regions import counted_position, reach_m
from taskdb.core.course.tracks import Floats, Ints, Samples, lay_tracks, outside_m, spread
from taskdb.core.geodesy import earth_vectors, length_m, path_length_m, wrap_longitude
from taskdb.core.model import Earth, Position, Role, Task, TaskPoint

_MOST_BASINS_SHORTEST = 12
_MOST_BASINS_LONGEST = 6
_OFFSETS = np.linspace(-1.0, 1.0, 7)
_RESCALE = np.array([0.5, 0.5, 0.75, 1.5])
"""How a window changes its size when its best sample lies in its middle … at its end."""

_FINEST_M = 1e-3
_MOST_ROUNDS = 60


@dataclass(frozen=True, slots=True)
class Path:
    """A path from start to finish, one position a point (not rounded), and the length of each leg in metres."""

    points: tuple[Position, ...]
    legs_m: tuple[float, ...]

    @property
    def length_m(self) -> float:
        return math.fsum(self.legs_m)


def path_through(points: Sequence[Position], earth: Earth) -> Path:
    """Return the path through the points, measured by geodesics on the earth model."""
    return Path(tuple(points), tuple(length_m(a, b, earth) for a, b in pairwise(points)))


def shortest_path(task: Task) -> Path:
    """Return the shortest path with a point in each zone of role area; other points count at their place.

    Without an area it is the path through the counted positions. Points must be resolved (ValueError otherwise).
    """
    if not any(p.role is Role.AREA for p in task.points):
        return path_through([counted_position(p) for p in task.points], task.rules.earth)
    return _search([_area_stop(p, longest=False) for p in task.points], task.rules.earth, 1.0)


def longest_path(task: Task) -> Path:
    """Return the longest path with a point in each zone of role area; other points count at their place.

    Without an area it is the path through the counted positions. Points must be resolved, and every zone of role
    area bounded (ValueError otherwise).
    """
    if not any(p.role is Role.AREA for p in task.points):
        return path_through([counted_position(p) for p in task.points], task.rules.earth)
    return _search([_area_stop(p, longest=True) for p in task.points], task.rules.earth, -1.0)


def shortest_touching_path(task: Task) -> Path:
    """Return the shortest path that touches every zone in order, start and finish included, whatever its shape.

    A sector without a radius counts as far as a path of this task could need it.
    """
    if len(task.points) < 2:
        return path_through([p.place.position for p in task.points], task.rules.earth)
    through = path_length_m([p.place.position for p in task.points], Earth.WGS84)
    reaches = [reach_m(p.zone) for p in task.points]
    enough = min(9e6, max(50_000.0, 2 * (through + sum(r for r in reaches if math.isfinite(r)))))
    stops = [_stop(p, edges(p.zone, enough)) for p in task.points]
    return _search(stops, task.rules.earth, 1.0)


def _stop(point: TaskPoint, zone_edges: Sequence[Edge]) -> Stop:
    at = point.place.position
    return Stop(at, lay_tracks(zone_edges, at), point.zone)


def _area_stop(point: TaskPoint, *, longest: bool) -> Stop:
    if point.role is not Role.AREA:
        at = counted_position(point)
        return Stop(at, lay_tracks([corner(0.0, 0.0)], at), None)
    if math.isinf(reach_m(point.zone)):
        raise ValueError(f"the zone {point.zone.text!r} of role area has no end")
    return _stop(point, bulging_edges(point.zone) if longest else edges(point.zone, 0.0))


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


def _search(stops: Sequence[Stop], earth: Earth, sign: float) -> Path:
    """Return the best path: the shortest for sign 1, the longest for −1."""
    if sign > 0:
        touching = overlapping(stops)
        rides = riders(stops, touching)
        samples = sampled(stops, touching)
        most = _MOST_BASINS_SHORTEST
    else:
        rides = [[] for _ in stops]
        samples = [spread(stop.tracks) for stop in stops]
        most = _MOST_BASINS_LONGEST
    coarse = [_spread(stop, s.along[None, :]) for stop, s in zip(stops, samples, strict=True)]
    layers = _layers(stops, coarse, rides)
    paths = basins(layers, leg_costs(layers, earth, sign), _runs(layers, samples), most)
    standing = _stand(stops, samples, coarse, layers, paths)
    candidates = _zoom(stops, rides, standing, earth, sign)
    measured = [path_through(points, earth) for points in candidates]
    return min(measured, key=lambda path: sign * path.length_m)


def _spread(stop: Stop, along: Floats) -> _Spread:
    latitudes, longitudes = stop.tracks.positions(along)
    return _Spread(latitudes, longitudes, *earth_vectors(latitudes, longitudes))


def _layers(stops: Sequence[Stop], spreads: Sequence[_Spread], rides: Sequence[Sequence[int]]) -> list[Layer]:
    """Return each stop's candidates: its own samples first, then those that it rides on, where they are in its zone."""
    layers = []
    for number, (stop, own) in enumerate(zip(stops, spreads, strict=True)):
        hosts = [own, *(spreads[h] for h in rides[number])]
        penalties: list[Floats] = [np.zeros(own.latitudes.shape)]
        if stop.zone is not None:
            for host in hosts[1:]:
                off = outside_m(stop.zone, stop.at, host.latitudes, host.longitudes)
                penalties.append(np.where(off > 0, np.inf, 0.0))
        blocks, first = [], 0
        for origin, penalty in zip([number, *rides[number]], penalties, strict=True):
            blocks.append(Block(origin, first, penalty.shape[1]))
            first += penalty.shape[1]
        if len(hosts) == 1:
            layers.append(Layer(own.places, own.normals, penalties[0], tuple(blocks)))
        else:
            places = np.concatenate([h.places for h in hosts], axis=2)
            normals = np.concatenate([h.normals for h in hosts], axis=2)
            layers.append(Layer(places, normals, np.concatenate(penalties, axis=1), tuple(blocks)))
    return layers


def _runs(layers: Sequence[Layer], samples: Sequence[Samples]) -> list[list[tuple[int, int, bool]]]:
    return [
        [
            (block.first + first, block.first + last, closed)
            for block in layer.blocks
            for first, last, closed in samples[block.host].runs
        ]
        for layer in layers
    ]


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
            rides = (chosen >= block.first) & (chosen < block.first + block.count)
            if rides.any():
                host, at = coarse[block.host], chosen[rides] - block.first
                edge, along = stop.tracks.nearest(host.latitudes[0, at], host.longitudes[0, at])
                place.edge[rides], place.along[rides] = edge, along
                place.width[rides] = np.maximum(own.step_m.max(initial=0.0), samples[block.host].step_m[at])
        standing.append(place)
    return standing


def _zoom(
    stops: Sequence[Stop], rides: Sequence[Sequence[int]], standing: list[_Place], earth: Earth, sign: float
) -> list[list[Position]]:
    """Return the best points near each standing path: the programme on ever narrower windows, all paths at once."""
    for round_ in range(_MOST_ROUNDS):
        windows = [
            p.along[:, None]
            if s.zone is None
            else s.tracks.wrapped(p.edge[:, None], p.along[:, None] + p.width[:, None] * _OFFSETS)
            for s, p in zip(stops, standing, strict=True)
        ]
        spreads = [_spread(stop, window) for stop, window in zip(stops, windows, strict=True)]
        layers = _layers(stops, spreads, rides)
        totals, chosen = best_of_each(layers, leg_costs(layers, earth, sign))
        points = _move(stops, rides, standing, windows, spreads, layers, chosen)
        slack = 4 * sum(p.width for p in standing)
        paths = np.flatnonzero(totals <= totals.min() + slack)
        if max(float(p.width.max()) for p in standing) < _FINEST_M or round_ == _MOST_ROUNDS - 1:
            break
        if len(paths) < len(totals):
            for place in standing:
                place.keep(paths)
    latitudes, longitudes = points
    return [
        [
            stop.at
            if stop.zone is None
            else Position(float(latitudes[n, path]), wrap_longitude(float(longitudes[n, path])))
            for n, stop in enumerate(stops)
        ]
        for path in paths
    ]


def _move(
    stops: Sequence[Stop],
    rides: Sequence[Sequence[int]],
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
    for n, (stop, place, window) in enumerate(zip(stops, standing, windows, strict=True)):
        count = window.shape[1]
        own = chosen[n] < count
        index = np.minimum(chosen[n], count - 1)
        latitudes[n], longitudes[n] = spreads[n].latitudes[paths, index], spreads[n].longitudes[paths, index]
        moved = window[paths, index]
        if stop.zone is not None:
            is_moving = own & (np.abs(moved - place.along) > 0) & (place.width > _FINEST_M)
            place.width = place.width * np.where(is_moving, _RESCALE[np.abs(index - count // 2)], 0.5)
        if rides[n] and not own.all():
            for block in layers[n].blocks[1:]:
                riding = (chosen[n] >= block.first) & (chosen[n] < block.first + block.count)
                host, k = spreads[block.host], chosen[n][riding] - block.first
                latitudes[n, riding] = host.latitudes[paths[riding], k]
                longitudes[n, riding] = host.longitudes[paths[riding], k]
            edge, along = stop.tracks.nearest(latitudes[n], longitudes[n])
            place.edge = np.where(own, place.edge, edge)
            moved = np.where(own, moved, along)
        place.along = moved
    return latitudes, longitudes
