"""The best credited fixes against all pairs of fixes: areas one after the other, and areas that interleave in time."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from taskdb.core.flights.credit import Candidates, Onward, best_credit
from taskdb.core.flights.hulls import corners
from taskdb.core.geodesy import earth_vectors, length_m
from taskdb.core.model import Earth, Position
from tests.flying import GEOD

START, FINISH = Position(48.0, 11.0), Position(48.05, 11.1)


class Walk:
    """Fixes on a way over the earth, and which of them stand in each area."""

    def __init__(self, latitudes: np.ndarray, longitudes: np.ndarray, *areas: np.ndarray) -> None:
        self.lat, self.lon, self.areas = latitudes, longitudes, areas

    def layers(self) -> list[Candidates]:
        return [Candidates(a.astype(float), *earth_vectors(self.lat[a], self.lon[a])) for a in self.areas]

    def position(self, fix: int) -> Position:
        return Position(float(self.lat[fix]), float(self.lon[fix]))

    def length_m(self, path: list[Position]) -> float:
        return sum(length_m(a, b, Earth.WGS84) for a, b in itertools.pairwise(path))

    def longest_m(self, gained: np.ndarray | None = None) -> float:
        """Return the longest way through all pairs of fixes in order; `gained` is what follows the last, by fix."""
        total = np.zeros(0)
        for n, area in enumerate(self.areas):
            lat, lon = self.lat[area], self.lon[area]
            if n == 0:
                total = self._lengths(lat, lon, START)
                continue
            before = self.areas[n - 1]
            ways = np.stack([total + self._lengths(self.lat[before], self.lon[before], self.position(f)) for f in area])
            ways[before[None, :] > area[:, None]] = -np.inf
            total = ways.max(axis=1)
        last = self.areas[-1]
        onward = self._lengths(self.lat[last], self.lon[last], FINISH) if gained is None else gained[last]
        return float((total + onward).max())

    @staticmethod
    def _lengths(lat: np.ndarray, lon: np.ndarray, to: Position) -> np.ndarray:
        ones = np.ones(len(lat))
        return np.asarray(GEOD.inv(lon, lat, ones * to.longitude_deg, ones * to.latitude_deg)[2])


def a_walk(kind: str, count: int, areas: int, seed: int) -> Walk:
    source = np.random.default_rng(seed)
    t = np.arange(count)
    if kind == "straight":
        lat, lon = 48.3 + 0.0 * t, 11.4 - 0.3 * t / count
    elif kind == "circles":
        lat, lon = 48.3 + 0.1 * t / count + 0.002 * np.sin(t / 4), 11.2 + 0.003 * np.cos(t / 4)
    else:
        lat, lon = 48.3 + np.cumsum(source.normal(0, 0.002, count)), 11.2 + np.cumsum(source.normal(0, 0.003, count))
    if seed % 3 == 0:
        parts = [t] * areas
    elif seed % 3 == 1:
        parts = list(np.array_split(t, areas))
    else:
        parts = [np.flatnonzero(source.random(count) < 0.4) for _ in range(areas)]
        parts[0], parts[-1] = np.union1d(parts[0], [0]), np.union1d(parts[-1], [count - 1])
    return Walk(lat, lon, *parts)


@pytest.mark.parametrize("kind", ["straight", "circles", "random"])
@pytest.mark.parametrize("areas", [1, 2, 3])
@pytest.mark.parametrize("seed", range(6))
def test_no_way_through_any_fixes_in_order_is_longer(kind: str, areas: int, seed: int) -> None:
    walk = a_walk(kind, 240, areas, seed)
    chosen = best_credit(walk.layers(), START, FINISH, Earth.WGS84)
    fixes = [int(area[n]) for area, n in zip(walk.areas, chosen, strict=True)]
    assert fixes == sorted(fixes)
    found = walk.length_m([START, *map(walk.position, fixes), FINISH])
    assert found == pytest.approx(walk.longest_m(), abs=0.05)


@pytest.mark.parametrize("kind", ["circles", "random"])
@pytest.mark.parametrize("seed", range(6))
def test_an_unfinished_way_counts_what_came_nearer_behind_its_last_fix(kind: str, seed: int) -> None:
    walk = a_walk(kind, 240, 2, seed)
    away = walk._lengths(walk.lat, walk.lon, FINISH)
    nearest = np.minimum.accumulate(away[::-1])[::-1]
    onward = Onward(FINISH, lambda at: float(nearest[int(at)]))
    chosen = best_credit(walk.layers(), START, onward, Earth.WGS84)
    fixes = [int(area[n]) for area, n in zip(walk.areas, chosen, strict=True)]
    gained = np.maximum(away - nearest, 0.0)
    found = walk.length_m([START, *map(walk.position, fixes)]) + float(gained[fixes[-1]])
    assert fixes == sorted(fixes)
    assert found == pytest.approx(walk.longest_m(gained), abs=0.05)


def test_four_areas_on_one_place_flown_through_on_a_straight_line_end_soon() -> None:
    walk = a_walk("straight", 3_000, 4, 0)
    chosen = best_credit(walk.layers(), START, FINISH, Earth.WGS84)
    assert list(chosen) == sorted(chosen)
    # No way in order through places of a line is longer than one that goes straight to its far end.
    assert walk.length_m([START, *map(walk.position, chosen), FINISH]) == pytest.approx(
        max(walk.length_m([START, walk.position(f), walk.position(2_999), FINISH]) for f in (0, 1_500, 2_999)), abs=0.05
    )


@pytest.mark.parametrize("middle", [(48.0, 11.0), (0.0, 180.0), (-89.9, 30.0)])
def test_the_corners_of_places_hold_the_furthest_from_anywhere(middle: tuple[float, float]) -> None:
    source = np.random.default_rng(5)
    away, bearing = source.uniform(0, 40_000, 3_000), source.uniform(0, 360, 3_000)
    ones = np.ones(3_000)
    lon, lat, _ = GEOD.fwd(ones * middle[1], ones * middle[0], bearing, away)
    kept = corners(earth_vectors(lat, lon)[0])
    assert 10 < len(kept) < 200
    for far_m, direction in zip(source.uniform(0, 300_000, 40), source.uniform(0, 360, 40), strict=True):
        x, y, _ = GEOD.fwd(middle[1], middle[0], direction, far_m)
        lengths = GEOD.inv(ones * x, ones * y, lon, lat)[2]
        assert lengths[kept].max() >= lengths.max() - 0.01


def test_places_on_one_spot_or_on_a_line_have_corners() -> None:
    ones = np.ones(50)
    assert len(corners(earth_vectors(48 * ones, 11 * ones)[0])) >= 1
    line = corners(earth_vectors(np.linspace(48, 48.2, 50), 11 * ones)[0])
    assert {0, 49} <= set(line.tolist())
