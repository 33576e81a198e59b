"""Volumes laid out as arrays of edges, and whether positions lie within them: what crossings and shares ask.

Degrees in longitude and latitude, edges straight in them; holes count as outside. Edges belong to their volume.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from taskdb.core.airspace.volume import Volume
from taskdb.core.model import E7, Position

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]
Bools = npt.NDArray[np.bool_]

ON_EDGE_DEG = 5e-7
"""So near to an edge (5 cm) a position lies on it: positions of tasks and volumes are kept to 1 cm."""
_BLOCK = 500_000


@dataclass(frozen=True, slots=True)
class GroundEdges:
    """The polygons of some volumes: boxes and edges, edges of one polygon behind each other.

    `volume_of` and `boxes` (west, south, east, north) by polygon; `first` and `count` say which of `edges`
    (four rows: x and y of the beginning, x and y of the end) are a polygon's.
    """

    volume_of: Ints
    boxes: Floats
    first: Ints
    count: Ints
    edges: Floats
    least_y: Floats
    greatest_y: Floats


@lru_cache(maxsize=8)
def lay_out(volumes: tuple[Volume, ...]) -> GroundEdges:
    """Return the polygons of volumes as arrays; no volumes give empty ones."""
    owners, parts = [], []
    for number, volume in enumerate(volumes):
        for polygon in volume.polygons:
            rings = [np.array(ring, dtype=np.float64) / E7 for ring in polygon]
            owners.append(number)
            parts.append(np.concatenate([np.concatenate([ring[:-1], ring[1:]], axis=1) for ring in rings]))
    counts = np.array([len(part) for part in parts], dtype=np.intp)
    edges = np.ascontiguousarray(np.concatenate(parts).T) if parts else np.zeros((4, 0))
    boxes = [[*part[:, :2].min(axis=0), *part[:, :2].max(axis=0)] for part in parts]
    return GroundEdges(
        volume_of=np.array(owners, dtype=np.intp),
        boxes=np.array(boxes, dtype=np.float64).reshape(-1, 4),
        first=np.cumsum(counts) - counts,
        count=counts,
        edges=edges,
        least_y=np.minimum(edges[1], edges[3]),
        greatest_y=np.maximum(edges[1], edges[3]),
    )


def spread_pairs(ground: GroundEdges, polygons: Ints) -> tuple[Ints, Ints]:
    """Return, for the polygons of some pairs, the number of the pair and of the edge for every edge of each."""
    counts = ground.count[polygons]
    pair = np.repeat(np.arange(len(polygons)), counts)
    within = np.arange(len(pair)) - np.repeat(np.cumsum(counts) - counts, counts)
    return pair, np.repeat(ground.first[polygons], counts) + within


def are_within(ground: GroundEdges, polygons: Ints, longitudes: Floats, latitudes: Floats) -> Bools:
    """Return whether each position lies in the polygon paired with it, on an edge included. Arrays of one length.

    Longitudes must run where the polygon's do.
    """
    result = np.zeros(len(polygons), dtype=np.bool_)
    steps = np.cumsum(ground.count[polygons])
    begin = 0
    while begin < len(polygons):
        before = steps[begin - 1] if begin else 0
        end = max(begin + 1, int(np.searchsorted(steps, before + _BLOCK, side="right")))
        part = slice(begin, end)
        result[part] = _are_within(ground, polygons[part], longitudes[part], latitudes[part])
        begin = end
    return result


def _are_within(ground: GroundEdges, polygons: Ints, longitudes: Floats, latitudes: Floats) -> Bools:
    pair, edge = spread_pairs(ground, polygons)
    # Only edges that reach the position's latitude can be passed on the way east, or hold it.
    y = latitudes[pair]
    level = np.flatnonzero((ground.least_y[edge] <= y + ON_EDGE_DEG) & (ground.greatest_y[edge] >= y - ON_EDGE_DEG))
    pair, edge = pair[level], edge[level]
    x1, y1, x2, y2 = ground.edges[:, edge]
    x, y = longitudes[pair], latitudes[pair]
    dx, dy = x2 - x1, y2 - y1
    side = dx * (y - y1) - dy * (x - x1)
    passes = ((y1 <= y) != (y2 <= y)) & ((side > 0) == (dy > 0))
    inside: Bools = np.bincount(pair[passes], minlength=len(polygons)) % 2 == 1
    squeeze = np.maximum(np.cos(np.radians(y)), 1e-6)
    ex, px, py = dx * squeeze, (x - x1) * squeeze, y - y1
    along = np.clip((px * ex + py * dy) / np.maximum(ex * ex + dy * dy, 1e-30), 0.0, 1.0)
    off = np.hypot(px - along * ex, py - along * dy)
    inside[pair[off <= ON_EDGE_DEG]] = True
    return inside


def off_lines_m(x: Floats, y: Floats, lines: Floats) -> Floats:
    """Return how far places lie from lines on the plane about each place, metres: within 1 % at tens of kilometres.

    `lines` has four rows as edges have: x and y of the beginning, x and y of the end, in degrees.
    """
    ax, ay, bx, by = lines
    squeeze = np.cos(np.radians(y))
    px, py, ex, ey = (ax - x) * squeeze, ay - y, (bx - ax) * squeeze, by - ay
    along = np.clip(-(px * ex + py * ey) / np.maximum(ex * ex + ey * ey, 1e-30), 0.0, 1.0)
    off: Floats = np.hypot(px + along * ex, py + along * ey) * 111_200.0
    return off


def volumes_at(volumes: tuple[Volume, ...], position: Position) -> tuple[int, ...]:
    """Return the numbers of the volumes over a position, their edges included, in order."""
    ground = lay_out(volumes)
    if not len(ground.volume_of):
        return ()
    found: set[int] = set()
    for turn in (-360.0, 0.0, 360.0):
        x, y = position.longitude_deg + turn, position.latitude_deg
        near = np.flatnonzero(_box_holds(ground.boxes, x, y))
        if len(near):
            inside = are_within(ground, near, np.full(len(near), x), np.full(len(near), y))
            found.update(int(n) for n in ground.volume_of[near[inside]])
    return tuple(sorted(found))


def _box_holds(boxes: Floats, x: float, y: float) -> Bools:
    slack = ON_EDGE_DEG
    wide = slack / max(np.cos(np.radians(y)), 1e-6)
    held: Bools = (
        (boxes[:, 0] - wide <= x) & (x <= boxes[:, 2] + wide) & (boxes[:, 1] - slack <= y) & (y <= boxes[:, 3] + slack)
    )
    return held
