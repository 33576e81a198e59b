"""Sun in the eyes: angles against plain vectors, and the times of a day against a look at every minute."""

from __future__ import annotations

import math
import random

import pytest

from taskdb.core.judgement.glare import SunPosition, degrees_off_sun, glare
from tests.unit.review_examples import setting_sun

SEED = 20271201


def direction(azimuth_deg: float, elevation_deg: float) -> tuple[float, float, float]:
    azimuth, elevation = math.radians(azimuth_deg), math.radians(elevation_deg)
    flat = math.cos(elevation)
    return (flat * math.sin(azimuth), flat * math.cos(azimuth), math.sin(elevation))


def by_cross_product(course_deg: float, sun: SunPosition) -> float:
    """The judge: the angle between two vectors by their cross product, which the code does not use."""
    (a, b, c), (d, e, f) = direction(course_deg, 0.0), direction(sun.azimuth_deg, sun.elevation_deg)
    cross = math.hypot(b * f - c * e, c * d - a * f, a * e - b * d)
    return math.degrees(math.atan2(cross, a * d + b * e + c * f))


def test_the_angle_is_that_between_two_directions_in_space() -> None:
    draw = random.Random(SEED)
    for _ in range(500):
        sun = SunPosition(draw.uniform(0, 360), draw.uniform(0, 90))
        course = draw.uniform(0, 360)
        assert degrees_off_sun(course, sun) == pytest.approx(by_cross_product(course, sun), abs=1e-5)


@pytest.mark.parametrize(
    ("course_deg", "azimuth_deg", "elevation_deg", "off_deg"),
    [(270, 270, 0, 0), (350, 10, 0, 20), (90, 270, 0, 180), (270, 270, 30, 30), (180, 270, 0, 90), (0, 123, 90, 90)],
)
def test_angles_that_can_be_seen_without_a_formula(
    course_deg: float, azimuth_deg: float, elevation_deg: float, off_deg: float
) -> None:
    assert degrees_off_sun(course_deg, SunPosition(azimuth_deg, elevation_deg)) == pytest.approx(off_deg, abs=1e-5)


@pytest.mark.parametrize(("elevation_deg", "is_seen"), [(0.0, True), (-0.26, True), (-0.27, False), (-40.0, False)])
def test_a_sun_whose_upper_edge_is_down_dazzles_nobody(elevation_deg: float, is_seen: bool) -> None:
    assert (degrees_off_sun(270, SunPosition(270, elevation_deg)) is not None) is is_seen


def every_minute(courses: list[float], begin: float, end: float, within_deg: float) -> list[int]:
    hits = []
    for minute in range(24 * 60 + 600):
        if not begin <= minute <= end:
            continue
        sun = setting_sun(minute)
        if sun.elevation_deg >= -16 / 60 and min(by_cross_product(one, sun) for one in courses) <= within_deg:
            hits.append(minute)
    return hits


def test_the_times_are_those_of_a_look_at_every_minute() -> None:
    draw = random.Random(SEED + 1)
    told = 0
    for _ in range(150):
        courses = [draw.uniform(225, 300) for _ in range(draw.choice((1, 3)))]
        begin = draw.uniform(900, 1150)
        end, within = begin + draw.uniform(0, 150), draw.uniform(10, 30)
        found, hits = glare(courses, begin, end, setting_sun, within), every_minute(courses, begin, end, within)
        if found is None:
            # Looks are five minutes apart: what is shorter than that may be passed over.
            assert len(hits) < 5
            continue
        told += 1
        assert (found.from_min, found.to_min) == (hits[0], hits[-1])
        assert found.from_min <= found.worst_min <= found.to_min
        assert found.off_deg <= within and found.course_true_deg in courses
    assert told > 40


def test_no_time_between_two_times_is_no_glare() -> None:
    assert glare([270.0], 1080.2, 1080.8, setting_sun, 90) is None
    assert glare([270.0], 1080.0, 1080.0, setting_sun, 90) is not None
    assert glare([], 1000.0, 1100.0, setting_sun, 90) is None
