"""Print how long heights of terrain take, as ratios against F: 100,000 vectorised WGS84 geodesics in the same run.

Run `python -m tests.benchmarks.terrain`. Tiles of random heights are made in a folder that is thrown away.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np

from taskdb.reference.terrain.folder import TerrainFolder
from tests.benchmarks.figures import F, Figure, geodesics_s, median_s, seconds, told
from tests.reference.terrain_files import random_heights, write_asc, write_hgt

COUNT = 100_000


def figures() -> list[Figure]:
    random = np.random.default_rng(1)
    floor = geodesics_s()
    made: list[Figure] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for south, west, side in ((47, 11, 3601), (47, 12, 3601), (46, 11, 1201), (46, 12, 1201)):
            write_hgt(folder, f"N{south}E{west:03d}.hgt", random_heights(side, side))
        write_asc(folder, "g.asc", random_heights(1200, 1200), 13.0, 47.0, 1 / 1200)
        made.append(Figure("listing a folder of terrain", median_s(lambda: TerrainFolder(name)), "s", F, floor))
        for what, south, west, size in (
            ("1 arc second, one tile", 47, 11, 1), ("3 arc seconds, one tile", 46, 11, 1), ("four tiles", 46, 11, 2),
            ("ASCII grid", 47.001, 13.001, 0.998),
        ):  # fmt: skip
            latitude, longitude = (random.uniform(low, low + size, COUNT) for low in (south, west))
            terrain = TerrainFolder(name)
            first = seconds(lambda: terrain.heights_m(latitude, longitude))  # noqa: B023
            again = median_s(lambda: terrain.heights_m(latitude, longitude))  # noqa: B023
            made.append(Figure(f"heights of {COUNT:,} places, {what}, first time", first, "s", F, floor))
            made.append(Figure("the same, read already", again, "s", F, floor))
    return made


if __name__ == "__main__":
    told(figures())
