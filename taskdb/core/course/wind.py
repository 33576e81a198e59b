"""The wind triangle with an average cross-country speed: headings, ground speeds and times of legs.

The speed is an average in still air with the circling in it, and the air drifts all the time, while circling too: so
the triangle is that of the average speed, not of the speed between climbs. No wind is looked up or guessed here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.geodesy import destination_and_course, inverse, turn_deg, wrap_bearing
from taskdb.core.model import ContestDay, Position
from taskdb.core.quantities import Wind

if TYPE_CHECKING:
    from taskdb.core.geodesy import Floats

CALM = Wind(0.0, 0.0)

LONGEST_S = 24 * 3600.0
"""A leg that takes longer is not flown in a day: it counts as one that cannot be made."""

_STEP_M = 25_000.0


@dataclass(frozen=True, slots=True)
class Air:
    """An average cross-country speed in still air, km/h and positive, and the wind (from, true) that it is flown in."""

    speed_kmh: float
    wind: Wind = CALM


@dataclass(frozen=True, slots=True)
class SpeedRange:
    """The slowest and the fastest speeds expected, km/h achieved on average in still air; None where not known.

    `whose` says of whom in words.
    """

    slowest_kmh: float | None
    fastest_kmh: float | None
    whose: str


@dataclass(frozen=True, slots=True)
class Triangle:
    """The wind triangle on one course. Components are positive from ahead and from the right, km/h.

    `heading_deg` (true) and `ground_kmh` are None where the course cannot be held or leads nowhere; `reason` says why.
    """

    headwind_kmh: float
    crosswind_kmh: float
    heading_deg: float | None
    ground_kmh: float | None
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class LegFlown:
    """A leg as flown along the geodesic: `time_s` is None where it cannot be made, and `reason` says why.

    Heading and components are those in the middle of the leg, `ground_kmh` the average over it; None without length.
    """

    distance_m: float
    time_s: float | None
    ground_kmh: float | None
    heading_deg: float | None
    headwind_kmh: float | None
    crosswind_kmh: float | None
    reason: str | None = None


def wind_of(day: ContestDay) -> Wind | None:
    """Return the wind of a day, None where it has none."""
    if day.wind_from_deg is None or day.wind_speed_kmh is None:
        return None
    return Wind(day.wind_from_deg, day.wind_speed_kmh, day.wind_text)


def wind_triangle(course_deg: float, air: Air) -> Triangle:
    """Return heading and ground speed on a true course.

    The heading is the course plus the wind correction angle asin(crosswind / speed). ValueError for a speed that is
    not positive.
    """
    speed = air.speed_kmh
    if not speed > 0:
        raise ValueError(f"a still-air speed of {speed} km/h leads nowhere")
    off = math.radians(turn_deg(course_deg, air.wind.from_deg))
    ahead, across = air.wind.speed_kmh * math.cos(off), air.wind.speed_kmh * math.sin(off)
    if abs(across) >= speed:
        return Triangle(
            ahead, across, None, None, f"{abs(across):.0f} km/h across are too much for {speed:.0f} km/h in still air"
        )
    correction = math.asin(across / speed)
    ground = speed * math.cos(correction) - ahead
    if ground <= 0:
        return Triangle(ahead, across, None, None, _against(ahead, speed))
    return Triangle(ahead, across, wrap_bearing(course_deg + math.degrees(correction)), ground)


def ground_speeds_kmh(courses_deg: Floats, air: Air) -> Floats:
    """Return the ground speeds on many true courses, as `wind_triangle` has them one by one; 0 where none is held."""
    import numpy as np

    off = np.radians(courses_deg - air.wind.from_deg)
    ahead, across = air.wind.speed_kmh * np.cos(off), air.wind.speed_kmh * np.sin(off)
    forward = np.sqrt(np.maximum(air.speed_kmh**2 - across**2, 0.0)) - ahead
    ground: Floats = np.where(np.abs(across) < air.speed_kmh, np.maximum(forward, 0.0), 0.0)
    return ground


def _against(ahead_kmh: float, speed_kmh: float) -> str:
    return f"{ahead_kmh:.0f} km/h from ahead leave no way to go with {speed_kmh:.0f} km/h in still air"


def fly_leg(a: Position, b: Position, air: Air, *, off_start_m: float = 0.0, off_end_m: float = 0.0) -> LegFlown:
    """Return how long the geodesic from `a` to `b` takes in the wind, its course turning on the way as it does.

    `off_start_m` and `off_end_m` are not flown: the leg begins at the edge of a zone or ends there. A leg of which
    nothing is left takes no time. The wind is the same, from the same true bearing, all along the leg.
    """
    line = inverse(a, b)
    flown_m = line.distance_m - off_start_m - off_end_m
    if line.bearing_deg is None or flown_m <= 0:
        return LegFlown(0.0, 0.0, None, None, None, None)
    pieces = 2 * max(1, math.ceil(flown_m / _STEP_M / 2))
    triangles = [
        wind_triangle(destination_and_course(a, line.bearing_deg, off_start_m + flown_m * n / pieces)[1], air)
        for n in range(pieces + 1)
    ]
    middle = triangles[pieces // 2]
    reason = next((t.reason for t in triangles if t.reason is not None), None)
    if reason is None:
        time_s = _simpson([3.6 / (t.ground_kmh or 1.0) for t in triangles], flown_m)
        if time_s <= LONGEST_S:
            ground = flown_m * 3.6 / time_s
            return LegFlown(flown_m, time_s, ground, middle.heading_deg, middle.headwind_kmh, middle.crosswind_kmh)
        reason = "it would take more than a day: " + _against(middle.headwind_kmh, air.speed_kmh)
    return LegFlown(flown_m, None, None, None, middle.headwind_kmh, middle.crosswind_kmh, reason)


def _simpson(paces: list[float], length_m: float) -> float:
    """Return the integral over equal steps, an even number of them (Simpson's rule)."""
    weights = [1, *([4, 2] * (len(paces) // 2 - 1)), 4, 1]
    return math.fsum(w * pace for w, pace in zip(weights, paces, strict=True)) * length_m / (3 * (len(paces) - 1))
