"""The search for courses: how fast against F, the time of 100,000 vectorised geodesics in the same run, and how large.

Run: python -m tests.benchmarks.propose     (each case in a process of its own, for its own memory)

Goals: 1,000 points, 290 to 310 km, home on a side within 5 km: 5 F; 3,000 points, home at a corner: 6 F and 400 MB.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
from dataclasses import asdict

import numpy as np
from pyproj import Geod

from taskdb.core.kinds import HomeAt, ProposedShape
from taskdb.core.model import Position
from taskdb.core.proposing.search import courses
from taskdb.core.proposing.wanted import Wanted
from tests.benchmarks.figures import F, Figure, geodesics_s, median_s, peak_mb, told

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
GOALS = {0: (5, None), 1: (6, 400)}


def scattered(count: int, reach_m: float) -> list[Position]:
    """Return places spread evenly over a disc round home; the same ones in every run."""
    rng = np.random.default_rng(7)
    reach, azimuth = reach_m * np.sqrt(rng.random(count)), rng.uniform(0, 360, count)
    home = np.ones(count)
    longitude, latitude, _ = GEOD.fwd(HOME.longitude_deg * home, HOME.latitude_deg * home, azimuth, reach)
    return [Position.at(float(y), float(x)) for x, y in zip(longitude, latitude, strict=True)]


def measured(number: int) -> list[Figure]:
    """Measure one case: its memory is this process's, so that each has one of its own."""
    name, count, wanted = CASES[number]
    places = scattered(count, 0.5 * wanted.most_m)
    list(courses(places[:50], HOME, wanted))
    floor, found = geodesics_s(), [0]

    def search() -> None:
        found[0] = sum(len(block) for block in courses(places, HOME, wanted))

    took = median_s(search, 3)
    floor = statistics.median([floor, geodesics_s()])
    time_goal, memory_goal = GOALS.get(number, (None, None))
    return [
        Figure(f"{name} ({found[0]:,} found)", took, "s", F, floor, time_goal),
        Figure("memory of that process", peak_mb(), "MB", goal=memory_goal),
    ]


def figures() -> list[Figure]:
    made = []
    for number in range(len(CASES)):
        line = [sys.executable, "-m", "tests.benchmarks.propose", "--one", str(number)]
        said = subprocess.run(line, check=True, stdout=subprocess.PIPE, text=True).stdout
        made += [Figure(**one) for one in json.loads(said)]
    return made


if __name__ == "__main__":
    if sys.argv[1:2] == ["--one"]:
        print(json.dumps([asdict(one) for one in measured(int(sys.argv[2]))]))
    else:
        told(figures())
