"""Which of many places are corners of their hull: the only ones at which a sum of distances can be largest.

A distance is convex along geodesics. Seen from the earth's middle on a plane that touches it, geodesics are straight
(on the ellipsoid as good as). Corners that lie within 2 mm of the line between others are left out: a flight along a
parallel has nothing but corners.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from taskdb.core.flights.fixes import Floats, Ints

_EARTH_M = 6_371_000.0
_FEW = 12
"""So few places are all taken: to look for their hull costs more."""
_FLAT_M = 0.002
_DIRECTIONS = np.linspace(0.0, 2 * np.pi, 32, endpoint=False)


def corners(directions: Floats) -> Ints:
    """Return the numbers of the places at the corners of their hull, in order of number; all of them where few.

    `directions` are vectors from the earth's middle (3, places). Places that lie further apart than a quarter of the
    earth are all corners.
    """
    count = directions.shape[1]
    everyone: Ints = np.arange(count)
    if count <= _FEW:
        return everyone
    unit = directions / np.sqrt((directions * directions).sum(axis=0))
    middle = unit.mean(axis=1)
    middle /= max(float(np.sqrt(middle @ middle)), 1e-12)
    up = middle @ unit
    if up.min() < 0.1:
        return everyone
    helper = np.eye(3)[int(np.argmin(np.abs(middle)))]
    across = np.cross(middle, helper)
    across /= np.sqrt(across @ across)
    flat = np.stack([across @ unit, np.cross(middle, across) @ unit]) / up * _EARTH_M
    outer = _outside_of_extremes(flat)
    ring = outer[_chain(flat[0, outer], flat[1, outer])]
    return np.sort(ring[_standing_out(flat[:, ring])])


def _outside_of_extremes(flat: Floats) -> Ints:
    """Return the numbers of the places that do not lie within the polygon of the furthest ones in 32 directions."""
    aims = np.stack([np.cos(_DIRECTIONS), np.sin(_DIRECTIONS)])
    extreme = np.unique(np.argmax(aims.T @ flat, axis=1))
    ring = extreme[_chain(flat[0, extreme], flat[1, extreme])]
    if len(ring) < 3:
        return np.arange(flat.shape[1])
    x, y = flat[:, ring]
    dx, dy = np.roll(x, -1) - x, np.roll(y, -1) - y
    # Left of every edge is inside, since the ring runs counter-clockwise.
    off = dx[:, None] * (flat[1] - y[:, None]) - dy[:, None] * (flat[0] - x[:, None])
    outside: Ints = np.flatnonzero(off.min(axis=0) <= 0)
    return outside


def _standing_out(ring: Floats) -> Ints:
    """Return the numbers of a ring's corners (2, corners) but those that hardly stand out (Douglas and Peucker)."""
    count = ring.shape[1]
    kept = {0}
    open_ends = [(0, count)]
    while open_ends:
        first, last = open_ends.pop()
        if last - first < 2:
            continue
        a, b = ring[:, first], ring[:, last % count]
        away = ring[:, first + 1 : last] - a[:, None]
        step = b - a
        length = float(np.sqrt(step @ step))
        # At first both ends are one corner, from which the furthest is sought.
        off = np.hypot(*away) if length == 0 else np.abs(step[0] * away[1] - step[1] * away[0]) / length
        furthest = int(np.argmax(off))
        if off[furthest] > _FLAT_M:
            middle = first + 1 + furthest
            kept.add(middle)
            open_ends += [(first, middle), (middle, last)]
    return np.array(sorted(kept), dtype=np.intp)


def _chain(x: Floats, y: Floats) -> Ints:
    """Return the numbers of the corners of flat places, counter-clockwise (the monotone chain)."""
    order = np.lexsort((y, x)).tolist()
    xs, ys = x.tolist(), y.tolist()

    def half(numbers: list[int]) -> list[int]:
        kept: list[int] = []
        for c in numbers:
            while len(kept) > 1:
                a, b = kept[-2], kept[-1]
                if (xs[b] - xs[a]) * (ys[c] - ys[a]) - (ys[b] - ys[a]) * (xs[c] - xs[a]) > 0:
                    break
                kept.pop()
            kept.append(c)
        return kept

    there, back = half(order), half(order[::-1])
    return np.array(there[:-1] + back[:-1] or order[:1], dtype=np.intp)
