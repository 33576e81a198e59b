"""The same tasks give the same bytes, in every format and on the sheet, in whatever process they are written.

Within one process a set always comes in one order: two, with other seeds of their hashes, would tell.
"""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

WRITE_ALL = """
import hashlib, io
from taskdb.core.model import Waypoint
from taskdb.formats.known import SETS_WRITTEN, TASKS_WRITTEN
from taskdb.formats.registry import write_set, write_task
from taskdb.report.sheet import SheetPage, render_sheet
from tests.formats.random_tasks import random_tasks

tasks = [one for one in random_tasks(12, seed=3) if "\\ufffe" not in repr(one)]
places = {p.place.code: Waypoint(p.place.code, p.place.name, p.place.position) for t in tasks for p in t.task.points}
for format in sorted(TASKS_WRITTEN):
    stream = io.BytesIO()
    for task in tasks:
        write_task(stream, task, format)
    print(format, "task", hashlib.sha256(stream.getvalue()).hexdigest())
for format in sorted(SETS_WRITTEN):
    stream = io.BytesIO()
    write_set(stream, list(places.values()), format)
    print(format, "set", hashlib.sha256(stream.getvalue()).hexdigest())
page = render_sheet([SheetPage(t.task, 1, t.course, t.fingerprint, waypoints=places) for t in tasks])
print("sheet", hashlib.sha256(page.encode()).hexdigest())
"""


@pytest.mark.slow
def test_two_processes_write_the_same_bytes() -> None:
    def written(seed: str) -> list[str]:
        environment = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": os.pathsep.join(sys.path)}
        done = subprocess.run(
            [sys.executable, "-c", WRITE_ALL], env=environment, capture_output=True, text=True, check=True
        )
        return done.stdout.splitlines()

    first = written("1")
    assert len(first) >= 10
    assert written("2") == first
