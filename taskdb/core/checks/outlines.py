"""In which country a point lies, and how far it lies from one. The outlines are handed in as plain arrays.

The outlines are generous over water and good to a few kilometres: for saying that a point lies far out, not for
drawing. A place that belongs to no code (a few disputed ones) is evidence of nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.geodesy import distance_m
from taskdb.core.model import Position
from taskdb.core.packed_waypoints import CodedValues

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

UNCODED = ""
"""Stands for ground that the outlines know and give no country code."""
_STRIP = 256
"""So many points are held against the edges of a ring together, south to north."""
_BULGE = 0.125
_MOST_BULGE_M = 12_000.0
_STRAIGHT_DEG = 1e-3
"""An edge that runs along a meridian or parallel as exactly as this was drawn so, and not made coarser."""


@dataclass(frozen=True, slots=True)
class Outlines:
    """Closed rings of vertices in 1e-5 degree; ring k ends before `ring_end[k]`; parity tells holes from land.

    `country` is the ISO 3166-1 alpha-2 code of the state, `territory` that of a part with a code of its own, or "".
    """

    longitude_e5: NDArray[np.int32]
    latitude_e5: NDArray[np.int32]
    ring_end: NDArray[np.int32]
    country: tuple[str, ...]
    territory: tuple[str, ...]

    def rings(self) -> list[tuple[int, int]]:
        """Return where each ring starts and ends among the vertices."""
        ends = self.ring_end.tolist()
        return list(zip([0, *ends[:-1]], ends, strict=True))

    def codes(self) -> frozenset[str]:
        """Return the codes, of states and of territories, that have an outline."""
        return frozenset((*self.country, *self.territory)) - {UNCODED}


def countries_at(outlines: Outlines, positions: Sequence[Position]) -> list[frozenset[str]]:
    """Return for each position the codes of the state and territory around it; empty at sea and on no one's ground.

    Ground without a code gives a set that holds only `UNCODED`.
    """
    import numpy as np

    degrees = np.array([(place.latitude_deg, place.longitude_deg) for place in positions]).reshape(-1, 2)
    return list(countries_around(outlines, degrees[:, 0], degrees[:, 1]))


def countries_around(
    outlines: Outlines, latitude_deg: NDArray[np.float64], longitude_deg: NDArray[np.float64]
) -> CodedValues[frozenset[str]]:
    """Return what `countries_at` gives, of positions in arrays."""
    import numpy as np

    if not len(latitude_deg):
        return CodedValues()
    order = np.argsort(latitude_deg)
    latitude, longitude = latitude_deg[order] * 1e5, longitude_deg[order] * 1e5
    numbers = np.zeros(len(order), dtype=np.int32)
    sets: list[frozenset[str]] = [frozenset()]
    for (country, territory), rings in _rings_by_owner(outlines, latitude, longitude).items():
        codes = {country, territory} if territory else {country}
        inside = np.flatnonzero(_is_inside_any(outlines, rings, latitude, longitude))
        for number in np.unique(numbers[inside]).tolist():
            numbers[inside[numbers[inside] == number]] = len(sets)
            sets.append(sets[number] | codes)
    in_order = np.empty_like(numbers)
    in_order[order] = numbers
    return CodedValues.numbered(sets, in_order)


def _rings_by_owner(
    outlines: Outlines, latitude: NDArray[np.float64], longitude: NDArray[np.float64]
) -> dict[tuple[str, str], list[tuple[int, int]]]:
    """Return the rings of each state and territory that may hold some of the places (1e-5 degree)."""
    import numpy as np

    rings = outlines.rings()
    starts = [start for start, _ in rings]
    west, east = (one.reduceat(outlines.longitude_e5, starts) for one in (np.minimum, np.maximum))
    south, north = (one.reduceat(outlines.latitude_e5, starts) for one in (np.minimum, np.maximum))
    around = (west <= longitude.max()) & (east >= longitude.min())
    around &= (south <= latitude.max()) & (north >= latitude.min())
    owners: dict[tuple[str, str], list[tuple[int, int]]] = {}
    for ring in np.flatnonzero(around).tolist():
        owners.setdefault((outlines.country[ring], outlines.territory[ring]), []).append(rings[ring])
    return owners


def _is_inside_any(
    outlines: Outlines,
    rings: Sequence[tuple[int, int]],
    latitude: NDArray[np.float64],
    longitude: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Return which places lie inside, rings within rings being holes; places rise in latitude (1e-5 degree)."""
    import numpy as np

    is_inside = np.zeros(len(latitude), dtype=bool)
    for start, end in rings:
        x = outlines.longitude_e5[start:end].astype(np.float64)
        y = outlines.latitude_e5[start:end].astype(np.float64)
        south, north = np.searchsorted(latitude, y.min()), np.searchsorted(latitude, y.max(), side="right")
        some = longitude[south:north]
        near = south + np.flatnonzero((some >= x.min()) & (some <= x.max()))
        if len(near):
            is_inside[near] ^= _is_inside(longitude[near], latitude[near], x, y)
    return is_inside


def _is_inside(
    longitude: NDArray[np.float64], latitude: NDArray[np.float64], x: NDArray[np.float64], y: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Return for each point whether a ray to the east crosses the ring an odd number of times.

    Points rise in latitude: a strip of them meets few edges.
    """
    import numpy as np

    inside = np.zeros(len(longitude), dtype=bool)
    x1, x2, y1, y2 = x[:-1], x[1:], y[:-1], y[1:]
    low, high = np.minimum(y1, y2), np.maximum(y1, y2)
    slope = (x2 - x1, np.where(y2 == y1, 1.0, y2 - y1))
    for begin in range(0, len(longitude), _STRIP):
        north = latitude[begin : begin + _STRIP, None]
        edges = np.flatnonzero((low <= north[-1]) & (high > north[0]))
        if len(edges):
            run, rise = slope[0][edges], slope[1][edges]
            crosses = (y1[edges] > north) != (y2[edges] > north)
            crosses &= longitude[begin : begin + _STRIP, None] < x1[edges] + (north - y1[edges]) * run / rise
            inside[begin : begin + _STRIP] = crosses.sum(axis=1) % 2 == 1
    return inside


def distance_to_country_m(outlines: Outlines, code: str, position: Position) -> float | None:
    """Return how far the position lies from the state or territory `code`, 0 inside; None where it has no outline.

    Within 1 % or so: the nearest point is looked for on a flat map around the position, then measured exactly.
    """
    if code in countries_at(outlines, [position])[0]:
        return 0.0
    return distance_outside_m(outlines, code, position)


def distance_outside_m(outlines: Outlines, code: str, position: Position) -> float | None:
    """Return how far the outline of `code` lies from a position that is known to be outside it; None without one."""
    nearest = _nearest(outlines, code, position)
    return None if nearest is None else distance_m(position, nearest.there)


def coarseness_m(outlines: Outlines, code: str, position: Position) -> float:
    """Return how far off the outline of `code` may be where it is nearest to a position: an eighth of the edge there.

    A river between two vertices bulges out: the Orange River lies 9 and 10 km beside edges of 73 and 152 km. Along a
    meridian or a parallel it is 0, and 12 km at most.
    """
    nearest = _nearest(outlines, code, position)
    if nearest is None:
        return 0.0
    one, other = nearest.edge
    apart = abs(one.latitude_deg - other.latitude_deg), abs(one.longitude_deg - other.longitude_deg)
    if min(apart) < _STRAIGHT_DEG:
        return 0.0
    return min(_BULGE * distance_m(one, other), _MOST_BULGE_M)


@dataclass(frozen=True, slots=True)
class _Nearest:
    """The place on an outline that is nearest to a position, and the ends of the edge that it lies on."""

    there: Position
    edge: tuple[Position, Position]


def _nearest(outlines: Outlines, code: str, position: Position) -> _Nearest | None:
    import numpy as np

    best: tuple[float, float, float] | None = None
    ends = (0, 0)
    shrink = float(np.cos(np.deg2rad(position.latitude_deg)))
    for ring, (start, end) in enumerate(outlines.rings()):
        if code not in (outlines.country[ring], outlines.territory[ring]):
            continue
        east = outlines.longitude_e5[start:end] / 1e5 - position.longitude_deg
        # A ring is shifted as a whole to the side on which it is nearer, so that no edge is torn apart.
        middle = float(east.min() + east.max()) / 2.0
        x = (east - 360.0 * round(middle / 360.0)) * shrink
        y = outlines.latitude_e5[start:end] / 1e5 - position.latitude_deg
        found, number = _nearest_on_ring(x, y)
        if best is None or found < best:
            best, ends = found, (start + number, start + number + 1)
    if best is None:
        return None
    _, x_deg, y_deg = best
    there = Position.at(position.latitude_deg + y_deg, position.longitude_deg + x_deg / max(shrink, 1e-9))
    one, other = (
        Position.at(float(outlines.latitude_e5[k]) / 1e5, float(outlines.longitude_e5[k]) / 1e5) for k in ends
    )
    return _Nearest(there, (one, other))


def _nearest_on_ring(x: NDArray[np.float64], y: NDArray[np.float64]) -> tuple[tuple[float, float, float], int]:
    """Return the squared distance and place of the ring that is nearest to the origin, and the number of its edge."""
    import numpy as np

    dx, dy = np.diff(x), np.diff(y)
    squared = dx * dx + dy * dy
    along = np.clip(-(x[:-1] * dx + y[:-1] * dy) / np.where(squared == 0.0, 1.0, squared), 0.0, 1.0)
    near_x, near_y = x[:-1] + along * dx, y[:-1] + along * dy
    distance = near_x * near_x + near_y * near_y
    best = int(np.argmin(distance))
    return (float(distance[best]), float(near_x[best]), float(near_y[best])), best
