"""Where a set is at home: the countries of its points, how far points lie outside, and which stand alone.

Robust against what it is to find: wrong points neither make a country one of the set's, nor keep each other company.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from taskdb.core.checks.outlines import UNCODED, Outlines, distance_outside_m
from taskdb.core.matching.nearness import arc_m
from taskdb.core.matching.points import Points, has_neighbours
from taskdb.core.model import Waypoint
from taskdb.values import dataclass

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

OUTSIDE_M = 3_000.0
"""The outlines are at worst 3.0 km off (measured on 85,626 European places)."""
FAR_OUT_M, APART_OUT_M = 300_000.0, 50_000.0
"""A point further outside its country than this is an error; apart from the rest of the set from the second on."""
HOME_SHARE = 0.08
_LESSER_HOME_SHARE = 0.01
_LESSER_HOME_POINTS = 10
_BLOCK_SHARE = 0.005
_BLOCK_POINTS = 4
_SEVERAL = 3
_AS_CLOSE = 3.0
"""A lesser country may be at home too: in a set of eleven countries that state none, the 8 % alone would call hundreds
of good points outside."""
_INCLUDES = {"RS": ("XK",)}
"""What ISO 3166 counts to a country, and the outlines have under a code of its own: XK is no code of that standard."""
_LONELY = 8.0
_THIN_M = 10_000.0
"""A hundred summits of one range would else make a set look so dense that the next airfield stands alone."""
_DENSE = 4.0
_LEAST_LONELY_M = 25_000.0
_ENOUGH = 3
_LEAST_POINTS = 20
_SAMPLE = 500


@dataclass(frozen=True, slots=True)
class Region:
    """What is usual in a set; arrays and tuples are in the order of its points.

    `expected`: the country codes in which a point may lie (stated, else the set's own; empty: nothing known).
    `outside_m`: how far it lies outside them. `spacing_m`: how far the third neighbour of a usual point is, `link_m`
    from where on a gap parts a point from the rest. `is_lonely`: fewer than three usual points within eight spacings of
    the points in its country. `dense`: the places of points in good company.
    """

    home: frozenset[str]
    expected: tuple[frozenset[str], ...]
    is_stated: tuple[bool, ...]
    outside_m: NDArray[np.float64]
    spacing_m: float
    link_m: float
    is_lonely: NDArray[np.bool_]
    dense: Points

    def gap_m(self, points: Points, index: int) -> float:
        """Return how far the point lies from the nearest one in good company; 0 where there is none."""
        import numpy as np

        if not len(self.dense):
            return 0.0
        apart = np.sqrt(((self.dense.centred_m - points.centred_m[index]) ** 2).sum(axis=1))
        return arc_m(float(apart.min()))

    def is_block(self, points: Points, indexes: Sequence[int]) -> bool:
        """Say whether points lie about as close together as those of the set do, beside them: too many for slips.

        Wrong points that ended in a country lie scattered over it.
        """
        import numpy as np

        if len(indexes) < max(_BLOCK_POINTS, _BLOCK_SHARE * len(points)):
            return False
        third = _third_neighbours_m(points, np.array(indexes, dtype=np.int64))
        if float(np.median(third)) > _AS_CLOSE * self.spacing_m:
            return False
        return not any(self.is_apart(points, index) for index in indexes)

    def is_apart(self, points: Points, index: int) -> bool:
        """Say whether the point lies apart from the rest of the set."""
        return self.gap_m(points, index) > self.link_m


def find_region(
    waypoints: Sequence[Waypoint],
    points: Points,
    countries: Sequence[frozenset[str]] | None,
    outlines: Outlines | None,
) -> Region:
    """Return where the set is at home; without outlines only by the company that its points keep."""
    import numpy as np

    count = len(waypoints)
    home: frozenset[str] = frozenset()
    expected: tuple[frozenset[str], ...] = (frozenset(),) * count
    outside = np.zeros(count)
    if outlines is not None and countries is not None:
        known = outlines.codes()
        home = home_countries(countries, points)
        expected = tuple(_expected(point.country, known, home) for point in waypoints)
        for index in range(count):
            outside[index] = _outside_m(waypoints[index], expected[index], countries[index], outlines)
    is_stated = tuple(bool(codes) and codes is not home for codes in expected)
    inside = np.flatnonzero(outside <= OUTSIDE_M)
    third = _third_neighbours_m(points, inside)
    spacing = float(np.median(third)) if len(third) else 0.0
    link = max(_LEAST_LONELY_M, _DENSE * float(np.percentile(third, 90))) if len(third) else 0.0
    usual = points.some(inside)
    is_lonely = np.zeros(count, dtype=bool)
    dense = usual
    if len(inside) >= _LEAST_POINTS:
        for members in _neighbourhoods(inside, countries):
            is_lonely[members] = _lonely(points, members, usual)
        # Each of them finds itself too, hence one more.
        dense_m = max(_LEAST_LONELY_M / 2, _DENSE * spacing)
        dense = points.some(inside[has_neighbours(usual, usual, dense_m, _ENOUGH + 1)])
    return Region(home, expected, is_stated, outside, spacing, link, is_lonely, dense)


def _expected(stated: str | None, known: frozenset[str], home: frozenset[str]) -> frozenset[str]:
    """Return where a point may lie: a stated code that has no outline says that it lies elsewhere, and no more."""
    code = (stated or "").strip().upper()
    if code in known:
        return frozenset((code, *_INCLUDES.get(code, ())))
    return frozenset() if len(code) == 2 else home


def home_countries(countries: Sequence[frozenset[str]], points: Points) -> frozenset[str]:
    """Return the codes of the countries that the set is at home in.

    Those that hold at least 8 % of the points, and those with at least ten points, 1 %, that lie about as close
    together as points of the set do: wrong points that ended in a country lie scattered over it. In a set that is at
    home in three countries and more four such points, 0.5 %, are enough.
    """
    import numpy as np

    members: dict[str, list[int]] = {}
    for index, codes in enumerate(countries):
        for code in codes - {UNCODED}:
            members.setdefault(code, []).append(index)
    total = len(countries)
    home = {code for code, inside in members.items() if len(inside) >= HOME_SHARE * total}
    least = max(_LESSER_HOME_SHARE * total, _LESSER_HOME_POINTS)
    if len(home) >= _SEVERAL:
        least = max(_BLOCK_SHARE * total, _BLOCK_POINTS)
    lesser = {code: inside for code, inside in members.items() if code not in home and len(inside) >= least}
    if lesser:
        usual = [index for index, codes in enumerate(countries) if not codes.isdisjoint(home)]
        third = _third_neighbours_m(points, np.array(usual, dtype=np.int64))
        close_m = _AS_CLOSE * float(np.median(third)) if len(third) else 0.0
        for code, inside in lesser.items():
            theirs = _third_neighbours_m(points, np.array(inside, dtype=np.int64))
            if float(np.median(theirs)) <= close_m:
                home.add(code)
    return frozenset(home)


def _neighbourhoods(inside: NDArray[np.int64], countries: Sequence[frozenset[str]] | None) -> list[NDArray[np.int64]]:
    """Return the points by the country in which they lie: what is lonely in one is company in another.

    A country with fewer than twenty points says nothing; without outlines the set is one neighbourhood.
    """
    import numpy as np

    if countries is None:
        return [inside]
    groups: dict[frozenset[str], list[int]] = {}
    for index in inside.tolist():
        groups.setdefault(countries[index], []).append(index)
    return [np.array(members, dtype=np.int64) for members in groups.values() if len(members) >= _LEAST_POINTS]


def _lonely(points: Points, members: NDArray[np.int64], usual: Points) -> NDArray[np.bool_]:
    """Return which of the members have fewer than three usual points within eight of their usual spacings."""
    import numpy as np

    third = _third_neighbours_m(points, _thinned(points, members))
    if not len(third):
        return np.zeros(len(members), dtype=bool)
    lonely_m = max(_LEAST_LONELY_M, _LONELY * float(np.median(third)))
    # Each of them finds itself too, hence one more.
    return ~has_neighbours(points.some(members), usual, lonely_m, _ENOUGH + 1)


def _thinned(points: Points, members: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the first member in each cube of 10 km."""
    import numpy as np

    cubes = np.floor(points.centred_m[members] / _THIN_M).astype(np.int64)
    _, first = np.unique(cubes, axis=0, return_index=True)
    return members[np.sort(first)]


def _outside_m(point: Waypoint, expected: frozenset[str], around: frozenset[str], outlines: Outlines) -> float:
    if not expected or not expected.isdisjoint(around) or UNCODED in around:
        return 0.0
    distances = [distance_outside_m(outlines, code, point.position) for code in sorted(expected)]
    return min((metres for metres in distances if metres is not None), default=0.0)


def _third_neighbours_m(points: Points, inside: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return the distance to the third neighbour, of every point or of a sample spread evenly over the set."""
    import numpy as np

    if len(inside) <= _ENOUGH:
        return np.zeros(0)
    centred = points.centred_m[inside]
    step = max(1, len(inside) // _SAMPLE)
    found = []
    for index in range(0, len(inside), step):
        squared = ((centred - centred[index]) ** 2).sum(axis=1)
        found.append(np.partition(squared, _ENOUGH)[_ENOUGH])
    distances: NDArray[np.float64] = np.sqrt(np.array(found))
    return distances
