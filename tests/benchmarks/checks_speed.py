"""Print how long near pairs and counterparts take, as ratios against floors measured in the same run.

Run `python -m tests.benchmarks.checks_speed`. Floors: scipy's cKDTree.query_pairs on the same points; the near match
of two catalogues alone (arrays from waypoints, nearest within 300 m both ways).
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np
from scipy.spatial import cKDTree

from taskdb.core.checks.counterparts import find_counterparts
from taskdb.core.checks.given import CheckInput, Reference
from taskdb.core.checks.rules import run_checks
from taskdb.core.matching.points import Points, near_pairs, nearest_m
from taskdb.core.model import Position
from taskdb.reference.airports import load_airports
from taskdb.reference.outlines import load_elevation_grid, load_outlines
from tests.benchmarks.checks_seasons import make_season
from tests.benchmarks.figures import F, Figure, geodesics_s, median_s, peak_mb, told

WHY_SLIPS = "half of it: 300 slips, digit by digit; a fifth: one walk over both lists"


def pairs(count: int) -> list[Figure]:
    """Near pairs of points spread over central Europe, by a tree that is built already and by building one."""
    random = np.random.default_rng(1)
    latitude = np.round(random.uniform(40, 55, count) * 1e7).astype(np.int64)
    longitude = np.round(random.uniform(-5, 20, count) * 1e7).astype(np.int64)
    points = Points.at(latitude, longitude)
    before = peak_mb()
    ours = median_s(lambda: near_pairs(points, 250.0), 3)
    extra = peak_mb() - before
    found = len(near_pairs(points, 250.0).first)
    centred = points.centred_m
    built = cKDTree(centred)
    theirs = len(built.query_pairs(250.0, output_type="ndarray"))
    assert abs(found - theirs) <= 2, "the chord is a millimetre shorter than the geodesic, and no more"
    asked = median_s(lambda: built.query_pairs(250.0, output_type="ndarray"), 3)
    made = median_s(lambda: cKDTree(centred).query_pairs(250.0, output_type="ndarray"), 3)
    what = f"pairs within 250 m of {count:,} points"
    return [
        Figure(what, ours, floor="cKDTree.query_pairs", floor_figure=asked, goal=1.5),
        Figure(what, ours, floor="the same with building the tree", floor_figure=made),
        Figure(f"{what}, memory above the points", extra, "MB", goal=250),
    ]


def counterparts() -> list[Figure]:
    """This season against last, 300 of 30,000 moved and renamed, by the near match alone; and all renamed."""
    before = load_airports()
    now = list(before)
    for number in range(0, len(now), 100):
        place = now[number].position
        if abs(place.latitude_deg) < 88:
            now[number] = replace(
                now[number], position=Position.at(place.latitude_deg + 1, place.longitude_deg), name=f"renamed {number}"
            )
    reference = Reference("last@1", "set", before)

    def near_match() -> None:
        mine, theirs = Points.of([w.position for w in now]), Points.of([w.position for w in before])
        nearest_m(mine, theirs, 300.0)
        nearest_m(theirs, mine, 300.0)

    floor = median_s(near_match, 5)
    ours = median_s(lambda: find_counterparts(reference, now), 5)
    renamed = [replace(w, code=f"N{k}", name=f"place {k}") for k, w in enumerate(now)]
    all_new = median_s(lambda: find_counterparts(reference, renamed), 1)
    what, near = f"counterparts of {len(now):,} in {len(before):,}", "near match alone"
    return [
        Figure(
            what,
            ours,
            floor=near,
            floor_figure=floor,
            goal=3,
            why=WHY_SLIPS,
        ),
        Figure(f"{what}, all codes and names changed", all_new, floor=near, floor_figure=floor),
    ]


def all_rules() -> list[Figure]:
    """All rules over one region's season, against the last one."""
    season = make_season("US middle west", 1, 20)
    given = CheckInput(
        "set", 1, tuple(season.now), (Reference("last@1", "set", tuple(season.before)),),
        outlines=load_outlines(), elevation=load_elevation_grid(),
    )  # fmt: skip
    what = f"all rules over {len(season.now)} points with a reference"
    return [Figure(what, median_s(lambda: run_checks(given), 3), floor=F, floor_figure=geodesics_s())]


def figures(count: int = 1_000_000) -> list[Figure]:
    """Measure near pairs, counterparts and all rules."""
    return [*pairs(count), *counterparts(), *all_rules()]


if __name__ == "__main__":
    told(figures(*map(int, sys.argv[1:])))
