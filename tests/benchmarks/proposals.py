"""Proposals: what weighing and choosing cost beside the search, against F; how the ten that differ score.

F is the time of 100,000 vectorised geodesics in the same run. Places, features and fields are invented.
Run: python -m tests.benchmarks.proposals [SEEDS]
"""

from __future__ import annotations

import sys

import numpy as np

from taskdb.core.geodesy import lengths_m
from taskdb.core.judgement.fields import Fields
from taskdb.core.judgement.glide import Glide
from taskdb.core.judgement.reach_grid import ReachGrid
from taskdb.core.kinds import Feature, HomeAt, Landable, ProposedShape
from taskdb.core.model import Earth, Position, Waypoint
from taskdb.core.proposing.apart import Places
from taskdb.core.proposing.blocks import Given
from taskdb.core.proposing.choosing import Shown, best_that_differ
from taskdb.core.proposing.criteria import weights_with
from taskdb.core.proposing.judging import Judge
from taskdb.core.proposing.legs import LegTable
from taskdb.core.proposing.search import courses
from taskdb.core.proposing.wanted import Wanted
from taskdb.core.quantities import Wind
from tests.benchmarks.figures import F, Figure, geodesics_s, seconds, told
from tests.benchmarks.propose import HOME, scattered

FAI, ROUND, BACK = ProposedShape.FAI_TRIANGLE, ProposedShape.QUADRILATERAL, ProposedShape.OUT_AND_RETURN
CASES = (
    ("FAI triangles, home on a side, 1,000 points", 1000, Wanted(FAI, 290e3, 310e3, HomeAt.SIDE)),
    ("FAI triangles, home a corner, 3,000 points", 3000, Wanted(FAI, 290e3, 310e3)),
    ("FAI triangles, home a corner, 300 points", 300, Wanted(FAI, 290e3, 310e3)),
    ("out-and-returns, 1,000 points", 1000, Wanted(BACK, 290e3, 310e3)),
    ("three turn points, 300 points", 300, Wanted(ROUND, 290e3, 310e3)),
    ("three turn points, 1,000 points, 500–520 km", 1000, Wanted(ROUND, 500e3, 520e3)),
)


def waypoints(positions: list[Position], seed: int) -> list[Waypoint]:
    """Return the places as waypoints: a third landable, most of the others with a feature, half inspected lately."""
    rng = np.random.default_rng(seed)
    made = []
    for number, position in enumerate(positions):
        can_land = rng.random() < 0.33
        made.append(
            Waypoint(
                f"{number:04d}",
                f"{number}",
                position,
                elevation_m=float(rng.uniform(200, 600)),
                landable=Landable.FIELD if can_land else Landable.NO,
                feature=None if rng.random() < 0.3 else Feature.STRUCTURE,
                inspected_on="2027-04-01" if rng.random() < 0.5 else "2024-04-01",
            )
        )
    return made


def judge_of(positions: list[Position], wanted: Wanted, seed: int) -> Judge:
    points = waypoints(positions, seed)
    places = Places(positions, HOME)
    latitudes, longitudes = places.latitudes, places.longitudes

    def ends(a: np.ndarray, b: np.ndarray) -> tuple[np.ndarray, ...]:
        return latitudes[a], longitudes[a], latitudes[b], longitudes[b]

    lengths = LegTable(len(places), lambda a, b: lengths_m(*ends(a, b), Earth.WGS84), both_ways=True)
    rare = [point for number, point in enumerate(points) if number % 6 == 0]
    grid = ReachGrid.of(Fields.of(rare, [Landable.FIELD]), Glide(30.0, 100.0), latitudes, longitudes)
    out = LegTable(
        len(places),
        lambda a, b: grid.out_of_reach_m(1100.0, *ends(a, b), lengths_m(*ends(a, b), Earth.WGS84)),
        both_ways=True,
    )
    given = Given(
        places=places, waypoints=points, inspected_since="2026-05-01", lengths_m=lengths, out_of_reach_m=out,
        wind=Wind(240.0, 20.0), shape=wanted.shape, start=wanted.home,
    )  # fmt: skip
    return Judge(given, weights_with({}))


def measured(name: str, count: int, wanted: Wanted, seed: int) -> list[Figure]:
    positions = scattered(count, 0.5 * wanted.most_m)
    floor = geodesics_s()
    judge = judge_of(positions, wanted, seed)
    chosen: list[Shown] = []
    took = seconds(
        lambda: chosen.append(best_that_differ(courses(positions, HOME, wanted), judge, apart_m=20_000.0, limit=10))
    )
    plain = best_that_differ(courses(positions, HOME, wanted), judge, apart_m=0.0, limit=10)
    made = [Figure(f"{name}: searched, weighed, ten that differ chosen", took, "s", F, floor)]
    if len(plain.scores):
        share = 100 * chosen[0].scores.mean() / plain.scores.mean()
        made.append(Figure("their mean score against the best ten", share, "%", goal=95, at_least=True))
    return made


def figures(seeds: int = 1) -> list[Figure]:
    return [one for case in CASES for seed in range(seeds) for one in measured(*case, seed)]


if __name__ == "__main__":
    told(figures(*map(int, sys.argv[1:])))
