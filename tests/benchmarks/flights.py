"""Flight logs: how fast they are read and held against tasks, against F, and how much memory that takes.

Run: python -m tests.benchmarks.flights [LOGS]     (100 unless told otherwise)

F is the time of 100,000 vectorised geodesics in the same run. Goal: 100 logs of 20,000 fixes, each against a racing
task and an area task, within 80 F and 300 MB.
"""

from __future__ import annotations

import io
import random
import resource
import statistics
import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np
from pyproj import Geod

from taskdb.core.flights.which_task import read_flown
from taskdb.core.model import TaskType
from taskdb.formats.registry import read_flight
from tests.building import task
from tests.flying import Way, away, log

HOME, TURNS = (48.0, 11.0), ((48.7, 11.4), (48.3, 12.6), (47.8, 12.0))


def seconds(work: Callable[[], Any]) -> float:
    began = time.process_time()
    work()
    return time.process_time() - began


def floor_s() -> float:
    points = np.random.default_rng(1).uniform(-60, 60, (4, 100_000))
    return statistics.median(seconds(lambda: Geod(ellps="WGS84").inv(*points)) for _ in range(5))


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


def main() -> int:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    source = random.Random(11)
    logs = [a_flight(source) for _ in range(5)]
    line = ("line 10km", "cylinder 500m", "cylinder 500m", "keyhole 500m 90deg 10km", "cylinder 3km")
    area = ("line 10km", "area 25km", "area 20km", "area 5km..15km", "cylinder 3km")
    places = (HOME, *TURNS, HOME)
    tasks = [
        task(*zip(places, line, strict=True), name="racing"),
        task(*zip(places, area, strict=True), type=TaskType.ASSIGNED_AREA, time_s=3 * 3600, name="areas"),
    ]
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    f = floor_s()
    reading = statistics.median(seconds(lambda: read_flight(io.BytesIO(logs[0]))) for _ in range(5))
    held = [read_flight(io.BytesIO(content)) for content in logs]
    one = {
        t.name: statistics.median(seconds(lambda t=t: read_flown(held[0], [t])) for _ in range(5))  # type: ignore[misc]
        for t in tasks
    }
    found: list[Any] = []

    def all_of_them() -> None:
        found[:] = [read_flown(read_flight(io.BytesIO(logs[n % len(logs)])), tasks) for n in range(count)]

    whole = seconds(all_of_them)
    f = statistics.median([f, floor_s()])
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    sizes = sorted(len(one.track) for one in held)
    done = sum(flight.flown is not None and flight.flown.is_finished for flight in found)
    print(f"F: {1000 * f:.1f} ms; logs of {sizes[0]:,} to {sizes[-1]:,} fixes; {done} of {count} finished a task")
    print(f"reading one log            {reading / f:6.2f} F   {1000 * reading:.1f} ms")
    for name, took in one.items():
        print(f"one log against {name:8s}   {took / f:6.2f} F   {1000 * took:.1f} ms")
    print(f"{count} logs against two tasks {whole / f:6.1f} F   {whole:.2f} s, {grown:.0f} MB more than before")
    return 0


if __name__ == "__main__":
    sys.exit(main())
