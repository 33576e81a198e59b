"""The places that can be turn points of a course from home, as columns: where they lie, and how far from home.

Quick lengths find, exact ones decide: both stand here, with what the quick ones may be off.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from functools import reduce
from operator import and_

import numpy as np
import numpy.typing as npt

from taskdb.core.filters.tasks import Sector
from taskdb.core.geodesy import earth_vectors, inverses, lengths_m, quick_lengths_m
from taskdb.core.model import Earth, Position
from taskdb.core.proposing.wanted import Wanted

Floats = npt.NDArray[np.float64]
Singles = npt.NDArray[np.float32]
Ints = npt.NDArray[np.intp]
Bools = npt.NDArray[np.bool_]

_CELLS = 1 << 16
"""Cells of a matrix that are worked on at once: they stay near the processor."""


@dataclass(frozen=True, slots=True)
class Places:
    """Places in columns, in the caller's order. `number` is the caller's; `spot` is equal where the position is.

    `home_m` is on the earth that was asked for, `geodesic_m` on WGS84, `out_deg` the true course at home towards the
    place, 0 ≤ x < 360; whether it may be the first or the last turn point goes by the first and last course wanted.
    `vectors` and `normals` have a leading axis of 3.
    """

    number: Ints
    latitude_deg: Floats
    longitude_deg: Floats
    spot: Ints
    home_m: Floats
    geodesic_m: Floats
    out_deg: Floats
    is_first: Bools
    is_last: Bools
    vectors: Floats
    normals: Floats

    def __len__(self) -> int:
        """Return how many places there are."""
        return len(self.number)

    def only(self, chosen: Bools | Ints) -> Places:
        """Return some of the places."""
        return Places(**{field.name: getattr(self, field.name)[..., chosen] for field in fields(self)})


def places_round(positions: Sequence[Position], home: Position, wanted: Wanted) -> Places:
    """Return the positions that are not home's own and lie no farther from it than is wanted."""
    latitude = np.array([p.latitude_deg for p in positions], dtype=np.float64)
    longitude = np.array([p.longitude_deg for p in positions], dtype=np.float64)
    from_home = np.full_like(latitude, home.latitude_deg), np.full_like(longitude, home.longitude_deg)
    out, geodesic = inverses(*from_home, latitude, longitude)
    out, back = _wrapped(out), _wrapped(inverses(latitude, longitude, *from_home)[0])
    home_m = lengths_m(*from_home, latitude, longitude, wanted.earth)
    places = Places(
        np.arange(len(positions)), latitude, longitude, _spots(latitude, longitude), home_m, geodesic, out,
        _are_in(out, wanted.first_deg), _are_in(back, wanted.last_deg), *earth_vectors(latitude, longitude),
    )  # fmt: skip
    is_near = home_m <= (np.inf if wanted.farthest_m is None else wanted.farthest_m)
    return places.only((geodesic > 0) & is_near)


def _spots(latitudes_deg: Floats, longitudes_deg: Floats) -> Ints:
    """Return numbers that are equal where the positions are; at a pole every longitude is one place."""
    longitudes = np.where(np.abs(latitudes_deg) == 90.0, 0.0, longitudes_deg)
    _, spots = np.unique(np.stack([latitudes_deg, longitudes]), axis=1, return_inverse=True)
    return spots.reshape(-1)


def _wrapped(bearings_deg: Floats) -> Floats:
    """Return bearings in 0 ≤ x < 360, as `wrap_bearing` does one."""
    wrapped = bearings_deg % 360.0
    return np.where(wrapped >= 360.0, 0.0, wrapped)


def _are_in(courses_deg: Floats, sector: Sector | None) -> Bools:
    """Say of courses whether the sector holds them, as `Sector.holds` does of one."""
    if sector is None:
        return np.ones(len(courses_deg), dtype=np.bool_)
    is_after, is_before = courses_deg >= sector.from_deg, courses_deg <= sector.to_deg
    return is_after & is_before if sector.from_deg <= sector.to_deg else is_after | is_before


def in_rows(count: int, width: int) -> Iterator[slice]:
    """Yield slices of so many rows of this width, each small enough to be worked on at once."""
    step = max(1, _CELLS // max(1, width))
    for start in range(0, count, step):
        yield slice(start, min(count, start + step))


def quick_rows_m(places: Places, rows: slice, columns: slice, earth: Earth) -> Floats:
    """Return quick lengths from some of the places to others, metres."""
    steps = places.vectors[:, rows, None] - places.vectors[:, None, columns]
    turns = places.normals[:, rows, None] - places.normals[:, None, columns]
    return quick_lengths_m(steps, turns, earth)


def quick_matrix_m(places: Places, earth: Earth) -> Singles:
    """Return quick lengths between all places, metres: four bytes each, for the searches that need every row again."""
    matrix = np.empty((len(places), len(places)), dtype=np.float32)
    for rows in in_rows(len(places), len(places)):
        above = quick_rows_m(places, rows, slice(rows.start, None), earth)
        matrix[rows, rows.start :] = above
        matrix[rows.start :, rows] = above.T
    return matrix


def exact_lengths_m(places: Places, first: Ints, second: Ints, earth: Earth) -> Floats:
    """Return the lengths of legs between places, metres, each leg measured once however often it stands here."""
    low, high = np.minimum(first, second), np.maximum(first, second)
    legs, which = np.unique(low * len(places) + high, return_inverse=True)
    low, high = np.divmod(legs, max(1, len(places)))
    latitude, longitude = places.latitude_deg, places.longitude_deg
    measured = lengths_m(latitude[low], longitude[low], latitude[high], longitude[high], earth)
    lengths: Floats = measured[which.reshape(-1)]
    return lengths


def doubt_m(longest_m: float) -> float:
    """Return how far a sum of quick lengths may be off, metres, where they come to `longest_m` together.

    Four bytes hold a length, and each sum of them, to 6e-8 of itself: 3 cm at 500 km. The arc that stands for the
    geodesic is off by 18 mm in 1,000 km, growing with the fifth power of a leg, and no leg is longer than half the
    course. Twice the one and six times the other: what is let through is measured anyway, and costs no more than that.
    """
    return 0.05 + 5e-7 * longest_m + 0.2 * (longest_m / 2e6) ** 5


def all_of(*conditions: Bools) -> Bools:
    """Return where all conditions hold; their shapes are brought together."""
    return reduce(and_, conditions)
