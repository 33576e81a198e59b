"""Flight logs: how fast they are read and held against tasks, against F, and how much memory that takes.

Run: python -m tests.benchmarks.flights [LOGS]     (100 unless told otherwise)

F is the time of 100,000 vectorised geodesics in the same run. Goal: 100 logs of 20,000 fixes, each against a racing
task and an area task, within 80 F and 300 MB.
"""

from __future__ import annotations

import io
import random
import statistics
import sys
from typing import Any

from taskdb.core.flights.which_task import read_flown
from taskdb.core.model import TaskType
from taskdb.formats.registry import read_flight
from tests.benchmarks.figures import F, Figure, geodesics_s, median_s, peak_mb, seconds, told
from tests.building import task
from tests.flying import Way, away, log

HOME, TURNS = (48.0, 11.0), ((48.7, 11.4), (48.3, 12.6), (47.8, 12.0))


def a_flight(source: random.Random, fixes: int = 20_000) -> bytes:
    """Return a log of 1 s: half an hour on the ground, circles on every leg, some starts, a finish, and then home."""
    way = Way(away(HOME, 200, 2_500), 36_000).stand(1_200)
    for _ in range(3):
        way.to(away(HOME, 240, 1_500), 28).to(away(HOME, 60, 1_500), 30).circle(4)
    for spot in (*TURNS, HOME):
        for share in (0.2, 0.4, 0.6, 0.8):
            lat, lon = way.spots[-1]
            way.to((lat + share * (spot[0] - lat) / 2, lon + share * (spot[1] - lon) / 2), source.uniform(28, 45))
            way.circle(source.randrange(5, 12), source.uniform(90, 200), 25.0, (30.0, 40.0))
        way.to(away(spot, source.uniform(0, 360), source.uniform(0, 400)), source.uniform(28, 45))
    way.to(away(HOME, 200, 2_400), 30)
    way.stand(max(60.0, 36_000 + fixes - way.times[-1]))
    return log(way.fixes(1.0)[:fixes])


def figures(count: int = 100) -> list[Figure]:
    source = random.Random(11)
    logs = [a_flight(source) for _ in range(5)]
    line = ("line 10km", "cylinder 500m", "cylinder 500m", "keyhole 500m 90deg 10km", "cylinder 3km")
    area = ("line 10km", "area 25km", "area 20km", "area 5km..15km", "cylinder 3km")
    places = (HOME, *TURNS, HOME)
    tasks = [
        task(*zip(places, line, strict=True), name="racing"),
        task(*zip(places, area, strict=True), type=TaskType.ASSIGNED_AREA, time_s=3 * 3600, name="areas"),
    ]
    before = peak_mb()
    f = geodesics_s()
    reading = median_s(lambda: read_flight(io.BytesIO(logs[0])))
    held = [read_flight(io.BytesIO(content)) for content in logs]
    one = {t.name: median_s(lambda t=t: read_flown(held[0], [t])) for t in tasks}  # type: ignore[misc]
    found: list[Any] = []

    def all_of_them() -> None:
        found[:] = [read_flown(read_flight(io.BytesIO(logs[n % len(logs)])), tasks) for n in range(count)]

    whole = seconds(all_of_them)
    f = statistics.median([f, geodesics_s()])
    done = sum(flight.flown is not None and flight.flown.is_finished for flight in found)
    fixes = f"{max(len(one.track) for one in held):,} fixes"
    against = [Figure(f"one log of {fixes} against {name}", took, "s", F, f) for name, took in one.items()]
    return [
        Figure(f"reading one log of {fixes}", reading, "s", F, f),
        *against,
        Figure(f"{count} logs of {fixes} against two tasks ({done} finished one)", whole, "s", F, f, 80),
        Figure("memory of that", peak_mb() - before, "MB", goal=300),
    ]


if __name__ == "__main__":
    told(figures(*map(int, sys.argv[1:])))
