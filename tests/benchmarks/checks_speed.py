"""Print how long near pairs and counterparts take, as ratios against floors measured in the same run.

Run `python -m tests.benchmarks.checks_speed`. Floors: scipy's cKDTree.query_pairs on the same points; the near match
of two catalogues alone (arrays from waypoints, nearest within 300 m both ways).
"""

from __future__ import annotations

import resource
import statistics
import time
from collections.abc import Callable
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


def median_s(work: Callable[[], object], times: int) -> float:
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def measure_pairs(count: int) -> None:
    random = np.random.default_rng(1)
    latitude = np.round(random.uniform(40, 55, count) * 1e7).astype(np.int64)
    longitude = np.round(random.uniform(-5, 20, count) * 1e7).astype(np.int64)
    before = peak_mb()
    ours = median_s(lambda: near_pairs(Points.at(latitude, longitude), 250.0), 3)
    extra = peak_mb() - before
    found = len(near_pairs(Points.at(latitude, longitude), 250.0).first)
    centred = Points.at(latitude, longitude).centred_m
    floor = median_s(lambda: cKDTree(centred).query_pairs(250.0, output_type="ndarray"), 3)
    theirs = len(cKDTree(centred).query_pairs(250.0, output_type="ndarray"))
    built = cKDTree(centred)
    asked = median_s(lambda: built.query_pairs(250.0, output_type="ndarray"), 3)
    print(f"pairs within 250 m of {count:,}: {ours:.2f} s, {found} pairs ({theirs} by chord), {extra:.0f} MB extra; "
          f"cKDTree with building {floor:.2f} s, ratio {ours / floor:.2f}; query alone {asked:.2f} s, "
          f"{ours / asked:.2f}")  # fmt: skip


def measure_counterparts() -> None:
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
    found = find_counterparts(reference, now)
    print(f"{len(now):,} against {len(before):,}: {ours * 1000:.0f} ms, {len(found.apart)} apart; near match alone "
          f"{floor * 1000:.0f} ms, ratio {ours / floor:.2f}")  # fmt: skip
    renamed = [replace(w, code=f"N{k}", name=f"place {k}") for k, w in enumerate(now)]
    all_new = median_s(lambda: find_counterparts(reference, renamed), 1)
    print(f"  with all codes and names changed: {all_new * 1000:.0f} ms, ratio {all_new / floor:.1f}")


def measure_checks() -> None:
    season = make_season("US middle west", 1, 20)
    given = CheckInput(
        "set", 1, tuple(season.now), (Reference("last@1", "set", tuple(season.before)),),
        outlines=load_outlines(), elevation=load_elevation_grid(),
    )  # fmt: skip
    print(f"all rules over {len(season.now)} points with a reference: {median_s(lambda: run_checks(given), 3):.2f} s")


if __name__ == "__main__":
    measure_pairs(1_000_000)
    measure_counterparts()
    measure_checks()
