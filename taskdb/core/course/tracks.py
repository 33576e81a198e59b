"""Edges of zones as numbers to search along: one coordinate in metres that runs over all edges of a zone.

Turns coordinates into positions by exact geodesics, many at once, and says how far outside a zone a position lies.
It searches for nothing itself.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from taskdb.core.course.boundary import Edge, Piece
from taskdb.core.course.contains import ON_EDGE_M
from taskdb.core.course.regions import Wedge, needed, reach_m, wedges
from taskdb.core.geodesy import bearings_and_distances, destinations, earth_vectors, quick_lengths_m
from taskdb.core.model import Earth, Position, Shape, Zone

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]

_GAP_M = 10.0
"""Between two edges on the common coordinate, so that each coordinate belongs to one of them."""

_PER_CIRCLE = 72
_PER_RADIAL = 12
_PER_LONG_RADIAL = 32
_LONG_RADIAL_M = 50_000.0

_QUICK_TO_M = 1e6
_NEAR_EDGE_M = 1.0
"""Quick lengths are 18 mm off at a million metres: beyond that, and this near to an edge, geodesics decide."""


@dataclass(frozen=True, slots=True)
class Tracks:
    """The edges of one zone, laid behind each other on one coordinate in metres; arrays by piece, then by edge."""

    at: Position
    starts: Floats
    lengths: Floats
    from_deg: Floats
    turn_deg: Floats
    from_m: Floats
    rise_m: Floats
    edge_starts: Floats
    edge_lengths: Floats
    is_closed: Flags

    def wrapped(self, edge: Ints, along: Floats) -> Floats:
        """Return coordinates brought back onto their edge: round a closed one, held at the ends of an open one."""
        start, length = self.edge_starts[edge], self.edge_lengths[edge]
        off = along - start
        round_it = off - length * np.floor(off / np.maximum(length, 1e-9))
        return start + np.where(self.is_closed[edge], round_it, np.clip(off, 0.0, length))

    def positions(self, along: Floats) -> tuple[Floats, Floats]:
        """Return latitudes and longitudes (degrees, not wrapped) for coordinates that lie on an edge."""
        flat = along.ravel()
        piece = np.searchsorted(self.starts, flat, side="right") - 1
        part = np.clip((flat - self.starts[piece]) / np.maximum(self.lengths[piece], 1e-9), 0.0, 1.0)
        bearing = self.from_deg[piece] + self.turn_deg[piece] * part
        away = self.from_m[piece] + self.rise_m[piece] * part
        latitude, longitude = destinations(
            np.full_like(flat, self.at.latitude_deg), np.full_like(flat, self.at.longitude_deg), bearing, away
        )
        return latitude.reshape(along.shape), longitude.reshape(along.shape)

    def nearest(self, latitudes: Floats, longitudes: Floats) -> tuple[Ints, Floats]:
        """Return edge and coordinate next to each position (one dimension), exact for a position on an edge."""
        bearing, away = bearings_and_distances(self.at, latitudes, longitudes)
        best = np.full(away.shape, np.inf)
        along = np.zeros(away.shape)
        for n in range(len(self.starts)):
            part, off = self._foot(n, bearing, away)
            is_nearer = off < best
            best = np.where(is_nearer, off, best)
            along = np.where(is_nearer, self.starts[n] + part * self.lengths[n], along)
        return np.searchsorted(self.edge_starts, along, side="right") - 1, along

    def _foot(self, n: int, bearing: Floats, away: Floats) -> tuple[Floats, Floats]:
        """Return where on piece `n` (0…1) the nearest place is and how far off, as on a plane."""
        turn, rise = float(self.turn_deg[n]), float(self.rise_m[n])
        if turn:
            sense = math.copysign(1.0, turn)
            part = ((bearing - self.from_deg[n]) * sense % 360.0) / abs(turn)
            # Beyond the end of an arc: its nearer end.
            over = (360.0 / abs(turn) - 1.0) / 2 + 1.0
            part = np.where(part > over, 0.0, np.minimum(part, 1.0))
        elif rise:
            inward = away * np.cos(np.radians(bearing - self.from_deg[n]))
            part = np.clip((inward - self.from_m[n]) / rise, 0.0, 1.0)
        else:
            part = np.zeros_like(away)
        at_bearing = np.radians(self.from_deg[n] + turn * part - bearing)
        at_away = self.from_m[n] + rise * part
        square = np.square(at_away - away) + 4 * at_away * away * np.square(np.sin(at_bearing / 2))
        return part, np.sqrt(np.maximum(square, 0.0))


def lay_tracks(edges: Sequence[Edge], at: Position) -> Tracks:
    """Return the edges of a zone at its point on one coordinate."""
    pieces: list[Piece] = []
    starts: list[float] = []
    edge_starts: list[float] = []
    edge_lengths: list[float] = []
    along = 0.0
    for edge in edges:
        edge_starts.append(along)
        for piece in edge.pieces:
            pieces.append(piece)
            starts.append(along)
            along += piece.length_m
        edge_lengths.append(along - edge_starts[-1])
        along += _GAP_M
    numbers = np.array([(p.length_m, p.from_deg, p.turn_deg, p.from_m, p.rise_m) for p in pieces])
    return Tracks(
        at,
        starts=np.array(starts),
        lengths=numbers[:, 0],
        from_deg=numbers[:, 1],
        turn_deg=numbers[:, 2],
        from_m=numbers[:, 3],
        rise_m=numbers[:, 4],
        edge_starts=np.array(edge_starts),
        edge_lengths=np.array(edge_lengths),
        is_closed=np.array([edge.is_closed for edge in edges]),
    )


@dataclass(frozen=True, slots=True)
class Samples:
    """Coordinates spread over all edges of a zone, in order; `step_m` is the distance to the further neighbour.

    `runs` are the stretches that follow each other without a gap: first, behind the last, whether it closes.
    """

    along: Floats
    edge: Ints
    step_m: Floats
    runs: tuple[tuple[int, int, bool], ...]


def spread(tracks: Tracks, finer: int = 1) -> Samples:
    """Return samples over all edges: every 5° of an arc, a dozen on a radial, corners always; `finer` times as many.

    Radials beyond 50 km are sampled closer towards their point, where the other points of a task are.
    """
    parts = []
    for n in range(len(tracks.starts)):
        fractions = _fractions(float(tracks.turn_deg[n]), float(tracks.rise_m[n]), finer)
        parts.append(tracks.starts[n] + fractions * tracks.lengths[n])
    along_parts, edge_parts, runs = [], [], []
    count = 0
    for edge, (start, length) in enumerate(zip(tracks.edge_starts, tracks.edge_lengths, strict=True)):
        own = [p for p, first in zip(parts, tracks.starts, strict=True) if start <= first <= start + length]
        closed = bool(tracks.is_closed[edge])
        if not closed and length > 0:
            own.append(np.array([start + length]))
        along_parts.append(np.concatenate(own))
        edge_parts.append(np.full(len(along_parts[-1]), edge, dtype=np.intp))
        runs.append((count, count + len(along_parts[-1]), closed))
        count += len(along_parts[-1])
    steps = [_steps(a, float(tracks.edge_lengths[n]), runs[n][2]) for n, a in enumerate(along_parts)]
    return Samples(np.concatenate(along_parts), np.concatenate(edge_parts), np.concatenate(steps), tuple(runs))


def _fractions(turn_deg: float, rise_m: float, finer: int) -> Floats:
    if turn_deg:
        count = max(8, math.ceil(abs(turn_deg) * _PER_CIRCLE / 360.0)) * finer * finer
    elif abs(rise_m) > _LONG_RADIAL_M:
        count = _PER_LONG_RADIAL * finer
        evenly: Floats = np.arange(count) / count
        crowded: Floats = np.power(evenly, 3) if rise_m > 0 else 1 - np.power(1 - evenly, 3)
        return crowded
    else:
        count = _PER_RADIAL * finer if rise_m else 1
    fractions: Floats = np.arange(count) / count
    return fractions


def _steps(along: Floats, length_m: float, closed: bool) -> Floats:
    if len(along) < 2:
        return np.zeros(len(along))
    gaps = np.diff(along)
    before = np.concatenate([[length_m - (along[-1] - along[0]) if closed else 0.0], gaps])
    after = np.concatenate([gaps, before[:1]])
    larger: Floats = np.maximum(before, after)
    return larger


@dataclass(frozen=True, slots=True)
class Positions:
    """Many positions: latitudes and longitudes (degrees, not wrapped), and as vectors with a leading axis of 3."""

    latitudes: Floats
    longitudes: Floats
    places: Floats
    normals: Floats

    @staticmethod
    def at(latitudes: Floats, longitudes: Floats) -> Positions:
        return Positions(latitudes, longitudes, *earth_vectors(latitudes, longitudes))

    def taken(self, numbers: Ints) -> Positions:
        """Return those with the numbers along the last axis."""
        return Positions(
            *(values[..., numbers] for values in (self.latitudes, self.longitudes, self.places, self.normals))
        )


def outside_m(zone: Zone, at: Position, positions: Positions) -> Floats:
    """Return how far outside a zone each position lies, 0 within; the zero is exact, the size about right."""
    parts = wedges(zone)
    if parts and all(wedge.is_full for wedge in parts):
        off = _outside_rings_m(parts, at, positions)
    else:
        latitudes, longitudes = positions.latitudes, positions.longitudes
        lines = bearings_and_distances(at, latitudes.ravel(), longitudes.ravel())
        bearing, away = (values.reshape(latitudes.shape) for values in lines)
        if zone.shape is Shape.LINE:
            axis = needed(zone.axis_deg, zone, "axis")
            off = np.maximum(np.abs(away * np.cos(np.radians(bearing - axis))), away - reach_m(zone))
        else:
            off = np.minimum.reduce([_outside_wedge_m(wedge, bearing, away) for wedge in parts])
    outside: Floats = np.where(off <= ON_EDGE_M, 0.0, off)
    return outside


def _outside_rings_m(rings: Sequence[Wedge], at: Position, positions: Positions) -> Floats:
    """Return how far outside full circles and rings each position lies: without bearings quick lengths tell most."""
    place, normal = earth_vectors(np.array(at.latitude_deg), np.array(at.longitude_deg))
    shape = (3,) + (1,) * positions.latitudes.ndim
    steps, turns = positions.places - place.reshape(shape), positions.normals - normal.reshape(shape)
    away = quick_lengths_m(steps, turns, Earth.WGS84)
    near = away > _QUICK_TO_M
    for edge_m in {edge for ring in rings for edge in (ring.inner_m, ring.outer_m)}:
        near |= np.abs(away - edge_m) < _NEAR_EDGE_M
    if near.any():
        away[near] = bearings_and_distances(at, positions.latitudes[near], positions.longitudes[near])[1]
    off: Floats = np.minimum.reduce([np.maximum(ring.inner_m - away, away - ring.outer_m) for ring in rings])
    return off


def _outside_wedge_m(wedge: Wedge, bearing: Floats, away: Floats) -> Floats:
    off: Floats = np.maximum(wedge.inner_m - away, away - wedge.outer_m)
    if wedge.is_full:
        return off
    half = wedge.width_deg / 2
    beyond = np.abs((bearing - wedge.from_deg - half + 180.0) % 360.0 - 180.0) - half
    aside = np.where(beyond < 90.0, away * np.sin(np.radians(np.minimum(beyond, 90.0))), away)
    worst: Floats = np.maximum(off, np.where(beyond > 0, aside, 0.0))
    return worst


def with_extra(tracks: Tracks, samples: Samples, extra: Floats) -> Samples:
    """Return the samples with more coordinates among them, in order along each edge."""
    along_parts, edge_parts, step_parts, runs = [], [], [], []
    count = 0
    for edge, (first, last, closed) in enumerate(samples.runs):
        start, length = float(tracks.edge_starts[edge]), float(tracks.edge_lengths[edge])
        own = extra[(extra >= start) & (extra <= start + length)]
        along = np.unique(np.concatenate([samples.along[first:last], own]))
        along_parts.append(along)
        edge_parts.append(np.full(len(along), edge, dtype=np.intp))
        # The window around a sample keeps the width that it had without the extra ones.
        step_parts.append(np.full(len(along), float(samples.step_m[first:last].max(initial=0.0))))
        runs.append((count, count + len(along), closed))
        count += len(along)
    return Samples(np.concatenate(along_parts), np.concatenate(edge_parts), np.concatenate(step_parts), tuple(runs))
