"""The review's speeds are averages in still air: its times against flights simulated in steps, and a hand's sums."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import pytest

from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.course.measure import measure_course
from taskdb.core.course.schedule import Extent, flight_over
from taskdb.core.course.wind import Air, SpeedRange
from taskdb.core.model import Finding
from taskdb.core.quantities import Wind
from taskdb.core.review.rule import Reviewed
from taskdb.core.review.rules import run_review
from taskdb.core.review.rules.speeds_out_of_range import RULE
from tests.reference.test_wind_flown import simulate
from tests.unit.review_examples import AREAS, ROUND, day, task

SLOW, FAST = 60.0, 110.0
CLUB = SpeedRange(SLOW, FAST, "class Club")
WINDS = [Wind(240, 27.78), Wind(0, 20), Wind(90, 35), Wind(135, 40), Wind(310, 15), Wind(200, 50), Wind(270, 10)]


def review(words: str, kind: str, wind: Wind | None, time_s: int) -> tuple[Reviewed, list[Finding]]:
    made = task(words, kind, time_s=time_s)
    sheet = None if wind is None else day(made, air=Air(80, wind))
    given = Reviewed(made, measure_course(made), fingerprint(made), speeds=CLUB, day=sheet)
    return given, list(run_review(given, [RULE]))


def flown_s(path: Any, speed_kmh: float, wind: Wind) -> float:
    """Seconds over a path, each leg simulated in steps of at most ten seconds: no wind triangle is solved."""
    return math.fsum(simulate(a, b, ((speed_kmh, 10.0),), wind) for a, b in pairwise(path))


@pytest.mark.parametrize("wind", WINDS, ids=lambda wind: f"{wind.from_deg:.0f}/{wind.speed_kmh:.0f}")
@pytest.mark.parametrize(("words", "kind"), [(ROUND, "racing"), (AREAS, "assigned-area")])
def test_a_verdict_turns_where_the_simulated_flight_says_so(words: str, kind: str, wind: Wind) -> None:
    # An independent check: the flight is stepped with geographiclib, steered by halving (tests/reference/
    # test_wind_flown.py), and never sees the code that solves wind triangles. Lines at start and finish: nothing is
    # taken off. A twentieth of a percent on either side of the simulated time the verdict is the other one.
    given, _ = review(words, kind, wind, 9000)
    distances = given.course.distances
    path = distances.minimum_at if kind == "assigned-area" else [point.place.position for point in given.task.points]
    needed = flown_s(path, SLOW, wind)
    calm = (distances.minimum_m if kind == "assigned-area" else distances.task_m) or 0.0
    assert needed > calm * 3.6 / SLOW * 1.005, "a wind that would not tell the ground from the air"
    for factor, is_short in ((0.9995, True), (1.0005, False)):
        _, found = review(words, kind, wind, round(needed * factor))
        told = [one for one in found if "slowest" in one.message]
        # Of areas a minimum time must not be shorter than the slowest need, of a racing task not longer.
        assert bool(told) == (is_short if kind == "assigned-area" else not is_short), [one.message for one in found]
        assert not told or told[0].evidence["needed_s"] == pytest.approx(needed, rel=5e-4)


def test_the_fastest_are_flown_in_the_same_wind() -> None:
    wind = Wind(200, 50)
    given, _ = review(ROUND, "racing", wind, 9000)
    needed = flown_s([point.place.position for point in given.task.points], FAST, wind)
    for factor, is_told in ((0.999, True), (1.001, False)):
        _, found = review(ROUND, "racing", wind, round(needed * factor))
        assert bool([one for one in found if "fastest" in one.message]) == is_told


def test_out_and_back_along_a_meridian_by_hand() -> None:
    # By hand: north at 60 km/h against 20 km/h makes 40 km/h over the ground, back 80 km/h: 60 km take 1:30 and 0:45,
    # together 2:15 and not the 2:00 of calm air.
    made = task("HOME line 1km; N60 cylinder 500m; HOME line 1km")
    course = measure_course(made)
    leg_km = course.legs[0].distance_m / 1000
    flight = flight_over(made, course, Air(60, Wind(0, 20)), Extent.TASK)
    assert flight is not None and flight.time_s is not None
    assert flight.time_s == pytest.approx((leg_km / 40 + leg_km / 80) * 3600, rel=2e-4)
    _, found = review(
        "HOME line 1km; N60 cylinder 500m; HOME line 1km", "racing", Wind(0, 20), round(leg_km / 60 * 7200)
    )
    assert found == [], "the time of calm air is none that is too long in the wind"


def test_in_calm_air_the_figures_are_those_of_the_distance() -> None:
    given, found = review(ROUND, "racing", None, 4 * 3600)
    assert found[0].evidence["needed_s"] == pytest.approx(given.course.distances.task_m * 3.6 / SLOW, abs=0.2)
    assert found[0].evidence["wind"] is None
