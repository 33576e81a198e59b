"""Airspace: how fast against F, the time of 100,000 vectorised geodesics in the same run, and how right.

Run: python -m tests.benchmarks.airspace [TASKS] [VOLUMES]     (200 and 500 unless told otherwise)

Goals: 200 tasks against 500 volumes within 15 F without further libraries, 8 F where shapely is installed (it is not
used: see the first line of what is printed).
"""

from __future__ import annotations

import random
import statistics
import sys
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
from tests.benchmarks.figures import F, Figure, geodesics_s, median_s, peak_mb, seconds, told
from tests.reference.airspaces import as_shape, random_volume

GEOD = Geod(ellps="WGS84")


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


def figures(tasks: int = 200, count: int = 500) -> list[Figure]:
    rng = random.Random(5)
    volumes = tuple(
        random_volume(rng, f"V{n}", rng.uniform(8, 13), rng.uniform(46, 50), rng.uniform(0.05, 0.4))
        for n in range(count)
    )
    legs = []
    for _ in range(tasks):
        corners = [Position.at(rng.uniform(46.5, 49.5), rng.uniform(8.5, 12.5)) for _ in range(4)]
        legs += list(pairwise([*corners, corners[0]]))
    f = geodesics_s()
    passages(legs[:4], volumes)
    before = peak_mb()
    lay_out.cache_clear()
    laid = seconds(lambda: lay_out(volumes))
    found: list[Any] = []
    run = median_s(lambda: found.append(passages(legs, volumes)), 3)
    grown = peak_mb() - before
    shapes = [as_shape(volume) for volume in volumes]
    by_shapely: list[int] = []
    tree = median_s(lambda: by_shapely.append(by_tree(legs, shapes)), 3)
    one = seconds(lambda: [passages(legs[n : n + 4], volumes) for n in range(0, 80, 4)]) / 20
    zone = parse_zone("area 20km")
    share = seconds(lambda: [share_of_zone(zone, leg[0], volumes) for leg in legs[:20]]) / 20
    f = statistics.median([f, geodesics_s()])
    ours = sum(len(one) for one in found[0])
    edges = lay_out(volumes).edges.shape[1]
    return [
        Figure(f"laying out {count} volumes ({edges:,} edges)", laid, "s", F, f),
        Figure(f"stretches of {tasks} tasks in {count} volumes ({ours:,})", run, "s", F, f, 15),
        Figure("memory of that", grown, "MB"),
        Figure(f"the same by shapely's STRtree ({by_shapely[0]:,}), no ends in metres", tree, "s", F, f),
        Figure("one task alone", one, "s", F, f),
        Figure("share of one area of 20 km", share, "s", F, f),
    ]


if __name__ == "__main__":
    told(figures(*map(int, sys.argv[1:])))
