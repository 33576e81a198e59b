"""The sun on last legs of many courses: how far beside it they lead, at the times at which they are flown.

A flight begins when the start opens, at the planned speed in the day's wind. Where the sun stands comes in by the day's
minutes; the angle is `judgement.glare.degrees_off_sun`, here for arrays.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from taskdb.core.course.wind import Air, ground_speeds_kmh
from taskdb.core.geodesy import inverses
from taskdb.core.judgement.glare import SEMIDIAMETER_DEG, SunPosition
from taskdb.core.proposing.apart import Places
from taskdb.core.proposing.legs import Floats, Ints, LegTable, Measure

if TYPE_CHECKING:
    from taskdb.core.proposing.blocks import Block

STEP_MIN = 5
ASIDE_DEG = 180.0
"""What counts as the angle where the sun is down."""
_LOOKS = 5


class SunOnLastLegs:
    """The figure of blocks of courses: the angle between last leg and sun, the least while it is flown, degrees.

    NaN where a leg cannot be flown in the wind.
    """

    def __init__(self, places: Places, air: Air, start_min: float, sun: Sequence[SunPosition]) -> None:
        """`sun` says where the sun stands every `STEP_MIN` minutes of the day, from midnight."""
        self._start_min = start_min
        self._azimuths = np.array([one.azimuth_deg for one in sun])
        self._elevations = np.array([one.elevation_deg for one in sun])
        self._minutes = LegTable(len(places), _leg_minutes(places, air), both_ways=False)
        latitudes, longitudes = places.latitudes, places.longitudes
        home_latitudes, home_longitudes = (np.full_like(one, one[-1]) for one in (latitudes, longitudes))
        # The course with which a leg arrives at home, as the review of a task looks at it.
        self._home_courses = inverses(home_latitudes, home_longitudes, latitudes, longitudes)[0] + 180.0

    def __call__(self, block: Block) -> Floats:
        """Return the angles, degrees."""
        minutes = [self._minutes.of(*leg) for leg in block.legs()]
        is_flown = np.isfinite(np.sum(minutes, axis=0))
        minutes = [np.where(is_flown, leg, 0.0) for leg in minutes]
        begin = self._start_min + np.sum(minutes[:-1], axis=0)
        course = self._home_courses[block.turns[:, -1]]
        least = np.full(len(course), np.inf)
        for look in range(_LOOKS):
            np.minimum(least, self._off_deg(course, begin + minutes[-1] * look / (_LOOKS - 1)), out=least)
        return np.where(is_flown, least, np.nan)

    def _off_deg(self, course_deg: Floats, minute: Floats) -> Floats:
        step = np.rint(minute / STEP_MIN).astype(np.intp) % len(self._azimuths)
        elevation = self._elevations[step]
        beside = np.radians(self._azimuths[step] - course_deg)
        cosine = np.clip(np.cos(np.radians(elevation)) * np.cos(beside), -1.0, 1.0)
        return np.where(elevation < -SEMIDIAMETER_DEG, ASIDE_DEG, np.degrees(np.arccos(cosine)))


def _leg_minutes(places: Places, air: Air) -> Measure:
    def minutes(begin: Ints, end: Ints) -> Floats:
        latitudes, longitudes = places.latitudes, places.longitudes
        course, length_m = inverses(latitudes[begin], longitudes[begin], latitudes[end], longitudes[end])
        ground = ground_speeds_kmh(course, air)
        return np.where(ground > 0, length_m * 0.06 / np.maximum(ground, 1e-9), np.inf)

    return minutes
