"""Where a set is at home: the countries of its points, how far points lie outside, and which stand alone.

Robust against what it is to find: wrong points neither make a country one of the set's, nor keep each other company.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.checks.outlines import UNCODED, Outlines, distance_outside_m
from taskdb.core.matching.nearness import arc_m
from taskdb.core.matching.points import Neighbourhood, Points, has_neighbours
from taskdb.core.packed_waypoints import CodedValues

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
    expected: CodedValues[frozenset[str]]
    is_stated: NDArray[np.bool_]
    outside_m: NDArray[np.float64]
    spacing_m: float
    link_m: float
    is_lonely: NDArray[np.bool_]
    dense: Points
    company: Neighbourhood
    """The same, to be asked how near they are."""

    def gap_m(self, points: Points, index: int) -> float:
        """Return how far the point lies from the nearest one in good company; 0 where there is none."""
        return arc_m(self.company.chord_m(points.centred_m[index])) if len(self.dense) else 0.0

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
    stated: CodedValues[str | None],
    points: Points,
    countries: CodedValues[frozenset[str]] | None,
    outlines: Outlines | None,
) -> Region:
    """Return where the set is at home; without outlines only by the company that its points keep.

    `stated` are the countries that the points state, `countries` those in which they lie.
    """
    import numpy as np

    count = len(points)
    home: frozenset[str] = frozenset()
    expected = CodedValues.numbered([home], np.zeros(count, dtype=np.int32))
    is_stated, outside = np.zeros(count, dtype=bool), np.zeros(count)
    if outlines is not None and countries is not None:
        known = outlines.codes()
        home = home_countries(countries, points)
        codes = [_expected(country, known, home) for country in stated.values]
        is_stated = stated.where(bool(one) and one is not home for one in codes)
        expected = CodedValues.numbered(codes, stated.numbers)
        for index in np.flatnonzero(_may_be_outside(expected, countries)).tolist():
            outside[index] = _outside_m(points, index, expected[index], outlines)
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
    return Region(home, expected, is_stated, outside, spacing, link, is_lonely, dense, Neighbourhood(dense))


def _expected(stated: str | None, known: frozenset[str], home: frozenset[str]) -> frozenset[str]:
    """Return where a point may lie: a stated code that has no outline says that it lies elsewhere, and no more."""
    code = (stated or "").strip().upper()
    if code in known:
        return frozenset((code, *_INCLUDES.get(code, ())))
    return frozenset() if len(code) == 2 else home


def _may_be_outside(expected: CodedValues[frozenset[str]], countries: CodedValues[frozenset[str]]) -> NDArray[np.bool_]:
    """Return which points lie in none of the countries in which they may lie, nor on ground without a code."""
    import numpy as np

    table = [
        [bool(one) and one.isdisjoint(around) and UNCODED not in around for around in countries.values]
        for one in expected.values
    ]
    return np.array(table, dtype=bool)[expected.numbers, countries.numbers]


def home_countries(countries: CodedValues[frozenset[str]], points: Points) -> frozenset[str]:
    """Return the codes of the countries that the set is at home in.

    Those that hold at least 8 % of the points, and those with at least ten points, 1 %, that lie about as close
    together as points of the set do: wrong points that ended in a country lie scattered over it. In a set that is at
    home in three countries and more four such points, 0.5 %, are enough.
    """
    import numpy as np

    here = {code for codes in countries.values for code in codes} - {UNCODED}
    members = {code: np.flatnonzero(countries.where(code in codes for codes in countries.values)) for code in here}
    total = len(countries)
    home = {code for code, inside in members.items() if len(inside) >= HOME_SHARE * total}
    least = max(_LESSER_HOME_SHARE * total, _LESSER_HOME_POINTS)
    if len(home) >= _SEVERAL:
        least = max(_BLOCK_SHARE * total, _BLOCK_POINTS)
    lesser = {code: inside for code, inside in members.items() if code not in home and len(inside) >= least}
    if lesser:
        usual = np.flatnonzero(countries.where(not codes.isdisjoint(home) for codes in countries.values))
        third = _third_neighbours_m(points, usual)
        close_m = _AS_CLOSE * float(np.median(third)) if len(third) else 0.0
        for code, inside in lesser.items():
            theirs = _third_neighbours_m(points, inside)
            if float(np.median(theirs)) <= close_m:
                home.add(code)
    return frozenset(home)


def _neighbourhoods(
    inside: NDArray[np.int64], countries: CodedValues[frozenset[str]] | None
) -> list[NDArray[np.int64]]:
    """Return the points by the country in which they lie: what is lonely in one is company in another.

    A country with fewer than twenty points says nothing; without outlines the set is one neighbourhood.
    """
    import numpy as np

    if countries is None:
        return [inside]
    numbers = countries.numbers[inside]
    groups = [inside[numbers == number] for number in np.unique(numbers)]
    return [members for members in groups if len(members) >= _LEAST_POINTS]


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


def _outside_m(points: Points, index: int, expected: frozenset[str], outlines: Outlines) -> float:
    place = points.position(index)
    distances = [distance_outside_m(outlines, code, place) for code in sorted(expected)]
    return min((metres for metres in distances if metres is not None), default=0.0)


def _third_neighbours_m(points: Points, inside: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return the distance to the third neighbour, of every point or of a sample spread evenly over the set."""
    import numpy as np

    if len(inside) <= _ENOUGH:
        return np.zeros(0)
    some = points.some(inside)
    around = Neighbourhood(some)
    step = max(1, len(inside) // _SAMPLE)
    return np.array([around.chord_m(some.centred_m[index], _ENOUGH) for index in range(0, len(inside), step)])
