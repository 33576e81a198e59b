"""The wind triangle against a handbook's example and against flights simulated step by step."""

from __future__ import annotations

import math

import pytest
from geographiclib.geodesic import Geodesic

from taskdb.core.course.wind import Air, fly_leg, wind_triangle
from taskdb.core.model import Position
from taskdb.core.quantities import NAUTICAL_MILE_M, Wind

KT = NAUTICAL_MILE_M / 1000
WGS84 = Geodesic.WGS84


def test_the_handbooks_example_is_met() -> None:
    # FAA, Pilot's Handbook of Aeronautical Knowledge (FAA-H-8083-25), chapter on navigation, wind triangle from E to P:
    # true course 090, wind 045 at 40 kt, 120 kt: wind correction 14 degrees left, heading 076, ground speed 88 kt, and
    # 220 NM in 2.5 hours. From memory.
    found = wind_triangle(90.0, Air(120 * KT, Wind(45.0, 40 * KT)))
    assert found.heading_deg is not None and found.ground_kmh is not None
    assert round(found.heading_deg) == 76
    assert round(found.ground_kmh / KT) == 88
    assert round(220 / (found.ground_kmh / KT), 1) == 2.5


def velocity(heading_deg: float, speed: float, wind: Wind) -> tuple[float, float]:
    """Metres a second to the east and north: own motion plus that of the air."""
    own, air = math.radians(heading_deg), math.radians(wind.from_deg + 180)
    drift = wind.speed_kmh / 3.6
    return speed * math.sin(own) + drift * math.sin(air), speed * math.cos(own) + drift * math.cos(air)


def heading_for(bearing_deg: float, speed: float, wind: Wind) -> float:
    """The heading whose resulting motion points along the bearing, by halving: no triangle is solved."""
    low, high = bearing_deg - 90.0, bearing_deg + 90.0
    for _ in range(50):
        middle = (low + high) / 2
        east, north = velocity(middle, speed, wind)
        aside = math.degrees(math.atan2(east, north)) - bearing_deg
        if (aside + 180) % 360 - 180 < 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def simulate(a: Position, b: Position, phases: tuple[tuple[float, float], ...], wind: Wind) -> float:
    """Fly phases of (own speed in km/h, seconds) again and again, in steps of at most 10 s; return the seconds taken.

    Steered at the start of each cycle so that the motion over the whole of it points at the goal. The last cycle is
    taken in proportion: within a cycle the glider is beside its track.
    """
    mean = sum(v * t for v, t in phases) / sum(t for _, t in phases) / 3.6
    latitude, longitude, taken = a.latitude_deg, a.longitude_deg, 0.0
    line = WGS84.Inverse(latitude, longitude, b.latitude_deg, b.longitude_deg)
    while True:
        left = line["s12"]
        heading = heading_for(line["azi1"], mean, wind)
        for speed_kmh, seconds in phases:
            steps = math.ceil(seconds / 10)
            for _ in range(steps):
                east, north = velocity(heading, speed_kmh / 3.6, wind)
                way = math.hypot(east, north) * seconds / steps
                direct = WGS84.Direct(latitude, longitude, math.degrees(math.atan2(east, north)), way)
                latitude, longitude = direct["lat2"], direct["lon2"]
        line = WGS84.Inverse(latitude, longitude, b.latitude_deg, b.longitude_deg)
        cycle_s = sum(t for _, t in phases)
        taken += cycle_s
        gone = left - line["s12"]
        if line["s12"] < gone:
            return taken + cycle_s * line["s12"] / gone


LEGS = [
    # A headwind, a crosswind, a tailwind stronger than the glider is fast, and a long leg whose course turns by 5.4°.
    (Position.at(50, 10), Position.at(50.4, 9.2), 80.0, Wind(300, 30)),
    (Position.at(47.5, 11), Position.at(47.6, 12.1), 70.0, Wind(180, 35)),
    (Position.at(-33, 149), Position.at(-33.5, 148.6), 60.0, Wind(40, 70)),
    (Position.at(52, 6), Position.at(52.6, 13), 95.0, Wind(330, 40)),
    # Across the antimeridian.
    (Position.at(-17, 179.7), Position.at(-17.4, -179.6), 85.0, Wind(110, 25)),
]


@pytest.mark.parametrize(("a", "b", "speed", "wind"), LEGS)
def test_a_leg_takes_as_long_as_the_flight_simulated_in_steps(
    a: Position, b: Position, speed: float, wind: Wind
) -> None:
    flown = fly_leg(a, b, Air(speed, wind)).time_s
    assert flown == pytest.approx(simulate(a, b, ((speed, 10.0),), wind), rel=5e-5)


@pytest.mark.parametrize(("a", "b", "speed", "wind"), [LEGS[0], LEGS[1], LEGS[4]])
def test_drift_acts_while_circling_too(a: Position, b: Position, speed: float, wind: Wind) -> None:
    # Cruise for two minutes, circle for one and go with the wind: the cruise is half as fast again as the average. The
    # neighbouring model, which lets the wind act on the cruise alone, is off by several percent.
    cycle = ((1.5 * speed, 120.0), (0.0, 60.0))
    simulated = simulate(a, b, cycle, wind)
    assert fly_leg(a, b, Air(speed, wind)).time_s == pytest.approx(simulated, rel=5e-4)
    cruise_only = fly_leg(a, b, Air(1.5 * speed, wind)).time_s
    assert cruise_only is not None
    assert abs(cruise_only * 1.5 / simulated - 1) > 0.03
