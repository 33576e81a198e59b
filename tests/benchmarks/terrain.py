"""Print how long heights of terrain take, as ratios against F: 100,000 vectorised WGS84 geodesics in the same run.

Run `python -m tests.benchmarks.terrain`. Tiles of random heights are made in a folder that is thrown away.
"""

from __future__ import annotations

import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from pyproj import Geod

from taskdb.reference.terrain.folder import TerrainFolder
from tests.reference.terrain_files import random_heights, write_asc, write_hgt

COUNT = 100_000


def median_s(work: Callable[[], object], times: int = 5) -> float:
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def main() -> None:
    random = np.random.default_rng(1)
    one, other = (random.uniform(0, 60, COUNT) for _ in range(2))
    floor = median_s(lambda: Geod(ellps="WGS84").inv(one, other, other, one))
    print(f"F: {floor * 1000:.0f} ms")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for south, west, side in ((47, 11, 3601), (47, 12, 3601), (46, 11, 1201), (46, 12, 1201)):
            write_hgt(folder, f"N{south}E{west:03d}.hgt", random_heights(side, side))
        write_asc(folder, "g.asc", random_heights(1200, 1200), 13.0, 47.0, 1 / 1200)

        def tell(what: str, seconds: float) -> None:
            print(f"{what}: {seconds * 1000:.0f} ms, {seconds / floor:.2f} F")

        tell("listing the folder", median_s(lambda: TerrainFolder(name)))
        for what, south, west, size in (
            ("1 arc second, one tile", 47, 11, 1), ("3 arc seconds, one tile", 46, 11, 1), ("four tiles", 46, 11, 2),
            ("ASCII grid", 47.001, 13.001, 0.998),
        ):  # fmt: skip
            latitude, longitude = (random.uniform(low, low + size, COUNT) for low in (south, west))
            terrain = TerrainFolder(name)
            start = time.perf_counter()
            terrain.heights_m(latitude, longitude)
            tell(f"{COUNT:,} places, {what}, first time", time.perf_counter() - start)
            tell(f"{COUNT:,} places, {what}, read already", median_s(lambda: terrain.heights_m(latitude, longitude)))  # noqa: B023


if __name__ == "__main__":
    main()
