"""Contests of many tasks and courses of many points, as whole commands: `python -m tests.benchmarks.many_tasks`.

Goals: `contest show` of 10,000 tasks as `set list`; `task show` of 100 points within three times one of four areas.
"""

from __future__ import annotations

import os
import random
import tempfile
from pathlib import Path

from taskdb.core.course.zones import parse_zone
from taskdb.core.geodesy import destination
from taskdb.core.model import Position
from taskdb.services.desk import Write
from taskdb.services.tasks.task import NewTask, PointRequest, new_task
from tests import building
from tests.benchmarks.figures import Figure, command_s, told
from tests.benchmarks.task_find import filled

AREAS = "task show of four areas"
WHY_LONG = "each zone reaches into some forty others, and twelve paths are followed through them to the end"


def taken_s(store: str, *words: str) -> float:
    """Return the processor time of a command on a store, nothing kept from earlier ones."""
    return command_s(*words, environment={**os.environ, "TASKDB_STORE": store, "TASKDB_CACHE": "off"}, exits=(0, 1))


def shown(folder: Path, amount: int) -> Figure:
    """Show a contest of so many tasks."""
    store = filled(folder, amount, contests=1)
    listed = min(taken_s(store, "set", "list") for _ in range(3))
    took = min(taken_s(store, "contest", "show", "Cup 1981") for _ in range(3))
    return Figure(f"contest show of {amount:,} tasks", took, "s", "set list", listed, 1.5)


def long_courses(folder: Path) -> list[Figure]:
    """Show courses whose cylinders stand apart, reach into their neighbours, and lie over many others."""
    store, chance, spot = str(folder / "long.db"), random.Random(1), Position.at(48.0, 10.0)
    rows = ["code,name,latitude_deg,longitude_deg"]
    for number in range(101):
        rows.append(f"{number:03d},Point {number},{spot.latitude_deg:.7f},{spot.longitude_deg:.7f}")
        spot = destination(spot, chance.uniform(-80, 80), 10_000)
    (folder / "points.csv").write_text("\n".join(rows), encoding="utf-8")
    taken_s(store, "set", "import", str(folder / "points.csv"), "--into", "region")
    desk = building.desk(store)

    def shown_s(name: str, codes: range, zone: str) -> float:
        turns = [PointRequest(f"{code:03d}", parse_zone(zone)) for code in codes]
        points = (PointRequest("000"), *turns, PointRequest("100"))
        new_task(desk, NewTask(name, points, time_s=10_800 if "area" in zone else None), Write("task new"))
        return min(taken_s(store, "task", "show", name) for _ in range(3))

    areas = shown_s("Areas", range(10, 50, 10), "area 8km")
    made = []
    for radius, how in (("3km", "apart"), ("6km", "overlapping their neighbours"), ("20km", "overlapping all round")):
        took = shown_s(f"Long {radius}", range(1, 99), f"cylinder {radius}")
        why = WHY_LONG if radius == "20km" else ""
        what = f"task show of 100 points, cylinders of {radius} {how}"
        made.append(Figure(what, took, "s", AREAS, areas, 3, why=why))
    return made


def figures() -> list[Figure]:
    with tempfile.TemporaryDirectory() as folder:
        first = shown(Path(folder), 10_000)
    with tempfile.TemporaryDirectory() as folder:
        return [first, *long_courses(Path(folder))]


if __name__ == "__main__":
    told(figures())
