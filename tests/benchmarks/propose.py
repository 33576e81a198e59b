"""The search for courses: how fast against F, the time of 100,000 vectorised geodesics in the same run, and how large.

Run: python -m tests.benchmarks.propose [CASE]     (1 to 5; each in a process of its own tells its own memory)

Goals: 1,000 points, 290 to 310 km, home on a side within 5 km: 5 F; 3,000 points, home at a corner: 6 F and 400 MB.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import time

import numpy as np
from pyproj import Geod

from taskdb.core.kinds import HomeAt, ProposedShape
from taskdb.core.model import Position
from taskdb.core.proposing.search import courses
from taskdb.core.proposing.wanted import Wanted

GEOD = Geod(ellps="WGS84")
HOME = Position(48.0, 10.0)
FAI, ROUND = ProposedShape.FAI_TRIANGLE, ProposedShape.QUADRILATERAL
CASES = (
    ("FAI triangles, home on a side, 1,000 points, 290–310 km", 1000, Wanted(FAI, 290e3, 310e3, HomeAt.SIDE)),
    ("FAI triangles, home a corner, 3,000 points, 290–310 km", 3000, Wanted(FAI, 290e3, 310e3)),
    ("FAI triangles, home on a side, 3,000 points, 290–310 km", 3000, Wanted(FAI, 290e3, 310e3, HomeAt.SIDE)),
    ("three turn points, 1,000 points, 500–520 km", 1000, Wanted(ROUND, 500e3, 520e3)),
    ("FAI triangles, home on a side, 1,000 points, 700–800 km", 1000, Wanted(FAI, 700e3, 800e3, HomeAt.SIDE)),
)


def floor_s() -> float:
    points = np.random.default_rng(1).uniform(-60, 60, (4, 100_000))
    times = []
    for _ in range(5):
        began = time.process_time()
        GEOD.inv(*points)
        times.append(time.process_time() - began)
    return statistics.median(times)


def scattered(count: int, reach_m: float) -> list[Position]:
    """Return places spread evenly over a disc round home; the same ones in every run."""
    rng = np.random.default_rng(7)
    reach, azimuth = reach_m * np.sqrt(rng.random(count)), rng.uniform(0, 360, count)
    home = np.ones(count)
    longitude, latitude, _ = GEOD.fwd(HOME.longitude_deg * home, HOME.latitude_deg * home, azimuth, reach)
    return [Position.at(float(y), float(x)) for x, y in zip(longitude, latitude, strict=True)]


def run(number: int) -> None:
    name, count, wanted = CASES[number - 1]
    places = scattered(count, 0.5 * wanted.most_m)
    list(courses(places[:50], HOME, wanted))
    floor = floor_s()
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    times, found = [], 0
    for _ in range(3):
        began = time.process_time()
        found = sum(len(block) for block in courses(places, HOME, wanted))
        times.append(time.process_time() - began)
    floor = statistics.median([floor, floor_s()])
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    took = statistics.median(times)
    print(
        f"{name}: {found:,} in {took:.3f} s, {took / floor:.2f} F (F {1000 * floor:.0f} ms); "
        f"{most / 1024:.0f} MB, {(most - before) / 1024:.0f} of it for the search"
    )


def main() -> int:
    if len(sys.argv) > 1:
        run(int(sys.argv[1]))
        return 0
    for number in range(1, len(CASES) + 1):
        subprocess.run([sys.executable, "-m", "tests.benchmarks.propose", str(number)], check=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
