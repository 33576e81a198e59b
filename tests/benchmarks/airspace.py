"""Airspace: how fast against F, the time of 100,000 vectorised geodesics in the same run, and how right.

Run: python -m tests.benchmarks.airspace [TASKS] [VOLUMES]     (200 and 500 unless told otherwise)

Goals: 200 tasks against 500 volumes within 15 F without further libraries, 8 F where shapely is installed (it is not
used: see the first line of what is printed).
"""

from __future__ import annotations

import random
import resource
import statistics
import sys
import time
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from pyproj import Geod

from taskdb.core.airspace.crossing import passages
from taskdb.core.airspace.ground import lay_out
from taskdb.core.airspace.sharing import share_of_zone
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import Position
from tests.reference.airspaces import as_shape, random_volume

GEOD = Geod(ellps="WGS84")


def seconds(work: Callable[[], Any]) -> float:
    began = time.process_time()
    work()
    return time.process_time() - began


def floor_s() -> float:
    points = np.random.default_rng(1).uniform(-60, 60, (4, 100_000))
    return statistics.median(seconds(lambda: GEOD.inv(*points)) for _ in range(5))


def by_tree(legs: list[tuple[Position, Position]], shapes: list[Any]) -> int:
    """Do the same with the other library: pieces of 2 km, a tree over the polygons, intersections (without ends)."""
    lines = []
    for a, b in legs:
        azimuth, _, length = GEOD.inv(a.longitude_deg, a.latitude_deg, b.longitude_deg, b.latitude_deg)
        along = np.linspace(0, length, max(2, int(length / 2000) + 2))
        n = np.ones(len(along))
        x, y, _ = GEOD.fwd(a.longitude_deg * n, a.latitude_deg * n, azimuth * n, along)
        lines.append(shapely.linestrings(x, y))
    array = np.array(lines)
    leg, shape = shapely.STRtree(shapes).query(array, predicate="intersects")
    met = shapely.intersection(array[leg], np.array(shapes)[shape])
    return int(np.count_nonzero(shapely.length(met) > 0))


def main() -> int:
    tasks = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 500
    rng = random.Random(5)
    volumes = tuple(
        random_volume(rng, f"V{n}", rng.uniform(8, 13), rng.uniform(46, 50), rng.uniform(0.05, 0.4))
        for n in range(count)
    )
    legs = []
    for _ in range(tasks):
        corners = [Position.at(rng.uniform(46.5, 49.5), rng.uniform(8.5, 12.5)) for _ in range(4)]
        legs += list(pairwise([*corners, corners[0]]))
    f = floor_s()
    passages(legs[:4], volumes)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    lay_out.cache_clear()
    laid = seconds(lambda: lay_out(volumes))
    found: list[Any] = []
    run = statistics.median(seconds(lambda: found.append(passages(legs, volumes))) for _ in range(3))
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
    shapes = [as_shape(volume) for volume in volumes]
    told: list[int] = []
    tree = statistics.median(seconds(lambda: told.append(by_tree(legs, shapes))) for _ in range(3))
    ours = sum(len(one) for one in found[0])
    edges = lay_out(volumes).edges.shape[1]
    f = statistics.median([f, floor_s()])
    print(f"F: {1000 * f:.1f} ms; {tasks} tasks ({len(legs)} legs) against {count} volumes ({edges:,} edges)")
    print(f"laying out the volumes     {laid / f:6.2f} F")
    print(f"stretches, numpy alone     {run / f:6.2f} F   {ours:,} passages, {grown:.0f} MB more than before")
    print(f"an STRtree of shapely      {tree / f:6.2f} F   {told[0]:,} passages, no ends in metres")
    one = seconds(lambda: [passages(legs[n : n + 4], volumes) for n in range(0, 80, 4)]) / 20
    print(f"one task alone             {one / f:6.3f} F   {1000 * one:.1f} ms")
    zone = parse_zone("area 20km")
    share = seconds(lambda: [share_of_zone(zone, leg[0], volumes) for leg in legs[:20]]) / 20
    print(f"share of one area of 20 km {share / f:6.3f} F   {1000 * share:.1f} ms")
    return 0


if __name__ == "__main__":
    sys.exit(main())
