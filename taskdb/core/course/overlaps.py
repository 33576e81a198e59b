"""Where the zones of a path overlap: which points can be one place, and where an edge enters another zone.

The shortest path may touch two zones at once, at a place on the edge of one inside the other; without these places a
sampled search is metres too long. Made for the search in `extremes`; decides nothing about lengths.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from taskdb.core.course.regions import reach_m
from taskdb.core.course.tracks import Floats, Ints, Samples, Tracks, outside_m, spread, with_extra
from taskdb.core.geodesy import distance_m
from taskdb.core.model import Position, Shape, Zone

_FINER = 5
_HALVINGS = 24


@dataclass(frozen=True, slots=True)
class Stop:
    """A point of a path: free along its tracks and, where they are a zone's edge, within the zone; or one fixed place.

    `zone` is None for a fixed place.
    """

    at: Position
    tracks: Tracks
    zone: Zone | None

    @property
    def reach_m(self) -> float:
        return 0.0 if self.zone is None else reach_m(self.zone)


def _touch(a: Stop, b: Stop) -> bool:
    return distance_m(a.at, b.at) <= a.reach_m + b.reach_m


def overlapping(stops: Sequence[Stop]) -> list[list[int]]:
    """Return for each stop the others that it may coincide with: those up to which every stop between touches too."""
    found: list[list[int]] = [[] for _ in stops]
    for here in range(len(stops)):
        for sense in (-1, 1):
            other = here + sense
            while 0 <= other < len(stops) and _touch(stops[other], stops[here]):
                found[other].append(here)
                other += sense
    return found


def riders(stops: Sequence[Stop], touching: Sequence[Sequence[int]]) -> list[list[int]]:
    """Return for each stop the others on whose samples it may ride, earlier ones first.

    A point inside its zone slides back along the path to its zone's edge or to the point before it, so riding on an
    earlier point is enough; only where the path begins within a zone may the first points ride on a later one.
    A fixed place and a line, which is all edge, never ride.
    """
    first_is_free = stops[0].zone is not None
    can_ride = [s.zone is not None and s.zone.shape is not Shape.LINE for s in stops]
    return [[h for h in sorted(touching[n]) if can_ride[n] and (h < n or first_is_free)] for n in range(len(stops))]


def sampled(stops: Sequence[Stop], touching: Sequence[Sequence[int]]) -> list[Samples]:
    """Return the samples of every stop, with the places added where its edge enters a zone that it touches."""
    result = []
    for number, stop in enumerate(stops):
        samples = spread(stop.tracks)
        others = [stops[h].zone for h in touching[number]]
        places = [stops[h].at for h in touching[number]]
        extra = [_entries(stop.tracks, z, p) for z, p in zip(others, places, strict=True) if z is not None]
        if stop.zone is not None and extra:
            samples = with_extra(stop.tracks, samples, np.concatenate(extra))
        result.append(samples)
    return result


def _outside(tracks: Tracks, zone: Zone, at: Position, edge: Ints, along: Floats) -> Floats:
    latitudes, longitudes = tracks.positions(tracks.wrapped(edge, along))
    return outside_m(zone, at, latitudes, longitudes)


def _entries(tracks: Tracks, zone: Zone, at: Position) -> Floats:
    """Return coordinates at which the tracks enter or leave the zone, on its inner side; thin overlaps included."""
    fine = spread(tracks, _FINER)
    outside = _outside(tracks, zone, at, fine.edge, fine.along)
    edges, insides, beyonds, dips = [], [], [], []
    for first, last, closed in fine.runs:
        inside, beyond, lowest = _changes(outside[first:last], closed)
        # Across the seam of a closed edge the coordinate jumps by its length: take the way that is one step.
        ahead = np.where((beyond - inside) % (last - first) == 1, 1.0, -1.0)
        edges.append(fine.edge[first + inside])
        insides.append(fine.along[first + inside])
        beyonds.append(fine.along[first + inside] + ahead * fine.step_m[first + inside])
        dips.append(first + lowest)
    # Nothing can come nearer by more than the way along the edge.
    dip = np.concatenate(dips)
    dip = dip[outside[dip] <= 1.01 * fine.step_m[dip]]
    centre, is_in = _lowest(tracks, zone, at, fine.edge[dip], fine.along[dip], fine.step_m[dip])
    edge, there, way = fine.edge[dip][is_in], centre[is_in], 2 * fine.step_m[dip][is_in]
    found = _enter(
        tracks,
        zone,
        at,
        np.concatenate([*edges, edge, edge]),
        np.concatenate([*insides, there, there]),
        np.concatenate([*beyonds, there + way, there - way]),
    )
    return np.concatenate([there, found])


def _changes(outside: Floats, closed: bool) -> tuple[Ints, Ints, Ints]:
    """Return indices of samples inside with a neighbour outside, those neighbours, and dips that stay outside."""
    count = len(outside)
    here = np.arange(count)
    inside, beyond = [], []
    lowest = outside > 0
    for sense in (-1, 1):
        neighbour = here + sense
        exists = np.full(count, True) if closed else (neighbour >= 0) & (neighbour < count)
        values = outside[neighbour % count]
        leaves = (outside == 0) & (values > 0) & exists
        inside.append(here[leaves])
        beyond.append((neighbour % count)[leaves])
        lowest &= (outside <= values) | ~exists
    return np.concatenate(inside), np.concatenate(beyond), here[lowest]


def _enter(tracks: Tracks, zone: Zone, at: Position, edge: Ints, inside: Floats, beyond: Floats) -> Floats:
    """Return the last coordinates inside, halving between one inside and one outside (or an inside end of an edge)."""
    for _ in range(_HALVINGS if len(inside) else 0):
        middle = (inside + beyond) / 2
        is_in = _outside(tracks, zone, at, edge, middle) == 0
        inside, beyond = np.where(is_in, middle, inside), np.where(is_in, beyond, middle)
    return tracks.wrapped(edge, inside) if len(inside) else inside


def _lowest(
    tracks: Tracks, zone: Zone, at: Position, edge: Ints, along: Floats, step: Floats
) -> tuple[Floats, np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """Return where near each dip the tracks come nearest to the zone, and whether they enter it there."""
    offsets = np.linspace(-1.0, 1.0, 9)
    centre, width = along.copy(), step.copy()
    lowest = np.full(len(along), np.inf)
    for _ in range(_HALVINGS if len(along) else 0):
        around = centre[:, None] + width[:, None] * offsets
        outside = _outside(tracks, zone, at, np.repeat(edge[:, None], len(offsets), axis=1), around)
        best = np.argmin(outside, axis=1)
        rows = np.arange(len(along))
        centre, lowest = around[rows, best], outside[rows, best]
        width = width / 2
        if (lowest == 0).all():
            break
    return tracks.wrapped(edge, centre) if len(along) else centre, lowest == 0
