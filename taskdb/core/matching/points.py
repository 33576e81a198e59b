"""Many places at once, as arrays: the pairs that lie near each other, nearest neighbours, how many lie about.

Places are hashed into cubes of earth-centred space, so poles and antimeridian are no special case. Knows positions
only: what nearness means is for those who ask.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from taskdb.core.geodesy import distance_m, earth_vectors
from taskdb.core.matching.nearness import arc_m
from taskdb.core.model import Position
from taskdb.values import dataclass

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

    def clusters(self, size: int) -> list[list[int]]:
        """Return the connected clusters among `size` points, each ascending, in order of their first point."""
        parent = list(range(size))

        def root(index: int) -> int:
            while parent[index] != index:
                parent[index] = parent[parent[index]]
                index = parent[index]
            return index

        links = [(group[0], other) for group in self.groups for other in group[1:]]
        links.extend(zip(self.first.tolist(), self.second.tolist(), strict=True))
        for one, other in links:
            one, other = root(one), root(other)
            if one != other:
                parent[max(one, other)] = min(one, other)
        members: dict[int, list[int]] = {}
        for index in sorted({index for link in links for index in link}):
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
    for busy, _, apart in _around(points, others, within_m, counts=counts, enough=enough):
        counts[busy] += apart <= within_m
    return np.asarray(counts >= enough)


def counts_around(points: Points, others: Points, cube_m: float) -> Integers:
    """Return for each point how many of `others` lie in its cube, of that side, and in the 26 about it."""
    import numpy as np

    keys, _ = _by_cube(others, cube_m)
    home = _cubes(points, cube_m)
    counts = np.zeros(len(points), dtype=np.int64)
    for column in _COLUMNS:
        counts += np.searchsorted(keys, home + (column + 2)) - np.searchsorted(keys, home + (column - 1))
    return counts


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
    # Cubes in a column along the last axis have consecutive keys, so nine look-ups meet all twenty-seven.
    for column in _COLUMNS[:5] if is_once else _COLUMNS:
        start, stop = np.searchsorted(keys, home + (column - 1)), np.searchsorted(keys, home + (column + 2))
        if is_once and column == 0:
            start = np.arange(1, len(home) + 1)
        busy = np.flatnonzero(stop > start)
        while len(busy):
            if counts is not None:
                busy = busy[counts[mine[busy]] < enough]
            one, other = mine[busy], order[start[busy]]
            apart = np.sqrt(((points.centred_m[one] - others.centred_m[other]) ** 2).sum(axis=1))
            yield one, other, apart
            start[busy] += 1
            busy = busy[start[busy] < stop[busy]]


def _by_cube(points: Points, size_m: float) -> tuple[Integers, Integers]:
    """Return the numbers of the cubes in which points lie, sorted, and the points in that order."""
    import numpy as np

    numbers = _cubes(points, size_m)
    order = np.argsort(numbers)
    return numbers[order], order


def _cubes(points: Points, size_m: float) -> Integers:
    """Return the number of the cube in which each point lies; they are consecutive along the last axis."""
    import numpy as np

    x, y, z = np.floor(points.centred_m / size_m).astype(np.int64).T + _CUBES_A_SIDE // 2
    numbers: Integers = (x * _CUBES_A_SIDE + y) * _CUBES_A_SIDE + z
    return numbers
