"""Landable cover against a judge who tries every field from every kilometre, by another library and another sum.

The judge: geodesics by geographiclib (Karney 2013), and the wind by drift: a glider that flies for a time through the
air is carried off by the wind for as long, so the time is found by halving until heading and drift close on the
field. No wind triangle is solved, no tangent plane is used, every field counts.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from taskdb.core.geodesy import destination
from taskdb.core.ground import GroundHeights
from taskdb.core.judgement.cover import Terms, cover_course
from taskdb.core.judgement.fields import Fields
from taskdb.core.judgement.glide import Glide, height_used_m
from taskdb.core.model import Landable, Position, Waypoint
from taskdb.core.quantities import Wind

EARTH = Geodesic.WGS84
ALL = tuple(Landable)

Spot = tuple[float, float]


def used_m(glide: Glide, distance_m: float, course_deg: float) -> float:
    """Return the height used: sink speed times the least time after which the drifting disc of air holds the field."""
    if distance_m == 0:
        return 0.0
    speed, wind = glide.airspeed_kmh / 3.6, glide.wind.speed_kmh / 3.6
    x, y = (distance_m * trig(math.radians(course_deg)) for trig in (math.sin, math.cos))
    to = math.radians(glide.wind.from_deg + 180)
    wx, wy = wind * math.sin(to), wind * math.cos(to)

    def short(seconds: float) -> bool:
        return math.hypot(x - wx * seconds, y - wy * seconds) > speed * seconds

    # With a wind slower than the glider the disc holds the field from one moment on; halving finds it.
    low, high = 0.0, distance_m / (speed - wind)
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if short(middle) else (low, middle)
    return speed / glide.ratio * high


def sampled(points: list[Spot]) -> list[tuple[float, Spot]]:
    """Return every whole kilometre of each leg from its first point, and the finish."""
    found, begin = [], 0.0
    for a, b in pairwise(points):
        line = EARTH.InverseLine(*a, *b)
        k = 0
        while k * 1000 < line.s13:
            at = line.Position(k * 1000)
            found.append((begin + k * 1000, (at["lat2"], at["lon2"])))
            k += 1
        begin += line.s13
    return [*found, (begin, points[-1])]


def judged(
    spot: Spot, altitude_m: float, fields: list[tuple[str, Spot, float]], glide: Glide,
    clears: Callable[[Spot, Spot, float, float], bool] = lambda *_: True,
) -> tuple[str, float, float] | None:  # fmt: skip
    """Return the highest on arrival of all fields whose line clears: its code, the height on arrival, its distance."""
    tried = []
    for code, at, elevation in fields:
        line = EARTH.Inverse(*spot, *at)
        used = used_m(glide, line["s12"], line["azi1"])
        tried.append((altitude_m - used - elevation, code, at, line["s12"], used))
    for arrival, code, at, far, used in sorted(tried, reverse=True):
        if clears(spot, at, far, used):
            return code, arrival, far
    return None


def random_case(rng: random.Random, middle: Spot, count: int) -> tuple[list[Spot], list[tuple[str, Spot, float]]]:
    def near(most_m: float) -> Spot:
        at = destination(Position(*middle), rng.uniform(0, 360), most_m * math.sqrt(rng.random()))
        spot = Position.at(at.latitude_deg, at.longitude_deg)
        return spot.latitude_deg, spot.longitude_deg

    points = [near(25_000) for _ in range(rng.choice([2, 3, 4]))]
    return points, [(f"F{n:02d}", near(60_000), round(rng.uniform(0, 900), 1)) for n in range(count)]


def as_fields(fields: list[tuple[str, Spot, float]]) -> Fields:
    waypoints = [Waypoint(code, code, Position.at(*at), e, Landable.FIELD) for code, at, e in fields]
    return Fields.of(waypoints, ALL)


MIDDLES = [(47.3, 11.2), (-33.9, 150.8), (0.02, 20.0), (64.0, -20.5), (-17.0, 179.95), (78.2, 15.6), (89.9, 40.0)]


@pytest.mark.parametrize("seed", range(50))
def test_the_best_field_of_each_kilometre_is_that_of_an_exhaustive_judge(seed: int) -> None:
    rng = random.Random(seed)
    points, fields = random_case(rng, MIDDLES[seed % len(MIDDLES)], 12)
    speed = rng.uniform(80, 130)
    glide = Glide(rng.uniform(15, 45), speed, Wind(rng.uniform(0, 360), speed * rng.choice([0.0, 0.2, 0.5, 0.85])))
    altitude = rng.uniform(800, 2000)
    cover = cover_course([Position(*spot) for spot in points], as_fields(fields), Terms(glide, altitude, ""))
    expected = sampled(points)
    assert [sample.at_m for sample in cover.samples] == pytest.approx([at for at, _ in expected], abs=0.001)
    for sample, (_, spot) in zip(cover.samples[::3], expected[::3], strict=True):
        code, arrival, distance = judged(spot, altitude, fields, glide) or ("", 0.0, 0.0)
        assert sample.code == code
        assert sample.arrival_m == pytest.approx(arrival, abs=0.01)
        assert sample.distance_m == pytest.approx(distance, abs=0.01)
        assert sample.is_reached == (arrival >= 200)


def test_the_wind_is_told_from_its_opposite_and_from_calm_air() -> None:
    # By hand: 30 km due north, 100 km/h, 1 in 30, wind from the north 25 km/h: 75 km/h over the ground, 24 minutes,
    # sinking 100 / 3.6 / 30 m/s: 1,333.3 m. With it from the south 125 km/h: 800 m; in calm air 1,000 m.
    north, far = np.array([0.0]), np.array([30_000.0])
    for wind, expected in ((Wind(0, 25), 1333.333), (Wind(180, 25), 800.0), (Wind(0, 0), 1000.0)):
        assert height_used_m(Glide(30, 100, wind), far, north)[0] == pytest.approx(expected, abs=0.001)
    # Across: sqrt(100² − 60²) = 80 km/h are left.
    assert height_used_m(Glide(30, 100, Wind(90, 60)), far, north)[0] == pytest.approx(1250.0, abs=0.001)


def hills(latitude: np.ndarray, longitude: np.ndarray) -> np.ndarray:
    """Smooth ridges and valleys, 200 to 2,000 m, 8 km from ridge to ridge; unknown in one corner."""
    heights = 1100 + 500 * np.sin(latitude * 90) + 400 * np.cos(longitude * 60 + latitude * 20)
    return np.where((latitude > 47.55) & (longitude > 11.5), np.nan, heights)


GROUND = GroundHeights("hills", 30.0, True, hills)


@pytest.mark.slow
def test_with_terrain_only_a_field_whose_line_clears_the_ground_counts() -> None:
    told = [compared_over_hills(random.Random(seed)) for seed in range(16)]
    compared, none_left, another = (sum(column) for column in zip(*told, strict=True))
    # Not vacuous: of these places many have no field left, or another one than without the ground.
    assert compared > 100 and none_left > 10 and another > 30, (compared, none_left, another)


def compared_over_hills(rng: random.Random) -> tuple[int, int, int]:
    """Hold one course over the hills against the judge; return how many places were compared, and what was special."""
    points, fields = random_case(rng, (47.3, 11.2), 25)
    fields = [(code, at, float(hills(*map(np.array, at)))) for code, at, _ in fields]
    fields = [(code, at, e) for code, at, e in fields if not math.isnan(e)]
    glide = Glide(rng.uniform(20, 40), 110, Wind(rng.uniform(0, 360), rng.uniform(0, 40)))
    altitude, clearance, free = rng.uniform(1500, 2900), rng.uniform(20, 200), rng.choice([0.0, 1000.0, 2000.0])
    doubtful: list[bool] = []

    def clears(a: Spot, b: Spot, far: float, used: float) -> bool:
        """Ask every 50 m of the geodesic; a line within a metre and a half of its clearance is left out as doubtful."""
        if far <= free:
            return True
        line = EARTH.InverseLine(*a, *b)
        along = np.linspace(0, far - free, max(2, int((far - free) / 50)))
        at = [line.Position(s) for s in along]
        ground = hills(np.array([p["lat2"] for p in at]), np.array([p["lon2"] for p in at]))
        room = altitude - used * along / far - ground - clearance
        doubtful.append(bool(np.nanmin(np.abs(np.append(room.min(initial=1e9, where=~np.isnan(room)), 1e9))) < 1.5))
        return bool(not np.isnan(room).any() and (room >= 0).all())

    terms = Terms(glide, altitude, "", clearance_m=clearance, free_m=free)
    cover = cover_course([Position(*spot) for spot in points], as_fields(fields), terms, ground=GROUND)
    compared = none_left = another = 0
    for sample, (_, spot) in list(zip(cover.samples, sampled(points), strict=True))[::4]:
        doubtful.clear()
        best = judged(spot, altitude, fields, glide, clears)
        if any(doubtful) or sample.is_withheld:
            continue
        compared += 1
        if best is None:
            none_left += 1
            assert sample.code is None and sample.is_reached is False
            continue
        assert sample.code == best[0]
        assert sample.arrival_m == pytest.approx(best[1], abs=0.01)
        another += best[0] != (judged(spot, altitude, fields, glide) or "")[0]
    return compared, none_left, another
