"""Which side of a triangle home lies on where it is near more than one: the nearest, so that each triangle counts once.

Of sides that are equally far, as where home lies beyond a corner, it is the one by which the course flown is the
shorter, then the one that comes first.
"""

from __future__ import annotations

import numpy as np

from taskdb.core.model import Position
from taskdb.core.proposing.places import Bools, Floats, Ints, Places, Singles
from taskdb.core.proposing.sides import Sides, exact_off_m


def nearest_sides(
    places: Places, home: Position, quick_m: Singles, sides: Sides, corners: tuple[Ints, Ints, Ints]
) -> Bools:
    """Say of triangles, found by the side from the first to the second corner, whether no other side goes before it."""
    a, b, c = corners
    keys = sides.a * len(places) + sides.b
    mine = np.searchsorted(keys, a * len(places) + b)
    first = np.ones(len(a), dtype=np.bool_)
    for near, far in ((a, b), (b, a)):
        other = _numbers(keys, np.minimum(near, c) * len(places) + np.maximum(near, c))
        rivals = np.flatnonzero(other >= 0)
        if not len(rivals):
            continue
        ways = (
            _by_way_of_home(places, quick_m, (near[rivals], far[rivals]), c[rivals]),
            _by_way_of_home(places, quick_m, (near[rivals], c[rivals]), far[rivals]),
        )
        first[rivals] &= _goes_before(places, home, sides, mine[rivals], other[rivals], ways)
    return first


def _numbers(keys: Ints, wanted: Ints) -> Ints:
    """Return where keys stand in the sorted ones, -1 where they do not."""
    if not len(keys):
        return np.full(len(wanted), -1)
    at = np.minimum(np.searchsorted(keys, wanted), len(keys) - 1)
    return np.where(keys[at] == wanted, at, -1)


def _by_way_of_home(places: Places, quick_m: Singles, side: tuple[Ints, Ints], third: Ints) -> Floats:
    """Return the length of courses from home to one end of the side, the third corner, the other end, and home."""
    one, other = side
    legs: Floats = quick_m[one, third].astype(np.float64) + quick_m[other, third]
    return legs + (places.home_m[one] + places.home_m[other])


def _goes_before(
    places: Places, home: Position, sides: Sides, mine: Ints, other: Ints, ways_m: tuple[Floats, Floats]
) -> Bools:
    """Say whether each of my sides goes before the other one."""
    apart = sides.off_m[mine] - sides.off_m[other]
    unsure = np.flatnonzero(np.abs(apart) <= sides.doubt_m[mine] + sides.doubt_m[other])
    numbers, which = np.unique(np.concatenate([mine[unsure], other[unsure]]), return_inverse=True)
    exact = exact_off_m(places, home, sides.a[numbers], sides.b[numbers])[which.reshape(-1)]
    apart[unsure] = exact[: len(unsure)] - exact[len(unsure) :]
    longer = ways_m[0] - ways_m[1]
    before: Bools = (apart < 0) | ((apart == 0) & ((longer < 0) | ((longer == 0) & (mine < other))))
    return before
