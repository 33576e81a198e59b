"""Legs through volumes against 10 m samples of each leg, with shapely to say what lies within: holes, antimeridian,
grazed edges, poles; and positions of samples by pyproj, independent of our pieces."""

from __future__ import annotations

import random
from itertools import pairwise

import numpy as np
import pytest
import shapely
from pyproj import Geod

from taskdb.core.airspace.crossing import passages
from taskdb.core.airspace.ground import volumes_at
from taskdb.core.airspace.volume import GROUND, UNLIMITED, Kind, Volume
from taskdb.core.model import E7, Position
from tests.reference.airspaces import as_shape, random_volume

GEOD = Geod(ellps="WGS84")
STEP_M = 10.0
CASES = 200


def sampled(a: Position, b: Position, step_m: float = STEP_M) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    azimuth, _, length = GEOD.inv(a.longitude_deg, a.latitude_deg, b.longitude_deg, b.latitude_deg)
    along = np.append(np.arange(0.0, length, step_m), length)
    n = np.ones(len(along))
    x, y, _ = GEOD.fwd(a.longitude_deg * n, a.latitude_deg * n, azimuth * n, along)
    return along, x, y


def by_samples(a: Position, b: Position, volume: Volume) -> tuple[np.ndarray, np.ndarray]:
    along, x, y = sampled(a, b)
    shape = as_shape(volume)
    shapely.prepare(shape)
    return along, shapely.intersects_xy(shape, x, y)


def told(a: Position, b: Position, volume: Volume) -> tuple[tuple[float, float], ...]:
    found = passages([(a, b)], (volume,))[0]
    return found[0].stretches_m if found else ()


def differences(a: Position, b: Position, volume: Volume) -> np.ndarray:
    """Return how far each sample that we tell differently lies from the nearest end that we tell, metres."""
    along, inside = by_samples(a, b, volume)
    stretches = told(a, b, volume)
    ours = np.zeros(len(along), dtype=bool)
    for begin, end in stretches:
        ours |= (along >= begin) & (along <= end)
    wrong = along[ours != inside]
    ends = np.array([end for stretch in stretches for end in stretch] or [np.inf])
    return np.abs(wrong[:, None] - ends[None, :]).min(axis=1) if len(wrong) else wrong


def _case(rng: random.Random, number: int) -> tuple[Position, Position, Volume]:
    """Return a leg and a volume about its middle; every fourth lies across the antimeridian, some far north."""
    latitude = rng.choice((rng.uniform(-60, 65), rng.uniform(70, 80)))
    longitude = 180 + rng.uniform(-0.3, 0.3) if number % 4 == 0 else rng.uniform(-175, 175)
    volume = random_volume(rng, f"V{number}", longitude, latitude, rng.uniform(0.05, 0.6))
    a = Position.at(latitude + rng.uniform(-0.5, 0.5), longitude + rng.uniform(-0.8, 0.8))
    b = Position.at(latitude + rng.uniform(-0.5, 0.5), longitude + rng.uniform(-0.8, 0.8))
    return a, b, volume


@pytest.mark.parametrize("part", range(4))
def test_stretches_are_those_of_samples_every_10_m(part: int) -> None:
    rng = random.Random(1000 + part)
    crossed = several = over = 0
    for number in range(CASES // 4):
        a, b, volume = _case(rng, number)
        off = differences(a, b, volume)
        assert off.size == 0 or off.max() <= 20.0, (a, b, volume.name, off.max())
        stretches = told(a, b, volume)
        crossed += bool(stretches)
        several += len(stretches) > 1
        over += len(volume.polygons) > 1 and bool(stretches)
        _ends_are_edges(a, b, volume, stretches)
    assert crossed > 15 and several >= 2 and over >= 2, (crossed, several, over)


def _ends_are_edges(a: Position, b: Position, volume: Volume, stretches: tuple[tuple[float, float], ...]) -> None:
    """Each end within 20 m of where the sampled containment changes, or an end of the leg."""
    along, inside = by_samples(a, b, volume)
    changes = along[1:][inside[1:] != inside[:-1]] - STEP_M / 2
    borders = np.concatenate([changes, [0.0, along[-1]]])
    for end in (end for stretch in stretches for end in stretch):
        # A stretch shorter than a sample may lie between two of them.
        assert np.abs(borders - end).min() <= 20.0 or any(y - x < 2 * STEP_M for x, y in stretches), end


def test_many_legs_at_once_are_told_as_each_alone() -> None:
    rng = random.Random(7)
    volumes = tuple(
        random_volume(rng, f"V{n}", rng.uniform(9, 12), rng.uniform(47, 49), rng.uniform(0.05, 0.5)) for n in range(40)
    )
    places = [Position.at(rng.uniform(47, 49), rng.uniform(9, 12)) for _ in range(30)]
    legs = list(pairwise(places))
    together = passages(legs, volumes)
    for leg, found in zip(legs, together, strict=True):
        alone = {n: passages([leg], (one,))[0] for n, one in enumerate(volumes)}
        assert {p.volume: p.stretches_m for p in found} == {n: p[0].stretches_m for n, p in alone.items() if p}


def _box(west: float, south: float, east: float, north: float) -> Volume:
    corners = [(west, south), (east, south), (east, north), (west, north), (west, south)]
    return Volume.of("box", Kind.OTHER, GROUND, UNLIMITED, [[[(round(x * E7), round(y * E7)) for x, y in corners]]])


def test_a_leg_along_an_edge_runs_within_from_corner_to_corner() -> None:
    # Meridians are geodesics and straight in longitude and latitude alike: 1° from 47.5 N, by the geodesic itself.
    box = _box(10, 47.5, 11, 48.5)
    ((begin, end),) = told(Position.at(47, 10), Position.at(49, 10), box)
    assert begin == pytest.approx(GEOD.inv(10, 47, 10, 47.5)[2], abs=1.0)
    assert end == pytest.approx(GEOD.inv(10, 47, 10, 48.5)[2], abs=1.0)
    assert told(Position.at(47, 9.99999), Position.at(49, 9.99999), box) == ()


def test_an_edge_along_a_parallel_is_no_geodesic() -> None:
    # From corner to corner of its north edge the geodesic bulges north, out of the box: 55 of 2,820 legs taken as two
    # points were wrong for this. At 48° over 1° it leaves the parallel by some 120 m.
    box = _box(10, 47.5, 11, 48.5)
    assert told(Position.at(48.5, 10), Position.at(48.5, 11), box) == ()
    ((begin, end),) = told(Position.at(47.5, 10), Position.at(47.5, 11), box)
    assert (begin, end) == pytest.approx((0.0, GEOD.inv(10, 47.5, 11, 47.5)[2]), abs=1.0)


def test_a_leg_within_is_told_whole_and_one_in_a_hole_not_at_all() -> None:
    ring = [(round(x * E7), round(y * E7)) for x, y in ((10, 47), (12, 47), (12, 49), (10, 49), (10, 47))]
    hole = [(round(x * E7), round(y * E7)) for x, y in ((10.5, 47.5), (11.5, 47.5), (11.5, 48.5), (10.5, 48.5))]
    volume = Volume.of("ring", Kind.OTHER, GROUND, UNLIMITED, [[ring, [*hole, hole[0]]]])
    assert told(Position.at(47.8, 10.8), Position.at(48.2, 11.2), volume) == ()
    length = GEOD.inv(10.2, 47.2, 10.3, 48.8)[2]
    assert told(Position.at(47.2, 10.2), Position.at(48.8, 10.3), volume) == (pytest.approx((0.0, length)),)
    through = told(Position.at(48, 10.2), Position.at(48, 11.8), volume)
    assert len(through) == 2


def test_a_leg_over_the_pole_meets_a_cap_about_it() -> None:
    cap = _box(-180, 89, 180, 90)
    a, b = Position.at(88, 0), Position.at(88, -180)
    ((begin, end),) = told(a, b, cap)
    assert begin == pytest.approx(GEOD.inv(0, 88, 0, 89)[2], abs=20)
    assert end == pytest.approx(GEOD.inv(0, 88, 0, 90)[2] + GEOD.inv(0, 90, 0, 89)[2], abs=20)


def test_nothing_is_crossed_by_a_leg_without_length_or_where_there_are_no_volumes() -> None:
    at = Position.at(48, 10.5)
    assert passages([(at, at)], (_box(10, 47, 11, 49),)) == ((),)
    assert passages([(at, Position.at(48, 12))], ()) == ((),)
    assert passages([], (_box(10, 47, 11, 49),)) == ()


def test_positions_are_within_as_another_library_has_it() -> None:
    rng = random.Random(4)
    volumes = tuple(random_volume(rng, f"V{n}", 180 + rng.uniform(-1, 1), 50, 0.5) for n in range(12))
    held = 0
    for _ in range(400):
        x = (180 + rng.uniform(-1.6, 1.6) + 180) % 360 - 180
        at = Position.at(50 + rng.uniform(-0.6, 0.6), x)
        other = tuple(
            n for n, v in enumerate(volumes) if as_shape(v).intersects(shapely.Point(at.longitude_deg, at.latitude_deg))
        )
        assert volumes_at(volumes, at) == other
        held += len(other)
    assert held > 400


def test_a_leg_flown_back_meets_the_same_stretches_from_its_other_end() -> None:
    rng = random.Random(21)
    met = 0
    for number in range(60):
        a, b, volume = _case(rng, number)
        length = GEOD.inv(a.longitude_deg, a.latitude_deg, b.longitude_deg, b.latitude_deg)[2]
        there, back = told(a, b, volume), told(b, a, volume)
        mirrored = [(length - end, length - begin) for begin, end in reversed(back)]
        assert np.allclose(there, mirrored, atol=0.01) if there else mirrored == []
        met += bool(there)
    assert met > 15
