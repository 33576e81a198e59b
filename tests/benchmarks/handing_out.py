"""Handing tasks out, as ratios: `python -m tests.benchmarks.handing_out [TASKS]`.

The floor writes as many bytes in as many files, each synced, by the standard library alone. Told are the five formats
of each task out of a store into a folder, for racing tasks and for assigned areas, and one sheet with its map.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
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
from tests.building import writing_rows
from tests.formats.random_tasks import random_tasks


def seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


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
    from dataclasses import replace

    return replace(task, name=f"Task {number}", contest=None, contest_revision=None, set_revision=1)


def floor(folder: Path, sizes: list[int]) -> None:
    """Write files of these sizes and sync each."""
    folder.mkdir()
    for number, size in enumerate(sizes):
        with (folder / str(number)).open("wb") as stream:
            stream.write(b"x" * size)
            stream.flush()
            os.fsync(stream.fileno())


def main(amount: int) -> None:
    for kind in (TaskType.RACING, TaskType.ASSIGNED_AREA):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            desk = filled(folder, kind, amount)
            out = folder / "out"
            formats = list(TASKS_WRITTEN)
            taken = seconds(
                lambda d=desk, f=formats, o=out: export_tasks(d, TaskChoice(everything=True), formats=f, to=str(o))
            )
            sizes = [path.stat().st_size for path in out.iterdir()]
            base = seconds(lambda f=folder, s=sizes: floor(f / "floor", s))
            count = (len(sizes) - 1) // len(formats)
            print(
                f"{kind.value}: {count} tasks in {len(sizes)} files, {taken:.2f} s, {count / taken:.0f} tasks a second"
            )
            print(f"    {taken / base:.1f} of the floor (the same bytes written and synced, {base:.2f} s)")
    pages = [SheetPage(x.task, 1, x.course, fingerprint(x.task)) for x in random_tasks(21, seed=2, hostile=False)]
    render_sheet(pages[:1])
    times = [seconds(lambda p=page: render_sheet([p], units=Units.KM)) * 1000 for page in pages[1:]]
    print(f"a sheet: median {statistics.median(times):.0f} ms, longest {max(times):.0f} ms, beyond start-up")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
