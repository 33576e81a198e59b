"""Many places at once, as arrays: the pairs that lie near each other, nearest neighbours, how many lie about.

Places are hashed into cubes of earth-centred space, so poles and antimeridian are no special case. Knows positions
only: what nearness means is for those who ask.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.geodesy import distance_m, earth_vectors
from taskdb.core.matching.nearness import arc_m
from taskdb.core.model import Position

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Integers = NDArray[np.int64]
    Floats = NDArray[np.float64]

_CUBES_A_SIDE = 1 << 20
_COLUMNS = [
    (east * _CUBES_A_SIDE + north) * _CUBES_A_SIDE
    for east, north in ((0, 0), (0, 1), (1, -1), (1, 0), (1, 1), (0, -1), (-1, 1), (-1, 0), (-1, -1))
]
"""How far in number the columns of cubes around a cube lie from its own: itself, those ahead, those behind."""
_TURN_E7 = 3_600_000_000
_LEAST_CUBE_M = 13.0
"""Of smaller cubes there would be more along an axis than have a number."""
_FEW = 2_000
"""Among so few points the nearest is found by looking at all."""
_START_M, _WIDER, _FAR_M = 2_000.0, 4.0, 600_000.0
"""The sides of the cubes in which the nearest is looked for; further out one looks at all."""
_CHORD_SERVES_M = 20_000.0
"""Up to here the chord gives the geodesic to a fraction of a millimetre."""


@dataclass(frozen=True, slots=True)
class Points:
    """Positions as whole 1e-7 degrees and as earth-centred metres (one row a position)."""

    latitude_e7: Integers
    longitude_e7: Integers
    centred_m: Floats

    @staticmethod
    def of(positions: Sequence[Position]) -> Points:
        import numpy as np

        degrees = np.array([(place.latitude_deg, place.longitude_deg) for place in positions]).reshape(-1, 2)
        e7 = np.round(degrees * 1e7).astype(np.int64)
        return Points.at(e7[:, 0], e7[:, 1])

    @staticmethod
    def at(latitude_e7: Integers, longitude_e7: Integers) -> Points:
        """Return the points at these coordinates, in 1e-7 degree."""
        return Points(latitude_e7, longitude_e7, earth_vectors(latitude_e7 / 1e7, longitude_e7 / 1e7)[0].T.copy())

    def __len__(self) -> int:
        return len(self.latitude_e7)

    def some(self, indexes: Integers) -> Points:
        """Return some of the points, in the order of their numbers."""
        return Points(self.latitude_e7[indexes], self.longitude_e7[indexes], self.centred_m[indexes])

    def position(self, index: int) -> Position:
        return Position.from_e7(int(self.latitude_e7[index]), int(self.longitude_e7[index]))


@dataclass(frozen=True, slots=True)
class NearPairs:
    """Pairs by index into the points as given; `first` < `second`, ordered. `distance_m` is geodesic, to 1 mm.

    Points at one and the same position are kept as `groups` (ascending indices), since n of them make n²/2 pairs;
    in the arrays only the first of a group stands for all of it.
    """

    first: Integers
    second: Integers
    distance_m: Floats
    groups: tuple[tuple[int, ...], ...]

    def clusters(self) -> list[list[int]]:
        """Return the connected clusters, each ascending, in order of their first point."""
        links = [(group[0], other) for group in self.groups for other in group[1:]]
        links.extend(zip(self.first.tolist(), self.second.tolist(), strict=True))
        parent = {index: index for link in links for index in link}

        def root(index: int) -> int:
            while parent[index] != index:
                parent[index] = parent[parent[index]]
                index = parent[index]
            return index

        for one, other in links:
            one, other = root(one), root(other)
            if one != other:
                parent[max(one, other)] = min(one, other)
        members: dict[int, list[int]] = {}
        for index in sorted(parent):
            members.setdefault(root(index), []).append(index)
        return [members[key] for key in sorted(members)]


def near_pairs(points: Points, within_m: float) -> NearPairs:
    """Return every pair of points whose geodesic distance is below `within_m` (above 0, below 1000 km).

    No points or no pairs give empty arrays.
    """
    import numpy as np

    kept, groups = _one_a_position(points)
    some = points.some(kept)
    found = [
        _measured(some, one[is_near], other[is_near], chord[is_near], within_m)
        for one, other, chord in _around(some, some, within_m, is_once=True)
        # A straight line is never longer than the geodesic, so what is dropped here is truly too far.
        if (is_near := chord < within_m).any()
    ]
    empty = (np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0, np.float64))
    one, other, distance = (np.concatenate(parts) for parts in zip(empty, *found, strict=True))
    one, other = kept[one], kept[other]
    first, second = np.minimum(one, other), np.maximum(one, other)
    order = np.lexsort((second, first))
    return NearPairs(first[order], second[order], distance[order], groups)


def _one_a_position(points: Points) -> tuple[Integers, tuple[tuple[int, ...], ...]]:
    """Return the indices of the first point at each position, and the groups of points at equal positions."""
    import numpy as np

    spot = points.latitude_e7 * _TURN_E7 + points.longitude_e7
    in_order = np.sort(spot)
    if not (in_order[1:] == in_order[:-1]).any():
        return np.arange(len(spot)), ()
    order = np.argsort(spot, kind="stable")
    is_first = np.diff(spot[order], prepend=spot[order[:1]] - 1) != 0
    starts = np.flatnonzero(is_first)
    ends = np.append(starts[1:], len(order))
    several = np.flatnonzero(ends - starts > 1).tolist()
    groups = sorted(tuple(order[starts[group] : ends[group]].tolist()) for group in several)
    return np.sort(order[starts]), tuple(groups)


def _measured(
    points: Points, one: Integers, other: Integers, chord: Floats, within_m: float
) -> tuple[Integers, Integers, Floats]:
    """Return of the candidate pairs those below the distance, with it; only doubtful ones ask for the geodesic."""
    import numpy as np

    distance = arc_m(chord)
    # The correction is off by at most 3 % of itself (the earth's radii differ by 1 %).
    doubt = 0.005 + 0.03 * (distance - chord)
    for pair in np.flatnonzero((np.abs(distance - within_m) < doubt) | (distance > _CHORD_SERVES_M)).tolist():
        distance[pair] = distance_m(points.position(one[pair]), points.position(other[pair]))
    near = np.flatnonzero(distance < within_m)
    return one[near], other[near], distance[near]


def nearest_m(points: Points, others: Points, within_m: float) -> tuple[Integers, Floats]:
    """Return for each point the index of the nearest of `others`, −1 where none is within, and its distance in metres.

    Distances are good to 1.5 mm up to 50 km; of equally near ones the first is taken.
    """
    import numpy as np

    best = np.full(len(points), -1, dtype=np.int64)
    best_m = np.full(len(points), np.inf)
    for busy, other, apart in _around(points, others, within_m):
        is_nearer = (apart < best_m[busy]) | ((apart == best_m[busy]) & (other < best[busy]))
        best_m[busy] = np.where(is_nearer, apart, best_m[busy])
        best[busy] = np.where(is_nearer, other, best[busy])
    metres = arc_m(best_m)
    is_far = ~(metres <= within_m)
    best[is_far] = -1
    return best, np.where(is_far, np.inf, metres)


def has_neighbours(points: Points, others: Points, within_m: float, enough: int) -> NDArray[np.bool_]:
    """Return for each point whether at least `enough` of `others` lie within the distance (straight, metres)."""
    import numpy as np

    counts = np.zeros(len(points), dtype=np.int64)
    if points is not others and len(points):
        # Of a million points those about a small country are few.
        low, high = points.centred_m.min(axis=0) - within_m, points.centred_m.max(axis=0) + within_m
        is_about = ((others.centred_m >= low) & (others.centred_m <= high)).all(axis=1)
        others = others.some(np.flatnonzero(is_about))
    for busy, _, apart in _around(points, others, within_m, counts=counts, enough=enough):
        counts[busy] += apart <= within_m
    return np.asarray(counts >= enough)


def counts_around(points: Points, others: Cubes) -> Integers:
    """Return for each point how many of `others` lie in its cube and in the 26 about it."""
    import numpy as np

    home = _cubes(points.centred_m, others.size_m)
    counts = np.zeros(len(points), dtype=np.int64)
    for column in _COLUMNS:
        counts += np.searchsorted(others.keys, home + (column + 2)) - np.searchsorted(others.keys, home + (column - 1))
    return counts


class Cubes:
    """Points by the cube in which they lie, made once to be asked often."""

    def __init__(self, points: Points, size_m: float) -> None:
        self.size_m = max(size_m, _LEAST_CUBE_M)
        self.keys, self.order = _by_cube(points, self.size_m)

    def around(self, place_m: Floats) -> Integers:
        """Return the points in the cube of an earth-centred place and in the 26 about it: all within one side of it."""
        import numpy as np

        home = _cubes(place_m[None, :], self.size_m) + np.array(_COLUMNS)
        starts, stops = np.searchsorted(self.keys, home - 1).tolist(), np.searchsorted(self.keys, home + 2).tolist()
        return np.concatenate([self.order[start:stop] for start, stop in zip(starts, stops, strict=True)])


class Neighbourhood:
    """How far the nearest of many points lie from a place; cubes are made in the sizes that it takes."""

    def __init__(self, points: Points) -> None:
        self._points = points
        self._cubes: dict[float, Cubes] = {}

    def cubes(self, size_m: float) -> Cubes:
        """Return the points in cubes of a size."""
        if size_m not in self._cubes:
            self._cubes[size_m] = Cubes(self._points, size_m)
        return self._cubes[size_m]

    def chord_m(self, place_m: Floats, nth: int = 0) -> float:
        """Return the straight distance from an earth-centred place to its nearest point, or to the nth one after it.

        More than `nth` points are needed; a point at the place itself counts.
        """
        import numpy as np

        if len(self._points) > _FEW:
            size_m = _START_M
            while size_m < _FAR_M:
                near = self.cubes(size_m).around(place_m)
                if len(near) > nth:
                    found = float(np.partition(_squared_m(self._points.centred_m[near], place_m), nth)[nth])
                    if found <= size_m * size_m:
                        return math.sqrt(found)
                size_m *= _WIDER
        return math.sqrt(float(np.partition(_squared_m(self._points.centred_m, place_m), nth)[nth]))

    def has_within(self, place_m: Floats, within_m: float) -> bool:
        """Say whether a point lies within a straight distance of a place, and not at the place itself."""
        import numpy as np

        near = self.cubes(within_m * 1.001).around(place_m)
        squared = _squared_m(self._points.centred_m[near], place_m)
        return bool(((squared > 0.0) & (np.sqrt(squared) <= within_m)).any())


def _squared_m(centred_m: Floats, place_m: Floats) -> Floats:
    east, north, up = (centred_m - place_m).T
    squared: Floats = east * east + north * north + up * up
    return squared


def _around(
    points: Points,
    others: Points,
    within_m: float,
    *,
    counts: Integers | None = None,
    enough: int = 0,
    is_once: bool = False,
) -> Iterator[tuple[Integers, Integers, Floats]]:
    """Yield, in rounds, which points meet which other in the cubes around them, and the straight distance in metres.

    A point whose count has come to `enough` is left alone from then on. `is_once`: both are the same points, and each
    two of them meet once, no point itself.
    """
    import numpy as np

    if not len(others) or not len(points):
        return
    size = max(within_m * 1.001, _LEAST_CUBE_M)
    keys, order = _by_cube(others, size)
    home, mine = (keys, order) if points is others else _by_cube(points, size)
    beyond = np.append(keys, np.iinfo(np.int64).max)
    # Cubes in a column along the last axis have consecutive keys, so nine look-ups meet all twenty-seven.
    for column in _COLUMNS[:5] if is_once else _COLUMNS:
        end = home + (column + 2)
        # Most meet nobody, so where each one's others end is not looked up but seen.
        start = np.arange(1, len(home) + 1) if is_once and not column else np.searchsorted(keys, home + (column - 1))
        busy = np.flatnonzero(beyond[start] < end)
        while len(busy):
            if counts is not None:
                busy = busy[counts[mine[busy]] < enough]
            one, other = mine[busy], order[start[busy]]
            apart = np.sqrt(((points.centred_m[one] - others.centred_m[other]) ** 2).sum(axis=1))
            yield one, other, apart
            start[busy] += 1
            busy = busy[beyond[start[busy]] < end[busy]]


def _by_cube(points: Points, size_m: float) -> tuple[Integers, Integers]:
    """Return the numbers of the cubes in which points lie, sorted, and the points in that order."""
    import numpy as np

    numbers = _cubes(points.centred_m, size_m)
    order = np.argsort(numbers)
    return numbers[order], order


def _cubes(centred_m: Floats, size_m: float) -> Integers:
    """Return the number of the cube in which each place lies (centred); consecutive along the last axis."""
    import numpy as np

    x, y, z = np.floor(centred_m / size_m).astype(np.int64).T + _CUBES_A_SIDE // 2
    numbers: Integers = (x * _CUBES_A_SIDE + y) * _CUBES_A_SIDE + z
    return numbers
