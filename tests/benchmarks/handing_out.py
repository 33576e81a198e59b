"""Handing tasks out, as ratios: `python -m tests.benchmarks.handing_out [TASKS]`.

The floor writes as many bytes in as many files, each synced, by the standard library alone. Told are the five formats
of each task out of a store into a folder, for racing tasks and for assigned areas, and one sheet with its map.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.model import Task, TaskType
from taskdb.core.quantities import Units
from taskdb.formats.known import TASKS_WRITTEN
from taskdb.report.sheet import render_sheet
from taskdb.report.sheet_page import SheetPage
from taskdb.services.desk import Desk, Write
from taskdb.services.handing_out.exporting import TaskChoice, export_tasks
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.tasks.keeping import save_task
from taskdb.store import sets as set_rows
from tests.benchmarks.figures import F, Figure, geodesics_s, seconds, told
from tests.building import writing_rows
from tests.formats.random_tasks import random_tasks


def filled(folder: Path, kind: TaskType, amount: int) -> Desk:
    """Return a desk at a store with that many tasks of a type."""
    desk = Desk(store_url=str(folder / "store.sqlite"), author="benchmark")
    points = folder / "points.csv"
    points.write_text("code,name,latitude_deg,longitude_deg\nHOME,Home,47.1,11.2\n", encoding="utf-8")
    import_set(desk, ImportRequest(str(points), "region"), Write("import"))
    made = [x.task for x in random_tasks(amount * 6, seed=1, hostile=False) if x.task.type is kind][:amount]
    with writing_rows(desk, Write("fill")) as writing:
        head = set_rows.find_set(writing.connection, "region")
        assert head is not None
        for number, task in enumerate(made):
            save_task(writing, None, None, on_region(task, number))
    return desk


def on_region(task: Task, number: int) -> Task:
    return replace(task, name=f"Task {number}", contest=None, contest_revision=None, set_revision=1)


def floor(folder: Path, sizes: list[int]) -> None:
    """Write files of these sizes and sync each."""
    folder.mkdir()
    for number, size in enumerate(sizes):
        with (folder / str(number)).open("wb") as stream:
            stream.write(b"x" * size)
            stream.flush()
            os.fsync(stream.fileno())


def figures(amount: int = 200) -> list[Figure]:
    made = []
    for kind in (TaskType.RACING, TaskType.ASSIGNED_AREA):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            desk, out = filled(folder, kind, amount), folder / "out"
            choice = TaskChoice(everything=True)
            taken = seconds(lambda d=desk, c=choice, o=out: export_tasks(d, c, formats=list(TASKS_WRITTEN), to=str(o)))  # type: ignore[misc]
            sizes = [path.stat().st_size for path in out.iterdir()]
            base = seconds(lambda f=folder, s=sizes: floor(f / "floor", s))  # type: ignore[misc]
            what = f"{amount} {kind.value} tasks in all formats ({len(sizes):,} files)"
            made.append(Figure(what, taken, "s", "the same bytes written and synced", base))
    pages = [SheetPage(x.task, 1, x.course, fingerprint(x.task)) for x in random_tasks(21, seed=2, hostile=False)]
    render_sheet(pages[:1])
    times = [1000 * seconds(lambda p=page: render_sheet([p], units=Units.KM)) for page in pages[1:]]  # type: ignore[misc]
    made.append(Figure("a sheet, median of 20", statistics.median(times), "ms", F, 1000 * geodesics_s()))
    return made


if __name__ == "__main__":
    told(figures(*map(int, sys.argv[1:])))
