"""Where legs pass through volumes: for each leg and volume the stretches, metres along the geodesic from its start.

A leg is a geodesic, an edge is straight in longitude and latitude: the leg is looked at in pieces so short that each
is straight too, its crossings are then found on the geodesic itself, and what lies between two of them is asked at
its middle. So a leg may cross several times, run through holes, over the antimeridian, or along an edge.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from taskdb.core.airspace.ground import Bools, Floats, GroundEdges, Ints, are_within, lay_out, spread_pairs
from taskdb.core.airspace.volume import Volume
from taskdb.core.geodesy import EQUATOR_RADIUS_M, destinations, inverse
from taskdb.core.model import Position

PIECE_M = 2_000.0
"""Pieces of 2 km give the same as pieces of 50 m; two points for a whole leg were wrong in 55 of 2,820."""
_STRAIGHT_WITHIN_M = 0.5
LEAST_STRETCH_M = 1.0
"""A shorter touch, as at a corner, is none; two stretches nearer to each other are one."""
_CHUNK = 16
_SLACK_DEG = 1e-5
"""About a metre, more than a piece of a geodesic leaves its straight line."""
_BLOCK = 500_000
_TURNS = (-360.0, 0.0, 360.0)

Leg = tuple[Position, Position]
Stretches = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Passage:
    """A volume, by its number, on a leg: the stretches in it, in order, metres from the leg's first position."""

    volume: int
    stretches_m: Stretches


@dataclass(frozen=True, slots=True)
class _Pieces:
    """All legs cut into pieces, behind each other; longitudes run on along each leg. Arrays by piece."""

    leg: Ints
    start_m: Floats
    step_m: Floats
    x: Floats
    y: Floats
    dx: Floats
    dy: Floats


@dataclass(frozen=True, slots=True)
class _Chunks:
    """Runs of up to `_CHUNK` pieces of one leg, or all of a leg: their box, their first piece, and how many.

    `off` is how far their places lie beside the chord of the chunk, in degrees with longitudes as they are.
    """

    first: Ints
    count: Ints
    boxes: Floats
    x: Floats
    y: Floats
    dx: Floats
    dy: Floats
    off: Floats


@dataclass(frozen=True, slots=True)
class _Lines:
    """The legs as geodesics: where each begins, its course there, its length; arrays by leg."""

    latitude: Floats
    longitude: Floats
    course: Floats
    length: Floats

    def places(self, leg: Ints, along_m: Floats) -> tuple[Floats, Floats]:
        """Return latitudes and longitudes (not running on) of places on legs."""
        return destinations(self.latitude[leg], self.longitude[leg], self.course[leg], along_m)


def passages(legs: Sequence[Leg], volumes: tuple[Volume, ...]) -> tuple[tuple[Passage, ...], ...]:
    """Return for each leg the volumes that it passes through, in order, whatever their heights.

    Edges belong to a volume. A leg without length, and touches below a metre, give nothing. Ends are exact to
    a metre where a leg crosses an edge at an angle, to 20 m where it grazes one.
    """
    ground = lay_out(volumes)
    lines = [inverse(a, b) for a, b in legs]
    used = [n for n, line in enumerate(lines) if line.bearing_deg is not None and line.distance_m >= LEAST_STRETCH_M]
    found: list[tuple[Passage, ...]] = [() for _ in legs]
    if not used or not len(ground.volume_of):
        return tuple(found)
    geodesics = _Lines(
        np.array([legs[n][0].latitude_deg for n in used]),
        np.array([legs[n][0].longitude_deg for n in used]),
        np.array([lines[n].bearing_deg for n in used], dtype=np.float64),
        np.array([lines[n].distance_m for n in used]),
    )
    pieces = _cut(geodesics, [max(abs(legs[n][0].latitude_deg), abs(legs[n][1].latitude_deg)) for n in used])
    for number, passed in _passages(geodesics, pieces, ground).items():
        found[used[number]] = passed
    return tuple(found)


def _cut(lines: _Lines, ends_at: Sequence[float]) -> _Pieces:
    """Return the legs in pieces of at most 2 km, shorter near the poles, where straight lines bend more."""
    counts = np.array(
        [
            math.ceil(length / _piece_m(latitude + math.degrees(length / 2 / EQUATOR_RADIUS_M)))
            for length, latitude in zip(lines.length.tolist(), ends_at, strict=True)
        ],
        dtype=np.intp,
    )
    leg = np.repeat(np.arange(len(counts)), counts + 1)
    first = np.cumsum(counts + 1) - (counts + 1)
    n = np.arange(len(leg)) - first[leg]
    step = (lines.length / counts)[leg]
    y, raw_x = lines.places(leg, n * step)
    x = _running_on(raw_x, first, counts)
    at = np.flatnonzero(n < counts[leg])
    return _Pieces(leg[at], (n * step)[at], step[at], x[at], y[at], x[at + 1] - x[at], y[at + 1] - y[at])


def _chunks(pieces: _Pieces, longest: int | None) -> _Chunks:
    """Return the pieces in runs of up to `longest`; None: a run is a leg."""
    legs = np.bincount(pieces.leg)
    own = np.arange(len(pieces.leg)) - np.repeat(np.cumsum(legs) - legs, legs)
    first = np.flatnonzero(own % longest == 0 if longest is not None else own == 0)
    count = np.diff(np.append(first, len(own)))
    end_x, end_y = pieces.x + pieces.dx, pieces.y + pieces.dy
    boxes = [
        np.minimum.reduceat(np.minimum(pieces.x, end_x), first),
        np.minimum.reduceat(np.minimum(pieces.y, end_y), first),
        np.maximum.reduceat(np.maximum(pieces.x, end_x), first),
        np.maximum.reduceat(np.maximum(pieces.y, end_y), first),
    ]
    x, y, last = pieces.x[first], pieces.y[first], first + count - 1
    dx, dy = end_x[last] - x, end_y[last] - y
    run = np.repeat(np.arange(len(first)), count)
    length = np.maximum(np.hypot(dx, dy), 1e-12)[run]
    aside = np.abs(dx[run] * (pieces.y - y[run]) - dy[run] * (pieces.x - x[run])) / length
    return _Chunks(first, count, np.stack(boxes, axis=1), x, y, dx, dy, np.maximum.reduceat(aside, first))


def _piece_m(latitude_deg: float) -> float:
    """Return how long a piece may be so that its straight line leaves the geodesic by less than half a metre.

    Over a chord c the two part by c²·tan(latitude)/8R in the middle.
    """
    steepness = math.tan(math.radians(min(latitude_deg, 89.999)))
    return min(PIECE_M, max(20.0, math.sqrt(8 * EQUATOR_RADIUS_M * _STRAIGHT_WITHIN_M / max(steepness, 1e-3))))


def _running_on(longitudes: Floats, first: Ints, counts: Ints) -> Floats:
    """Return longitudes without jumps of a turn along each leg, which begins within ±180°."""
    steps = np.diff(longitudes, prepend=longitudes[:1])
    steps -= 360.0 * np.round(steps / 360.0)
    steps[first] = 0.0
    run = np.cumsum(steps)
    base = longitudes[first] - run[first]
    result: Floats = run + np.repeat(base, counts + 1)
    # What has not run on keeps its bits: sums would leave a leg along a meridian beside it.
    same: Floats = np.where(np.abs(result - longitudes) < 1e-9, longitudes, result)
    return same


def _passages(lines: _Lines, pieces: _Pieces, ground: GroundEdges) -> dict[int, tuple[Passage, ...]]:
    """Return the passages of the legs that have any, by the leg's number."""
    leg, polygon, turn, crossing, along = _crossings(lines, pieces, ground)
    # Between its ends and its crossings a leg is within a polygon or it is not: the middle of each part tells.
    pair = np.concatenate([np.arange(len(leg)), np.arange(len(leg)), crossing])
    at = np.concatenate([np.zeros(len(leg)), lines.length[leg], along])
    order = np.lexsort((at, pair))
    pair, at = pair[order], at[order]
    is_part = (pair[1:] == pair[:-1]) & (at[1:] - at[:-1] > 1e-3)
    owner, start, end = pair[:-1][is_part], at[:-1][is_part], at[1:][is_part]
    y, x = lines.places(leg[owner], (start + end) / 2)
    about = _about(pieces, leg[owner], (start + end) / 2)
    x += 360.0 * np.round((about - x) / 360.0) + turn[owner]
    inside = are_within(ground, polygon[owner], x, y)
    return _gathered(leg[owner[inside]], ground.volume_of[polygon[owner[inside]]], start[inside], end[inside])


def _about(pieces: _Pieces, leg: Ints, along: Floats) -> Floats:
    """Return about which longitude legs are after so many metres, running on as their pieces do."""
    legs = np.bincount(pieces.leg)
    first = np.cumsum(legs) - legs
    number = np.minimum((along / pieces.step_m[first[leg]]).astype(np.intp), legs[leg] - 1)
    about: Floats = pieces.x[first[leg] + number]
    return about


def _crossings(lines: _Lines, pieces: _Pieces, ground: GroundEdges) -> tuple[Ints, Ints, Floats, Ints, Floats]:
    """Return the pairs of leg, polygon and turn that come near each other, and the crossings: pair, metres."""
    whole, chunks = _chunks(pieces, None), _chunks(pieces, _CHUNK)
    over = bool((whole.boxes[:, 0] < -179.9).any() or (whole.boxes[:, 2] > 179.9).any())
    leg, polygon, shift = _legs_near(whole, ground, _TURNS if over else (0.0,))
    # From legs to their chunks, from chunks to edges, from edges to pieces: each step looks at what the last one left.
    counts = -(-whole.count // _CHUNK)
    pair, within = _expanded(counts[leg])
    chunk = (np.cumsum(counts) - counts)[leg[pair]] + within
    boxes = chunks.boxes[chunk]
    boxes[:, 0] += shift[pair]
    boxes[:, 2] += shift[pair]
    near = _boxes_meet(boxes, ground.boxes[polygon[pair]])
    pair, chunk = pair[near], chunk[near]
    is_near = np.zeros(len(leg), dtype=np.bool_)
    is_near[pair] = True
    # A leg none of whose chunks comes near a polygon's box is not within it either.
    renumbered = np.cumsum(is_near) - 1
    leg, polygon, shift, pair = leg[is_near], polygon[is_near], shift[is_near], renumbered[pair]
    found: list[tuple[Ints, Floats]] = [(np.zeros(0, dtype=np.intp), np.zeros(0))]
    for part in _blocks(ground.count[polygon[pair]]):
        own_pair, own_chunk = pair[part], chunk[part]
        row, edge = _edges_near(chunks, ground, own_chunk, polygon[own_pair], shift[own_pair])
        at, within = _expanded(chunks.count[own_chunk[row]])
        piece, edges, of = chunks.first[own_chunk[row[at]]] + within, ground.edges[:, edge[at]], own_pair[row[at]]
        n, along = _met(lines, pieces, piece, shift[of], edges)
        found.append((of[n], along))
    crossing, metres = (np.concatenate(values) for values in zip(*found, strict=True))
    return leg, polygon, shift, crossing, metres


def _expanded(counts: Ints) -> tuple[Ints, Ints]:
    """Return, for things of so many parts, the number of the thing and of the part within it for every part."""
    thing = np.repeat(np.arange(len(counts)), counts)
    return thing, np.arange(len(thing)) - np.repeat(np.cumsum(counts) - counts, counts)


def _blocks(sizes: Ints) -> list[slice]:
    """Return slices whose sizes come to about a block each."""
    ends, begin, slices = np.cumsum(sizes), 0, []
    while begin < len(sizes):
        before = ends[begin - 1] if begin else 0
        end = max(begin + 1, int(np.searchsorted(ends, before + _BLOCK, side="right")))
        slices.append(slice(begin, end))
        begin = end
    return slices


def _legs_near(whole: _Chunks, ground: GroundEdges, turns: Sequence[float]) -> tuple[Ints, Ints, Floats]:
    """Return the pairs of leg and polygon whose boxes meet, and the turn at which they do."""
    legs, polygons, shifts = [], [], []
    for turn in turns:
        boxes = whole.boxes + np.array([turn, 0.0, turn, 0.0])
        leg, polygon = np.nonzero(_boxes_meet(boxes[:, None, :], ground.boxes[None, :, :]))
        legs.append(leg)
        polygons.append(polygon)
        shifts.append(np.full(len(leg), turn))
    return np.concatenate(legs), np.concatenate(polygons), np.concatenate(shifts)


def _boxes_meet(a: Floats, b: Floats) -> Bools:
    met: Bools = (
        (a[..., 0] <= b[..., 2] + _SLACK_DEG)
        & (b[..., 0] <= a[..., 2] + _SLACK_DEG)
        & (a[..., 1] <= b[..., 3] + _SLACK_DEG)
        & (b[..., 1] <= a[..., 3] + _SLACK_DEG)
    )
    return met


def _edges_near(chunks: _Chunks, ground: GroundEdges, chunk: Ints, polygon: Ints, shift: Floats) -> tuple[Ints, Ints]:
    """Return for chunks paired with polygons the edges that reach over the chunk's chord: number of the pair, edge."""
    row, edge = spread_pairs(ground, polygon)
    x1, y1, x2, y2 = ground.edges[:, edge]
    own = chunk[row]
    x, y, dx, dy = chunks.x[own] + shift[row], chunks.y[own], chunks.dx[own], chunks.dy[own]
    band = (chunks.off[own] * 1.2 + _SLACK_DEG) * np.hypot(dx, dy)
    one = dx * (y1 - y) - dy * (x1 - x)
    two = dx * (y2 - y) - dy * (x2 - x)
    near = (np.minimum(one, two) <= band) & (np.maximum(one, two) >= -band)
    return row[near], edge[near]


def _met(lines: _Lines, pieces: _Pieces, piece: Ints, turn: Floats, edges: Floats) -> tuple[Ints, Floats]:
    """Return which of the paired pieces and edges meet, and where on the leg, metres."""
    near = _spans_meet(pieces.x[piece] + turn, pieces.dx[piece], edges[0], edges[2])
    near &= _spans_meet(pieces.y[piece], pieces.dy[piece], edges[1], edges[3])
    kept = np.flatnonzero(near)
    n, along = _refined(lines, pieces, piece[kept], turn[kept], edges[:, kept])
    return kept[n], along


def _spans_meet(start: Floats, step: Floats, a: Floats, b: Floats) -> Bools:
    low, high = np.minimum(start, start + step), np.maximum(start, start + step)
    met: Bools = (low <= np.maximum(a, b) + _SLACK_DEG) & (np.minimum(a, b) <= high + _SLACK_DEG)
    return met


def _refined(lines: _Lines, pieces: _Pieces, piece: Ints, turn: Floats, edges: Floats) -> tuple[Ints, Floats]:
    """Return which piece and edge cross, and where on the geodesic: the straight crossing, then Newton's steps.

    An edge along a piece gives the places beside its ends. Too many crossings do no harm: they part what is then
    asked at its middle anyway.
    """
    x, y, dx, dy = pieces.x[piece] + turn, pieces.y[piece], pieces.dx[piece], pieces.dy[piece]
    ax, ay, bx, by = edges
    ex, ey = bx - ax, by - ay
    against = dx * ey - dy * ex
    size = np.hypot(dx, dy) * np.hypot(ex, ey)
    is_along = np.abs(against) <= 1e-5 * size
    safe = np.where(is_along, 1.0, against)
    share = ((ax - x) * ey - (ay - y) * ex) / safe
    on_edge = ((ax - x) * dy - (ay - y) * dx) / safe
    # A little beyond the ends: the geodesic bends off its straight piece by up to half a metre.
    meets = ~is_along & (share >= -0.01) & (share <= 1.01) & (on_edge >= -0.01) & (on_edge <= 1.01)
    n = np.flatnonzero(meets)
    along = pieces.start_m[piece[n]] + share[n] * pieces.step_m[piece[n]]
    limit = lines.length[pieces.leg[piece[n]]]
    for _ in range(2):
        along = np.clip(along, 0.0, limit)
        there_y, there_x = lines.places(pieces.leg[piece[n]], along)
        there_x += turn[n] + 360.0 * np.round((x[n] - turn[n] - there_x) / 360.0)
        off = (there_x - ax[n]) * ey[n] - (there_y - ay[n]) * ex[n]
        move = off / against[n] * pieces.step_m[piece[n]]
        along = along - np.clip(move, -PIECE_M, PIECE_M)
    along = np.clip(along, 0.0, limit)
    beside = np.flatnonzero(is_along)
    square = np.maximum(dx[beside] ** 2 + dy[beside] ** 2, 1e-30)
    ends = []
    for vx, vy in ((ax, ay), (bx, by)):
        part = ((vx[beside] - x[beside]) * dx[beside] + (vy[beside] - y[beside]) * dy[beside]) / square
        ends.append(pieces.start_m[piece[beside]] + np.clip(part, 0.0, 1.0) * pieces.step_m[piece[beside]])
    return np.concatenate([n, beside, beside]), np.concatenate([along, *ends])


def _gathered(leg: Ints, volume: Ints, start: Floats, end: Floats) -> dict[int, tuple[Passage, ...]]:
    """Return stretches by leg and volume, those that touch joined, what is too short left out."""
    order = np.lexsort((start, volume, leg))
    found: dict[int, dict[int, list[list[float]]]] = {}
    for number, owner, a, b in zip(
        leg[order].tolist(), volume[order].tolist(), start[order].tolist(), end[order].tolist(), strict=True
    ):
        own = found.setdefault(number, {}).setdefault(owner, [])
        if own and a - own[-1][1] < LEAST_STRETCH_M:
            own[-1][1] = max(own[-1][1], b)
        else:
            own.append([a, b])
    result = {}
    for number, by_volume in found.items():
        passed = [
            Passage(owner, tuple((a, b) for a, b in parts if b - a >= LEAST_STRETCH_M))
            for owner, parts in by_volume.items()
        ]
        result[number] = tuple(one for one in passed if one.stretches_m)
    return result
