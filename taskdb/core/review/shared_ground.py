"""Whether two zones share ground: a place that lies in both, found along their edges by exact geodesics.

Two regions share ground where the edge of one enters the other (or one holds the other, edge and all). Edges belong
to zones: zones that touch share the place where they touch. A sector without a radius is looked at up to a stated one.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from taskdb.core.course.boundary import edges
from taskdb.core.course.contains import contains
from taskdb.core.course.outline import DISPLAY_RADIUS_M
from taskdb.core.course.regions import reach_m
from taskdb.core.course.tracks import Floats, Ints, Positions, Tracks, lay_tracks, outside_m, spread
from taskdb.core.geodesy import distance_m, wrap_longitude
from taskdb.core.model import Position, Shape, Zone

_FINER = 5
_HALVINGS = 40
_OFFSETS = np.linspace(-1.0, 1.0, 9)


def shared_place(
    zone: Zone, at: Position, other: Zone, other_at: Position, *, unbounded_radius_m: float = DISPLAY_RADIUS_M
) -> Position | None:
    """Return a place that lies in both zones, None where there is none; to a millimetre.

    A sector without a radius counts up to `unbounded_radius_m`. ValueError where a needed axis is not resolved.
    """
    first, second = _cut_off(zone, unbounded_radius_m), _cut_off(other, unbounded_radius_m)
    if distance_m(at, other_at) > reach_m(first) + reach_m(second):
        return None
    for middle in (at, other_at):
        if contains(first, at, middle) and contains(second, other_at, middle):
            return middle
    return _entered(first, at, second, other_at) or _entered(second, other_at, first, at)


def _cut_off(zone: Zone, radius_m: float) -> Zone:
    is_open = zone.shape is Shape.SECTOR and zone.radius_m is None
    return replace(zone, radius_m=radius_m) if is_open else zone


def _entered(zone: Zone, at: Position, other: Zone, other_at: Position) -> Position | None:
    """Return where the edge of a zone lies in another."""
    tracks = lay_tracks(edges(zone, reach_m(zone)), at)
    samples = spread(tracks, _FINER)
    edge, along, step = samples.edge, samples.along, samples.step_m
    outside = _outside(tracks, edge, along, other, other_at)
    # Along its edge nothing comes nearer to the other zone by more than the way; only the nearest are worth a look.
    near = outside <= 1.01 * step + 1e-6
    edge, along, step, outside = edge[near], along[near], step[near], outside[near]
    for _ in range(_HALVINGS):
        if not len(along) or outside.min() == 0:
            break
        around = along[:, None] + step[:, None] * _OFFSETS
        found = _outside(tracks, np.repeat(edge[:, None], len(_OFFSETS), axis=1), around, other, other_at)
        best, rows = np.argmin(found, axis=1), np.arange(len(along))
        along, outside = around[rows, best], found[rows, best]
        step = step / 2
    if not len(along) or outside.min() > 0:
        return None
    best_one = int(np.argmin(outside))
    latitude, longitude = tracks.positions(
        tracks.wrapped(edge[best_one : best_one + 1], along[best_one : best_one + 1])
    )
    return Position(float(latitude[0]), wrap_longitude(float(longitude[0])))


def _outside(tracks: Tracks, edge: Ints, along: Floats, other: Zone, other_at: Position) -> Floats:
    return outside_m(other, other_at, Positions.at(*tracks.positions(tracks.wrapped(edge, along))))
