"""Near pairs are exactly those that an exhaustive geodesic search finds (pyproj.Geod, all against all)."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from pyproj import Geod

from taskdb.core.matching.points import Cubes, NearPairs, Neighbourhood, Points, counts_around, near_pairs

GEOD = Geod(ellps="WGS84")


def exhaustive(latitude_e7: np.ndarray, longitude_e7: np.ndarray, within_m: float) -> dict[tuple[int, int], float]:
    one, other = np.triu_indices(len(latitude_e7), 1)
    lat, lon = latitude_e7 / 1e7, longitude_e7 / 1e7
    _, _, metres = GEOD.inv(lon[one], lat[one], lon[other], lat[other])
    near = np.flatnonzero(metres < within_m)
    return {(int(one[k]), int(other[k])): float(metres[k]) for k in near}


def found(latitude_e7: np.ndarray, longitude_e7: np.ndarray, within_m: float) -> NearPairs:
    return near_pairs(Points.at(latitude_e7, longitude_e7), within_m)


def spelled_out(latitude_e7: np.ndarray, longitude_e7: np.ndarray, within_m: float) -> dict[tuple[int, int], float]:
    result = found(latitude_e7, longitude_e7, within_m)
    same = {group[0]: group for group in result.groups}
    pairs = {}
    for group in result.groups:
        pairs.update(dict.fromkeys(itertools.combinations(group, 2), 0.0))
    for a, b, metres in zip(result.first.tolist(), result.second.tolist(), result.distance_m.tolist(), strict=True):
        assert (a, b) not in pairs
        for one in same.get(a, (a,)):
            for other in same.get(b, (b,)):
                pairs[min(one, other), max(one, other)] = metres
    return pairs


# centre latitude, centre longitude, half height, half width (degrees), distance (m)
WINDOWS = [
    (47.0, 11.0, 0.0001, 0.0001, 1.0),
    (47.0, 11.0, 0.05, 0.08, 250.0),
    (47.0, 11.0, 1.5, 2.0, 5_000.0),
    (0.0, 0.0, 0.03, 0.03, 250.0),
    (0.0, 180.0, 0.03, 0.03, 250.0),
    (-16.8, 180.0, 0.05, 0.05, 400.0),
    (68.9, -180.0, 2.0, 5.0, 20_000.0),
    (89.999, 0.0, 0.02, 180.0, 250.0),
    (90.0, 0.0, 0.01, 180.0, 250.0),
    (-89.99, 30.0, 0.02, 180.0, 300.0),
    (-90.0, 0.0, 3.0, 180.0, 50_000.0),
    (0.0, 0.0, 90.0, 180.0, 400_000.0),
    (85.0, 179.0, 5.0, 30.0, 120_000.0),
]


@pytest.mark.parametrize("window", WINDOWS)
@pytest.mark.parametrize("seed", [1, 2])
def test_pairs_are_those_of_an_exhaustive_geodesic_search(window: tuple[float, ...], seed: int) -> None:
    latitude, longitude, height, width, within_m = window
    random = np.random.default_rng(seed)
    lat = np.clip(latitude + random.uniform(-height, height, 600), -90, 90)
    lon = (longitude + random.uniform(-width, width, 600) + 180) % 360 - 180
    lat_e7, lon_e7 = np.round(lat * 1e7).astype(np.int64), np.round(lon * 1e7).astype(np.int64)
    lon_e7[lon_e7 == 1_800_000_000] = -1_800_000_000
    lat_e7[:20], lon_e7[:20] = lat_e7[20:40], lon_e7[20:40]
    expected = exhaustive(lat_e7, lon_e7, within_m)
    pairs = spelled_out(lat_e7, lon_e7, within_m)
    assert set(pairs) == set(expected)
    assert len(expected) > 20
    for pair, metres in expected.items():
        assert pairs[pair] == pytest.approx(metres, abs=1e-3)


def test_the_limit_is_met_to_the_millimetre_and_is_itself_out() -> None:
    lat_e7 = np.array([470_000_000, 470_000_000 + 22_484], dtype=np.int64)
    lon_e7 = np.array([110_000_000, 110_000_000], dtype=np.int64)
    metres = GEOD.inv(11.0, 47.0, 11.0, lat_e7[1] / 1e7)[2]
    assert len(found(lat_e7, lon_e7, metres).first) == 0
    assert len(found(lat_e7, lon_e7, metres + 1e-6).first) == 1


@pytest.mark.parametrize("latitude", [0.0, 47.0, -89.95])
@pytest.mark.parametrize("seed", [1, 2])
def test_counts_are_of_the_27_cubes_about_each_point(latitude: float, seed: int) -> None:
    random = np.random.default_rng(seed)
    lat, lon = np.clip(latitude + random.uniform(-0.1, 0.1, (2, 200)), -90, 90), random.uniform(-0.1, 0.1, (2, 200))
    points, others = (Points.at(np.round(a * 1e7).astype(np.int64), np.round(o * 1e7).astype(np.int64))
                      for a, o in zip(lat, lon, strict=True))  # fmt: skip
    mine, theirs = (np.floor(some.centred_m / 1_500.0) for some in (points, others))
    is_about = (np.abs(mine[:, None, :] - theirs[None, :, :]) <= 1).all(axis=2)
    assert is_about.sum() > 200
    assert counts_around(points, Cubes(others, 1_500.0)).tolist() == is_about.sum(axis=1).tolist()


@pytest.mark.parametrize("latitude", [0.0, 47.0, -89.95])
def test_the_nearest_are_those_that_looking_at_all_gives(latitude: float) -> None:
    random = np.random.default_rng(3)
    # Close together, far apart, several at one place: more than are looked at one by one.
    spread = np.repeat([0.01, 0.3, 20.0], 1_000)
    lat = np.clip(latitude + random.uniform(-1, 1, 3_000) * spread, -90, 90)
    lon = random.uniform(-1, 1, 3_000) * spread
    lat[:5], lon[:5] = lat[0], lon[0]
    points = Points.at(np.round(lat * 1e7).astype(np.int64), np.round(lon * 1e7).astype(np.int64))
    around = Neighbourhood(points)
    for index in range(0, 3_000, 97):
        place = points.centred_m[index]
        metres = np.sort(np.sqrt(((points.centred_m - place) ** 2).sum(axis=1)))
        assert [around.chord_m(place, nth) for nth in (0, 3)] == [metres[0], metres[3]]
        nearest = metres[metres > 0.0][0]
        assert around.has_within(place, nearest) and not around.has_within(place, nearest * 0.999)
