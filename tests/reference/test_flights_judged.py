"""Flights against the judge that looks at 400 steps of each piece: random tasks, zones, ways, gaps and spoilt fixes.

Times agree within 1 s, distances within 0.1 m.
"""

from __future__ import annotations

import io
import random
from dataclasses import replace

import pytest

from taskdb.core.flights.flown import fly
from taskdb.core.flights.pieces import Pieces
from taskdb.core.flights.visits import Visits
from taskdb.core.model import Task, TaskType
from taskdb.formats.registry import read_flight
from tests.building import task
from tests.flying import GEOD, Fix, Spot, Way, away, log
from tests.reference.flight_judge import Judged

STARTS = (
    "line 2km",
    "line 5km",
    "cylinder 1km",
    "cylinder 3km",
    "sector 90deg 2km",
    "keyhole 500m 90deg 2km",
    "area 1km..2km 0..359",
)
TURNS = (
    "cylinder 500m", "cylinder 1500m", "sector 90deg 3km", "sector 90deg", "keyhole 500m 90deg 5km",
    "area 3km", "area 2km..5km", "area 500m..4km 100..300", "line 3km 40", "sector 300deg 2km 10",
)  # fmt: skip
AREAS = ("area 3km", "area 6km", "area 1km..5km", "area 500m..6km 20..250", "area 4km 300..120")
FINISHES = ("line 2km", "cylinder 1km", "cylinder 3km", "sector 180deg 2km", "keyhole 500m 90deg 2km")


def a_course(source: random.Random) -> tuple[Task, list[Spot]]:
    latitude, longitude = source.choice([(48.0, 11.0), (-33.0, 150.0), (60.0, 179.95), (68.0, -179.98), (2.0, -70.0)])
    home = (latitude, longitude)
    count = source.randrange(1, 4)
    first = source.uniform(0, 360)
    turns = [away(home, first + n * source.uniform(60, 140), source.uniform(8_000, 14_000)) for n in range(count)]
    has_areas = source.random() < 0.5
    kinds = [source.choice(AREAS if has_areas else TURNS) for _ in turns]
    stops = [(home, source.choice(STARTS)), *zip(turns, kinds, strict=True), (home, source.choice(FINISHES))]
    kind = TaskType.ASSIGNED_AREA if has_areas else TaskType.RACING
    return task(*stops, type=kind, time_s=source.choice([None, 600, 3600])), turns


def a_way(source: random.Random, made: Task, turns: list[Spot]) -> Way:
    """Return a way round most of the course: one to three starts, circles, near the turns or a little beside them."""
    home = made.points[0].place.position.latitude_deg, made.points[0].place.position.longitude_deg
    course = azimuth(home, turns[0])
    way = Way(away(home, course + 180, 4_000), source.choice([36_000.0, 86_000.0])).stand(60)
    for _ in range(source.randrange(1, 4)):
        way.to(away(home, course + 180, 1_500), 30).to(away(home, course + source.uniform(-20, 20), 3_500), 30)
        if source.random() < 0.5:
            way.circle(2, 150, 25, (20.0, 10.0))
    for turn in turns[: source.choice([len(turns), len(turns), len(turns) - 1])]:
        way.to(away(turn, source.uniform(0, 360), source.choice([0, 300, 490, 700, 2_500])), source.uniform(20, 50))
        if source.random() < 0.6:
            way.circle(source.randrange(1, 4), source.uniform(80, 400), 25, (source.uniform(-50, 50), 40.0))
    if source.random() < 0.85:
        way.to(away(home, source.uniform(0, 360), source.uniform(0, 400)), 35)
    way.along(source.uniform(0, 360), source.uniform(500, 3_000), 30)
    return way


def azimuth(a: Spot, b: Spot) -> float:
    return float(GEOD.inv(a[1], a[0], b[1], b[0])[0])


def recorded(source: random.Random, way: Way) -> bytes:
    """Return the log of a way: an interval of 1 to 10 s, and at times gaps, invalid fixes and a clock that steps."""
    fixes = way.fixes(source.choice([1.0, 2.0, 4.0, 5.0, 7.0, 10.0]), source.random())
    if source.random() < 0.4:
        for _ in range(source.randrange(1, 4)):
            at, long = source.choice(fixes).time_s, source.uniform(20, 100)
            fixes = [fix for fix in fixes if not at < fix.time_s < at + long]
    if source.random() < 0.4:
        fixes = [replace(fix, validity="V") if source.random() < 0.05 else fix for fix in fixes]
    if source.random() < 0.3:
        step = source.randrange(len(fixes))
        fixes = [fix if n < step else replace(fix, time_s=fix.time_s - 30) for n, fix in enumerate(fixes)]
    if source.random() < 0.3:
        fixes.insert(source.randrange(len(fixes)), Fix(fixes[0].time_s, 0.0, 0.0))
    return log(fixes)


def hold_against_the_judge(seed: int) -> str:
    source = random.Random(seed)
    made, turns = a_course(source)
    content = recorded(source, a_way(source, made, turns))
    found = fly(made, Visits(Pieces.of(read_flight(io.BytesIO(content)).track)))
    judged = Judged(made, content).result()
    assert found.starts == judged["starts"]
    assert found.distance_m == pytest.approx(judged["distance_m"], abs=0.1)
    if not found.starts:
        return "not started"
    assert found.start_s == pytest.approx(judged["start_s"], abs=1.0)
    times = [zone.at_s for zone in found.zones if zone.at_s is not None]
    assert times == pytest.approx(judged["zones"], abs=1.0)
    assert found.is_finished == (judged["finish_s"] is not None)
    if not found.is_finished:
        return "unfinished"
    assert found.finish_s == pytest.approx(judged["finish_s"], abs=1.0)
    assert found.speed_kmh == pytest.approx(judged["speed_kmh"], rel=1e-3)
    return "areas" if found.credited else "finished"


@pytest.mark.slow
def test_random_flights_are_what_the_judge_sees() -> None:
    assert {hold_against_the_judge(seed) for seed in range(10)} == {"finished", "unfinished", "areas"}


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(10, 60))
def test_a_random_flight_is_what_the_judge_sees(seed: int) -> None:
    assert hold_against_the_judge(seed)
