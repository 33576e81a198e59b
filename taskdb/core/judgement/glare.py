"""Sun in the eyes: how far a true course lies off the sun, and for how long of a day it does so by less than a limit.

Where the sun stands is looked up elsewhere and comes in as a value. Clouds, hills and canopies are not known here.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

SEMIDIAMETER_DEG = 16 / 60
"""Half of the sun's disc (USNO, Almanac for Computers, 1990): with its centre lower than this it is not seen."""

_STEP_MIN = 5
"""The sun moves by little more than a degree in it; the times that are told are whole minutes all the same."""


@dataclass(frozen=True, slots=True)
class SunPosition:
    """Where the sun's centre is seen: true azimuth, 0 ≤ x < 360, and elevation with refraction, degrees."""

    azimuth_deg: float
    elevation_deg: float


SunAt = Callable[[float], SunPosition]
"""The sun at one place, so many minutes after local midnight of the day."""


@dataclass(frozen=True, slots=True)
class Glare:
    """When the sun is in the eyes, minutes after midnight, and its worst: the smallest angle off the course."""

    from_min: int
    to_min: int
    worst_min: int
    off_deg: float
    course_true_deg: float
    sun: SunPosition


def degrees_off_sun(course_true_deg: float, sun: SunPosition) -> float | None:
    """Return the angle between a level course and the sun's centre, 0 to 180 degrees; None where the sun is down.

    It is the angle on the sky, cos = cos(elevation) · cos(azimuth - course): a sun straight ahead that stands 30° high
    is 30° off.
    """
    if sun.elevation_deg < -SEMIDIAMETER_DEG:
        return None
    beside = math.radians(sun.azimuth_deg - course_true_deg)
    return math.degrees(math.acos(max(-1.0, min(1.0, math.cos(math.radians(sun.elevation_deg)) * math.cos(beside)))))


def glare(
    courses_true_deg: Sequence[float], from_min: float, to_min: float, sun_at: SunAt, within_deg: float
) -> Glare | None:
    """Return when the sun is seen within an angle of the nearest of some courses, between two times; None for never.

    Minutes after midnight, looked at every five minutes, both ends too, the ends of what is found to the minute. Where
    it is so more than once, it is told from the first to the last.
    """
    first, last = math.ceil(from_min), math.floor(to_min)

    def off(minute: int) -> float:
        sun = sun_at(minute)
        seen = (degrees_off_sun(course, sun) for course in courses_true_deg)
        return min((angle for angle in seen if angle is not None), default=math.inf)

    looked = {
        minute: off(minute) for minute in {*range(first, last + 1, _STEP_MIN), *([last] if last >= first else [])}
    }
    inside = [minute for minute, angle in looked.items() if angle <= within_deg]
    if not inside:
        return None
    begin, end = min(inside), max(inside)
    while begin > first and off(begin - 1) <= within_deg:
        begin -= 1
    while end < last and off(end + 1) <= within_deg:
        end += 1
    worst = min(inside, key=lambda minute: (looked[minute], minute))
    sun = sun_at(worst)
    course = min(courses_true_deg, key=lambda one: degrees_off_sun(one, sun) or 0.0)
    return Glare(begin, end, worst, looked[worst], course, sun)
