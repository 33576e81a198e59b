"""Landable cover against F, the time of 100,000 vectorised geodesics in the same run.

Run: python -m tests.benchmarks.cover [TASKS] [FIELDS]     (200 and 5,000 unless told otherwise)

Goals: 200 tasks over 5,000 fields within 40 F; one course of 300 km over terrain of 1 arc second within 6 F.
"""

from __future__ import annotations

import random
import sys
import tempfile
from pathlib import Path

import numpy as np

from taskdb.core.geodesy import destination
from taskdb.core.judgement.cover import Cover, Terms, cover_course
from taskdb.core.judgement.fields import Fields
from taskdb.core.judgement.glide import Glide
from taskdb.core.model import Landable, Position, Waypoint
from taskdb.core.quantities import Wind
from taskdb.reference.terrain.folder import TerrainFolder
from taskdb.services.ground import open_ground
from tests.benchmarks.figures import F, Figure, geodesics_s, median_s, seconds, told
from tests.reference.terrain_files import write_hgt


def some_fields(rng: random.Random, count: int) -> Fields:
    made = [
        Waypoint(f"F{n:05d}", "", Position.at(rng.uniform(45.5, 49.5), rng.uniform(8, 14)), rng.uniform(100, 900),
                 Landable.FIELD)
        for n in range(count)
    ]  # fmt: skip
    return Fields.of(made, [Landable.FIELD])


def triangle(rng: random.Random) -> list[Position]:
    home = Position.at(rng.uniform(46.8, 48.2), rng.uniform(10, 12))
    first = rng.uniform(0, 360)
    return [home, destination(home, first, 100_000), destination(home, first + 60, 100_000), home]


def tiles(folder: Path) -> TerrainFolder:
    """Ridges and valleys of 400 to 2,000 m with some noise: 20 tiles of 1 arc second, one written and linked."""
    step = np.arange(3601) / 3600 * 2 * np.pi
    heights = 1000 + 350 * np.sin(9 * step)[:, None] + 350 * np.sin(11 * step)[None, :]
    heights = heights + np.random.default_rng(2).normal(0, 15, heights.shape)
    one = write_hgt(folder, "N46E009.hgt", np.round(heights).astype(np.int16))
    for south in range(45, 50):
        for west in range(8, 14):
            path = folder / f"N{south}E{west:03d}.hgt"
            if path != one:
                path.hardlink_to(one)
    return TerrainFolder(str(folder))


def places(covers: list[Cover]) -> str:
    looked, out = (sum(n) for n in zip(*((len(c.samples), c.out_of_reach) for c in covers), strict=True))
    return f"{looked:,} places, {out:,} out of reach"


def figures(tasks: int = 200, count: int = 5_000) -> list[Figure]:
    rng = random.Random(3)
    floor = geodesics_s()
    fields, courses = some_fields(rng, count), [triangle(rng) for _ in range(tasks)]
    grid = open_ground(None)
    made: list[Figure] = []
    for what, wind, ground, goal in (
        ("calm air", Wind(0, 0), None, 40), ("wind", Wind(240, 30), None, 40),
        ("wind, the shipped grid", Wind(240, 30), grid, 40),
        ("wind of 92 % of the airspeed", Wind(240, 92), None, None),
    ):  # fmt: skip
        terms = Terms(Glide(30, 100, wind), 1500.0, "1500m MSL")
        covers: list[Cover] = []
        taken = seconds(lambda: covers.extend(cover_course(c, fields, terms, ground=ground) for c in courses))  # noqa: B023
        name = f"{tasks} tasks of 300 km over {count:,} fields, {what} ({places(covers)})"
        made.append(Figure(name, taken, "s", F, floor, goal))
    with tempfile.TemporaryDirectory() as name:
        terrain = tiles(Path(name)).ground()
        for number, altitude_m in ((200, 2500.0), (count, 2500.0), (count, 1800.0)):
            some = some_fields(random.Random(4), number)
            terms = Terms(Glide(30, 100, Wind(240, 30)), altitude_m, f"{altitude_m:.0f}m MSL")
            cover_course(courses[0], some, terms, ground=terrain)
            taken = median_s(lambda: cover_course(courses[0], some, terms, ground=terrain), 3)  # noqa: B023
            what = f"one of 300 km over terrain, {number:,} fields, from {altitude_m:.0f} m"
            made.append(Figure(what, taken, "s", F, floor, 6))
    return made


if __name__ == "__main__":
    told(figures(*map(int, sys.argv[1:])))
