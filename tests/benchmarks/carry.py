"""Carrying a season over, as ratios: `python -m tests.benchmarks.carry [TASKS [POINTS]]`.

The floor measures and saves as many tasks, which any way of carrying must do. Told is the whole of `task carry` beyond
start-up onto a set that is renumbered and partly moved: matching, writing, distances, shapes and findings before and
after. And `contest copy --tasks` of the same tasks: 8 s of a thousand are the goal, and 80 s of ten thousand.
"""

from __future__ import annotations

import random
import sqlite3
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

from taskdb.core.course import assembly
from taskdb.core.course.assembly import Chosen
from taskdb.core.course.zones import parse_zone
from taskdb.core.geodesy import distance_m
from taskdb.core.model import Place, Role, Task, TaskType, Waypoint
from taskdb.services.contests.contest import NewContest, new_contest
from taskdb.services.contests.settings import ContestCopy, CopiedContest, copy_contest
from taskdb.services.desk import Desk, Write
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.tasks.carrying import CarryRequest, carry_tasks
from taskdb.services.tasks.keeping import save_task
from taskdb.store import contests as contest_rows, sets as set_rows
from tests.benchmarks.figures import Figure, seconds, told
from tests.building import writing_rows
from tests.unit.test_carry_season import season

ZONES = {
    Role.START: parse_zone("line 5km"),
    Role.AREA: parse_zone("area 15km"),
    Role.FINISH: parse_zone("cylinder 3km"),
}


def written(folder: Path, name: str, waypoints: list[Waypoint]) -> str:
    path = folder / f"{name}.csv"
    rows = [f'{w.code},"{w.name}",{w.position.latitude_deg:.7f},{w.position.longitude_deg:.7f}\n' for w in waypoints]
    path.write_text("code,name,latitude_deg,longitude_deg\n" + "".join(rows), encoding="utf-8")
    return str(path)


def courses(points: list[Waypoint], amount: int) -> list[Task]:
    """Return tasks of two to four turns within 120 km of their start, one of three an assigned area task."""
    random_ = random.Random(3)
    defaults = assembly.defaults_of(ZONES)
    made: list[Task] = []
    while len(made) < amount:
        home = random_.choice(points)
        near = [w for w in random_.sample(points, 60) if 20_000 < distance_m(home.position, w.position) < 120_000]
        turns = near[: random_.choice((2, 2, 3, 4))]
        if len(turns) < 2:
            continue
        kind = TaskType.ASSIGNED_AREA if len(made) % 3 == 0 else TaskType.RACING
        chosen = [Chosen(Place(w.code, w.name, w.position, w.elevation_m, w.identity)) for w in (home, *turns, home)]
        try:
            at = assembly.assemble(chosen, kind, defaults)
        except Exception as refused:  # straight through: a bisector has no side
            print(f"left out: {refused}")
            continue
        time_s = 10_800 if kind is TaskType.ASSIGNED_AREA else None
        name = f"Task {len(made)}"
        made.append(Task(name, kind, at, "region", 1, contest="Old", contest_revision=1, time_s=time_s))
    return made


def copied(store: Path, to: Path) -> tuple[float, int]:
    """Return how long the contest's copy with its tasks takes, on a copy of the store, and how many tasks it has."""
    with closing(sqlite3.connect(store)) as filled, closing(sqlite3.connect(to)) as twin:
        filled.backup(twin)
    made: list[CopiedContest] = []
    copy = ContestCopy("Copied", with_tasks=True)
    took = seconds(lambda: made.append(copy_contest(Desk(str(to), "benchmark"), "Old", copy, Write("contest copy"))))
    return took, len(made[0].tasks)


def figures(amount: int = 1_000, size: int = 5_000) -> list[Figure]:
    with tempfile.TemporaryDirectory() as name:
        folder, given = Path(name), season(2, size)
        desk = Desk(str(folder / "store.sqlite"), "benchmark")
        for set_name, waypoints in (("region", given.old), ("region next", given.new)):
            import_set(desk, ImportRequest(written(folder, set_name, list(waypoints)), set_name), Write("import"))
        new_contest(desk, NewContest("Old", "region", zones=ZONES), Write("contest new"))
        new_contest(desk, NewContest("New", "region next", zones=ZONES), Write("contest new"))
        with writing_rows(desk, Write("fill")) as writing:
            head = set_rows.find_set(writing.connection, "region")
            contest = contest_rows.find_contest(writing.connection, "Old")
            assert head is not None and contest is not None
            tasks = courses(list(set_rows.waypoints_at(writing.connection, head.id, 1)), amount)
            start = time.process_time()
            for task in tasks:
                save_task(writing, None, contest.id, task)
            floor = time.process_time() - start
        copying, copies = copied(folder / "store.sqlite", folder / "copied.sqlite")
        outcomes: list[object] = []
        request = CarryRequest(from_contest="Old", contest="New")
        took = seconds(lambda: outcomes.extend(carry_tasks(desk, request, Write("task carry"))))
    saved = f"{len(tasks):,} tasks measured and saved"
    return [
        Figure(f"{len(outcomes):,} tasks carried onto {len(given.new):,} points", took, "s", saved, floor),
        Figure(f"contest copy --tasks of {copies:,}", copying, goal=8 * len(tasks) / 1000),
    ]


if __name__ == "__main__":
    told(figures(*map(int, sys.argv[1:])))
