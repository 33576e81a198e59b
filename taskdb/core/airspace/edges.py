"""Where the edges of rings meet, exactly, in whole multiples of 1e-7 degree: each pair that can meet, and no other.

Plane geometry in longitude and latitude. Pairs are found along the longitude, so that a coastline of ten thousand
edges costs what it holds; what is tangled on purpose is refused.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt

from taskdb.core.airspace.volume import Vertex

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

MOST_PAIRS = 20_000_000
"""Pairs of edges that lie over one longitude, of one ring: a border of 20,000 edges has some 500,000."""
_BLOCK = 1_000_000


class TangledError(Exception):
    """So many edges lie over each other that looking at all pairs would take minutes."""


def edges_of(ring: Sequence[Vertex]) -> Ints:
    """Return the edges of a closed ring, shape (n, 4): longitude and latitude of the beginning, then of the end."""
    vertices = np.array(ring, dtype=np.int64).reshape(-1, 2)
    return np.concatenate([vertices[:-1], vertices[1:]], axis=1)


def first_meeting(ring: Sequence[Vertex]) -> tuple[int, int] | None:
    """Return the numbers of two edges of a closed ring that meet where they should not, None where it is simple.

    Neighbours meet at their vertex, and wrongly only where one runs back over the other. Raises TangledError.
    """
    edges = edges_of(ring)
    back = _runs_back(edges)
    if back is not None:
        return back
    count = len(edges)
    for first, second in _pairs(edges, edges, is_same=True):
        apart = (second - first > 1) & (second - first < count - 1)
        one, other = first[apart], second[apart]
        meet = _meet(edges[one], edges[other], properly=False)
        if meet.any():
            n = int(np.argmax(meet))
            return int(one[n]), int(other[n])
    return None


def cross_properly(ring: Sequence[Vertex], other: Sequence[Vertex]) -> bool:
    """Return whether an edge of one closed ring passes through an edge of another; touching is no crossing."""
    edges, others = edges_of(ring), edges_of(other)
    return any(_meet(edges[one], others[two], properly=True).any() for one, two in _pairs(edges, others, is_same=False))


def meeting_point(a: Vertex, b: Vertex, c: Vertex, d: Vertex) -> Vertex:
    """Return where two edges meet, rounded to 1e-7°: a vertex that lies on the other edge, else the crossing."""
    for vertex, start, end in ((a, c, d), (b, c, d), (c, a, b), (d, a, b)):
        if _side(start, end, vertex) == 0 and _within(vertex, start, end):
            return vertex
    along = _side(c, d, a)
    whole = along - _side(c, d, b)
    return (a[0] + round((b[0] - a[0]) * along / whole), a[1] + round((b[1] - a[1]) * along / whole))


def holds(ring: Sequence[Vertex], vertex: Vertex) -> bool | None:
    """Return whether a vertex lies within a closed ring; None where it lies on an edge."""
    edges = edges_of(ring)
    x, y = vertex
    ax, ay, bx, by = edges.T
    side = (bx - ax) * (y - ay) - (by - ay) * (x - ax)
    on = (side == 0) & (np.minimum(ax, bx) <= x) & (x <= np.maximum(ax, bx))
    if bool((on & (np.minimum(ay, by) <= y) & (y <= np.maximum(ay, by))).any()):
        return None
    passes = (ay <= y) != (by <= y)
    return bool(np.count_nonzero(passes & ((side > 0) == (by > ay))) % 2)


def _side(a: Vertex, b: Vertex, c: Vertex) -> int:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _within(vertex: Vertex, a: Vertex, b: Vertex) -> bool:
    return all(min(a[n], b[n]) <= vertex[n] <= max(a[n], b[n]) for n in (0, 1))


def _runs_back(edges: Ints) -> tuple[int, int] | None:
    """Return two neighbouring edges of which the second runs back over the first."""
    after = np.roll(edges, -1, axis=0)
    dx, dy = edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1]
    ex, ey = after[:, 2] - after[:, 0], after[:, 3] - after[:, 1]
    back = (dx * ey == dy * ex) & (dx * ex + dy * ey < 0)
    if not back.any():
        return None
    n = int(np.argmax(back))
    return n, (n + 1) % len(edges)


def _pairs(edges: Ints, others: Ints, *, is_same: bool) -> Iterator[tuple[Ints, Ints]]:
    """Yield the pairs of edges whose boxes overlap, in blocks; of one ring with itself each pair once, ordered."""
    low, high = _box(others)
    order = np.argsort(low[:, 0], kind="stable")
    starts = low[order, 0]
    widest = int((high[:, 0] - low[:, 0]).max(initial=0))
    own_low, own_high = _box(edges)
    # An edge reaches no further back than the widest of the others does.
    first = np.searchsorted(starts, own_low[:, 0] - widest, side="left")
    last = np.searchsorted(starts, own_high[:, 0], side="right")
    counts = last - first
    if int(counts.sum()) > MOST_PAIRS:
        raise TangledError
    begin = 0
    while begin < len(edges):
        total = np.cumsum(counts[begin:])
        end = begin + max(1, int(np.searchsorted(total, _BLOCK, side="right")))
        block = counts[begin:end]
        one = np.repeat(np.arange(begin, min(end, len(edges))), block)
        offset = np.arange(len(one)) - np.repeat(np.cumsum(block) - block, block)
        two = order[np.repeat(first[begin:end], block) + offset]
        near = (low[two] <= own_high[one]).all(axis=1) & (own_low[one] <= high[two]).all(axis=1)
        if is_same:
            near &= one < two
        yield one[near], two[near]
        begin = end


def _box(edges: Ints) -> tuple[Ints, Ints]:
    return np.minimum(edges[:, :2], edges[:, 2:]), np.maximum(edges[:, :2], edges[:, 2:])


def _meet(edges: Ints, others: Ints, *, properly: bool) -> Bools:
    """Return which of the paired edges, whose boxes overlap, have a place in common (or pass through each other).

    Exact: differences are below 3.6e9, and two products of such of one ring stay within 63 bits where an edge is
    no wider than half a turn.
    """
    a, b, c, d = edges[:, :2], edges[:, 2:], others[:, :2], others[:, 2:]
    s1, s2 = np.sign(_sides(c, d, a)), np.sign(_sides(c, d, b))
    s3, s4 = np.sign(_sides(a, b, c)), np.sign(_sides(a, b, d))
    met: Bools = (s1 * s2 < 0) & (s3 * s4 < 0) if properly else (s1 * s2 <= 0) & (s3 * s4 <= 0)
    return met


def _sides(a: Ints, b: Ints, c: Ints) -> Ints:
    sides: Ints = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    return sides
