"""All pairs of points nearer than a distance, exactly, at the poles and across the antimeridian too.

Latitude bands as high as the distance, sorted by longitude; each point looks forward in its band and around itself
in the next; then the exact test. Knows positions only: what a pair means is for the rules.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Integers = NDArray[np.int64]
    Floats = NDArray[np.float64]

EQUATOR_M = 6_378_137.0
_E2 = 0.0066943799901413165
"""WGS84: semi-major axis and squared eccentricity (NGA.STND.0036)."""
_LEAST_RADIUS_M = 6_335_439.0
"""The smallest radius of curvature of WGS84 (along the meridian, at the equator), a(1 − e²)."""
_HALF_TURN_E7 = 1_800_000_000
_TURN_E7 = 2 * _HALF_TURN_E7
_BAND_STRIDE = 1 << 33
"""More than a full turn and a window on either side, so that bands never touch in the sort key."""
_CHUNK = 1 << 19
_CHORD_SERVES_M = 20_000.0
"""Up to here the chord gives the geodesic to a fraction of a millimetre."""


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


def earth_centred_m(latitude_e7: Integers, longitude_e7: Integers) -> tuple[Floats, Floats, Floats]:
    """Return earth-centred x, y, z in metres of points on the WGS84 ellipsoid."""
    import numpy as np

    latitude = np.deg2rad(latitude_e7 / 1e7)
    longitude = np.deg2rad(longitude_e7 / 1e7)
    sine = np.sin(latitude)
    normal = EQUATOR_M / np.sqrt(1.0 - _E2 * sine * sine)
    across = normal * np.cos(latitude)
    return across * np.cos(longitude), across * np.sin(longitude), normal * (1.0 - _E2) * sine


def arc_m(chord_m: Floats) -> Floats:
    """Return the geodesic for a straight line through the earth: within 1.5 mm up to 50 km (c + c³/24R²)."""
    import numpy as np

    return np.asarray(chord_m + chord_m**3 / (24.0 * 6_371_000.0**2), dtype=np.float64)


def find_near_pairs(latitude_e7: Integers, longitude_e7: Integers, within_m: float) -> NearPairs:
    """Return every pair of points whose geodesic distance is below `within_m` (above 0, below 1000 km).

    Coordinates in 1e-7 degree, longitudes −180° ≤ x < 180°. No points or no pairs give empty arrays.
    """
    import numpy as np

    kept, groups = _collapse(latitude_e7, longitude_e7)
    latitude, longitude = latitude_e7[kept], longitude_e7[kept]
    centred = earth_centred_m(latitude, longitude)
    found = [
        _measure(latitude, longitude, centred, one, other, within_m)
        for one, other in _candidates(latitude, longitude, within_m)
    ]
    empty = (np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0, np.float64))
    one, other, distance = (np.concatenate(parts) for parts in zip(empty, *found, strict=True))
    one, other = kept[one], kept[other]
    first, second = np.minimum(one, other), np.maximum(one, other)
    order = np.lexsort((second, first))
    return NearPairs(first[order], second[order], distance[order], groups)


def _collapse(latitude_e7: Integers, longitude_e7: Integers) -> tuple[Integers, tuple[tuple[int, ...], ...]]:
    """Return the indices of the first point at each position, and the groups of points at equal positions."""
    import numpy as np

    key = (latitude_e7 + _HALF_TURN_E7 // 2) * _TURN_E7 + (longitude_e7 + _HALF_TURN_E7)
    order = np.argsort(key, kind="stable")
    key = key[order]
    is_first = np.ones(len(key), dtype=bool)
    is_first[1:] = key[1:] != key[:-1]
    if is_first.all():
        return np.arange(len(key), dtype=np.int64), ()
    starts = np.flatnonzero(is_first)
    ends = np.append(starts[1:], len(key))
    groups = sorted(
        tuple(order[start:end].tolist()) for start, end in zip(starts, ends, strict=True) if end - start > 1
    )
    return np.sort(order[starts]), tuple(groups)


def _candidates(latitude: Integers, longitude: Integers, within_m: float) -> Iterator[tuple[Integers, Integers]]:
    """Yield index pairs, each once, among which all near pairs are, in chunks of bounded size."""
    import numpy as np

    height_e7 = int(np.rad2deg(within_m / _LEAST_RADIUS_M) * 1e7) + 2
    band = (latitude + _HALF_TURN_E7 // 2) // height_e7
    key = band * _BAND_STRIDE + longitude
    order = np.argsort(key, kind="stable")
    key, band, longitude = key[order], band[order], longitude[order]
    window = _window_e7(band, height_e7, within_m)
    base = band * _BAND_STRIDE
    here = np.arange(len(key), dtype=np.int64)
    west, east = longitude - window, longitude + window
    over_east, over_west = np.flatnonzero(east >= _HALF_TURN_E7), np.flatnonzero(west < -_HALF_TURN_E7)
    above = base + _BAND_STRIDE
    # Own band, forward only, then the next band; each up to the window and, where that crosses 180°, beyond it.
    # The far end of a wrapped range is open: a window of half a turn would meet the opposite meridian twice.
    yield from _expand(order, here, here + 1, np.searchsorted(key, base + east, side="right"))
    for low in (base, above):
        start = np.searchsorted(key, low[over_east] - _HALF_TURN_E7)
        stop = np.searchsorted(key, low[over_east] + east[over_east] - _TURN_E7)
        yield from _expand(order, over_east, start, stop)
    yield from _expand(
        order, here, np.searchsorted(key, above + west), np.searchsorted(key, above + east, side="right")
    )
    start = np.searchsorted(key, above[over_west] + west[over_west] + _TURN_E7, side="right")
    stop = np.searchsorted(key, above[over_west] + _HALF_TURN_E7)
    yield from _expand(order, over_west, start, stop)


def _window_e7(band: Integers, height_e7: int, within_m: float) -> Integers:
    """Return how far in longitude a near point can lie, in 1e-7 degree; half a turn where a pole is near."""
    import numpy as np

    south = band * height_e7 - _HALF_TURN_E7 // 2
    furthest = np.minimum(np.maximum(np.abs(south), np.abs(south + 2 * height_e7)) / 1e7, 90.0)
    cosine = np.cos(np.deg2rad(furthest))
    half = within_m / (2.0 * EQUATOR_M)
    # Two points at one latitude are 2·N·cos φ·sin(Δλ/2) apart along the chord, with N at least the semi-major axis.
    sine = np.where(cosine > 1e-9, half / np.maximum(cosine, 1e-9), 2.0)
    window = np.where(sine < 0.7, 2.0 * np.rad2deg(np.arcsin(np.minimum(sine, 0.7))) * 1e7 + 2.0, _HALF_TURN_E7)
    return np.minimum(window, _HALF_TURN_E7).astype(np.int64)


def _expand(
    order: Integers, points: Integers, starts: Integers, stops: Integers
) -> Iterator[tuple[Integers, Integers]]:
    """Yield each of `points` with each place from its start up to its stop, as original indices, in chunks."""
    import numpy as np

    counts = np.maximum(stops - starts, 0)
    busy = np.flatnonzero(counts)
    points, starts, counts = points[busy], starts[busy], counts[busy]
    ends = np.cumsum(counts)
    begin = 0
    while begin < len(points):
        done = int(ends[begin - 1]) if begin else 0
        end = max(begin + 1, int(np.searchsorted(ends, done + _CHUNK, side="right")))
        some = counts[begin:end]
        offset = np.arange(int(some.sum()), dtype=np.int64) - np.repeat(ends[begin:end] - some - done, some)
        yield order[np.repeat(points[begin:end], some)], order[np.repeat(starts[begin:end], some) + offset]
        begin = end


def _measure(
    latitude: Integers,
    longitude: Integers,
    centred: tuple[Floats, Floats, Floats],
    one: Integers,
    other: Integers,
    within_m: float,
) -> tuple[Integers, Integers, Floats]:
    """Return of the candidate pairs those below the distance, with it; only doubtful ones ask for the geodesic."""
    import numpy as np

    # A straight line is never longer than the geodesic, so what is dropped here is truly too far.
    gap = centred[2][one] - centred[2][other]
    level = np.flatnonzero(np.abs(gap) < within_m)
    one, other = one[level], other[level]
    squared = gap[level] ** 2
    for axis in centred[:2]:
        squared += (axis[one] - axis[other]) ** 2
    near = np.flatnonzero(squared < within_m * within_m)
    one, other, chord = one[near], other[near], np.sqrt(squared[near])
    distance = arc_m(chord)
    # The correction is off by at most 3 % of itself (the earth's radii differ by 1 %).
    doubt = 0.005 + 0.03 * (distance - chord)
    near = np.flatnonzero(distance < within_m + doubt)
    one, other, distance, doubt = one[near], other[near], distance[near], doubt[near]
    unsure = np.flatnonzero((distance > within_m - doubt) | (distance > _CHORD_SERVES_M))
    if len(unsure):
        distance[unsure] = _geodesics_m(latitude, longitude, one[unsure], other[unsure])
        near = np.flatnonzero(distance < within_m)
        one, other, distance = one[near], other[near], distance[near]
    return one, other, distance


def _geodesics_m(latitude: Integers, longitude: Integers, one: Integers, other: Integers) -> list[float]:
    from taskdb.core.geodesy import distance_m
    from taskdb.core.model import Position

    places = [
        (Position.from_e7(int(latitude[i]), int(longitude[i])), Position.from_e7(int(latitude[j]), int(longitude[j])))
        for i, j in zip(one, other, strict=True)
    ]
    return [distance_m(a, b) for a, b in places]
