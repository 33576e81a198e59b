"""Many processes that edit one store at once, and one that reads: no edit lost, none failing, no number doubled.

    python -m tests.faults.writers [PROCESSES] [EDITS] [--store URL] [--seed N]      (8 and 200 on an SQLite file)
    python -m tests.faults.writers 16 50 --tasks [--busy 2]      tasks of areas alone, with two cores kept busy

Each process edits, adds, retires and restores waypoints, makes and edits tasks, sets zones and labels, as the services
do it for the command line, and tells what it did. Afterwards the store is held against all that was told.
How long an edit took is from the call to its return: what a person waits for.
"""

from __future__ import annotations

import argparse
import random
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

from sqlalchemy import text

from taskdb.core.course.assembly import ZoneChoice
from taskdb.core.course.zones import parse_zone
from taskdb.core.history.changes import SetChanges
from taskdb.core.model import Position, Role, Waypoint
from taskdb.errors import StoreBusyError
from taskdb.services.contests.contest import NewContest, new_contest, set_contest_zones
from taskdb.services.desk import Desk, Write
from taskdb.services.sets.history import label_set
from taskdb.services.sets.set import list_sets
from taskdb.services.store.verify import verify_store
from taskdb.services.tasks.task import NewTask, PointRequest, TaskEdit, edit_task, new_task
from taskdb.services.waypoints.editing import add_waypoint, edit_waypoint, restore_waypoint, retire_waypoint
from taskdb.services.waypoints.typed_values import WaypointTexts
from taskdb.services.waypoints.waypoint import show_waypoint
from taskdb.store import sets
from taskdb.store.engine import NewOperation, open_store
from tests.forked import Forked

REFUSED = "refused"
SHARED = 40


@dataclass(frozen=True)
class Outcome:
    """What the processes did together, how long that and each edit took, and the longest reading beside them.

    `refused` are the edits that gave up waiting; they were given again.
    """

    edits: int
    refused: int
    each_s: tuple[float, ...]
    revisions: int
    took_s: float
    kinds: Counter[str]
    longest_read_s: float = 0.0
    reads: int = 0

    @property
    def median_s(self) -> float:
        return statistics.median(self.each_s)

    @property
    def longest_s(self) -> float:
        return max(self.each_s)


def prepare(url: str, processes: int) -> None:
    """Make a set with points that all share and points of each process, and a contest."""
    at = "2027-05-14T08:30:00Z"
    with open_store(url).writing(NewOperation(at, "Ann", "set import")) as w:
        shared = [Waypoint(f"S{i:03d}", f"Shared {i}", _place(i), identity=f"s{i}") for i in range(SHARED)]
        own = [Waypoint(f"P{p:02d}", f"Own of {p}", _place(100 + p), identity=f"p{p}") for p in range(processes)]
        sets.write_revision(w, sets.create_set(w, "region"), SetChanges(added=[*shared, *own]))
    new_contest(Desk(url, "Ann"), NewContest("Cup", "region"), Write("contest new"))


def _place(number: int) -> Position:
    return Position.at(45 + number * 0.01, 10 + number * 0.013)


# -- one process -------------------------------------------------------------------------------------------------


def edit(url: str, process: int, edits: int, seed: int, tasks: bool) -> None:
    """Make so many random edits; tell each kind and its seconds on a line of its own as soon as it is kept."""
    source = random.Random(f"{seed} {process}")
    if tasks:
        _warm_up()
    worker = _Worker(Desk(url, f"writer {process}"), process, source)
    done = 0
    while done < edits:
        kind = source.choice(worker.TASKS if tasks else worker.KINDS)
        began = time.perf_counter()
        try:
            is_kept = getattr(worker, kind)()
        except StoreBusyError:
            print(REFUSED, time.perf_counter() - began, flush=True)
            continue
        if is_kept:
            done += 1
            print(kind, time.perf_counter() - began, flush=True)


def _warm_up() -> None:
    """Make an edit on a store of our own: each process would else begin with its slowest one."""
    with tempfile.TemporaryDirectory() as folder:
        url = str(Path(folder) / "own.db")
        prepare(url, 1)
        worker = _Worker(Desk(url, "warming up"), 0, random.Random(1))
        worker.areas()
        worker.areas_edit()


class _Worker:
    """The edits of one process; each says whether it kept something."""

    TASKS = ("areas", "areas", "areas_edit")
    KINDS = ("own", "own", "shared", "add", "retire", "restore", "task", "task_edit", "zones", "label")

    def __init__(self, desk: Desk, process: int, source: random.Random) -> None:
        self.desk = desk
        self.process = process
        self.source = source
        self.counter = 0
        self.standing: list[str] = []
        self.retired: list[str] = []
        self.tasks: list[str] = []

    def _next(self) -> int:
        self.counter += 1
        return self.counter

    def own(self) -> bool:
        name = f"Own of {self.process}, state {self._next()}"
        edit_waypoint(self.desk, f"region:P{self.process:02d}", WaypointTexts(name=name), Write("waypoint edit"))
        return True

    def shared(self) -> bool:
        name = f"Shared, {self.process}.{self._next()}"
        code = f"region:S{self.source.randrange(SHARED):03d}"
        edit_waypoint(self.desk, code, WaypointTexts(name=name), Write("waypoint edit"))
        return True

    def add(self) -> bool:
        number = self._next()
        code = f"N{self.process:02d}-{number}"
        texts = WaypointTexts(
            code=code, name=f"New {number}", position=f"{50 + number / 1000:.4f} {self.process + 1}.5"
        )
        add_waypoint(self.desk, "region", texts, Write("waypoint add", confirmed=True))
        self.standing.append(code)
        return True

    def retire(self) -> bool:
        if not self.standing:
            return False
        code = self.standing.pop(self.source.randrange(len(self.standing)))
        retire_waypoint(self.desk, f"region:{code}", Write("waypoint retire", confirmed=True))
        self.retired.append(code)
        return True

    def restore(self) -> bool:
        if not self.retired:
            return False
        code = self.retired.pop(self.source.randrange(len(self.retired)))
        restore_waypoint(self.desk, f"region:{code}", Write("waypoint restore", confirmed=True))
        self.standing.append(code)
        return True

    def task(self) -> bool:
        name = f"T{self.process}.{self._next()}"
        points = tuple(PointRequest(f"S{i:03d}") for i in self.source.sample(range(SHARED), 4))
        new_task(self.desk, NewTask(name, points, contest="Cup"), Write("task new"))
        self.tasks.append(name)
        return True

    def task_edit(self) -> bool:
        if not self.tasks:
            return False
        name = self.source.choice(self.tasks)
        change = TaskEdit(values={"time_s": 3600 + self._next()})
        edit_task(self.desk, name, change, Write("task edit"), contest="Cup")
        return True

    def areas(self) -> bool:
        name = f"T{self.process}.{self._next()}"
        start, *turns, finish = (f"S{i:03d}" for i in self.source.sample(range(SHARED), 5))
        points = (
            PointRequest(start, parse_zone("line 10km")),
            *(PointRequest(turn, parse_zone(f"area {self.source.randint(15, 40)}km")) for turn in turns),
            PointRequest(finish, parse_zone("cylinder 3km")),
        )
        new_task(self.desk, NewTask(name, points, contest="Cup", time_s=10_800), Write("task new"))
        self.tasks.append(name)
        return True

    def areas_edit(self) -> bool:
        if not self.tasks:
            return False
        name = self.source.choice(self.tasks)
        zone = parse_zone(f"area {self.source.randint(15_000, 40_000)}m")
        change = TaskEdit(zones=(ZoneChoice(1, zone),), values={"time_s": 3600 + self._next()})
        edit_task(self.desk, name, change, Write("task edit"), contest="Cup")
        return True

    def zones(self) -> bool:
        zone = parse_zone(f"cylinder {self.process + 1}.{self._next():04d}km")
        set_contest_zones(self.desk, "Cup", {Role.TURN: zone}, Write("contest zones"))
        return True

    def label(self) -> bool:
        label_set(self.desk, "region@1", f"{self.process}.{self._next()}", None, Write("set label"))
        return True


# -- beside them -------------------------------------------------------------------------------------------------


def read(url: str, until: Path) -> None:
    """Read until a file is there; tell how often, and how long the longest took.

    A reader is never held up by a write; for moments by the last of all connections, which closes the log.
    """
    desk = Desk(url, "reader", wait_s=5.0)
    longest, count = 0.0, 0
    while not until.exists():
        began = time.perf_counter()
        assert list_sets(desk)
        assert show_waypoint(desk, "region:S001").waypoint.code == "S001"
        longest = max(longest, time.perf_counter() - began)
        count += 1
        time.sleep(0.01)
    print(count, longest, flush=True)


# -- all of them -------------------------------------------------------------------------------------------------


def crowd(url: str, processes: int, edits: int, seed: int, *, tasks: bool = False, busy: int = 0) -> Outcome:
    """Let the processes edit at once, and hold the store against what they told. AssertionError where it differs.

    `tasks`: tasks of areas alone; `busy` further processes do nothing but compute.
    """
    prepare(url, processes)
    spinning = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(busy)]
    try:
        with tempfile.TemporaryDirectory() as folder:
            stop = Path(folder, "stop")
            reader = Forked(read, url, stop)
            try:
                found = _crowd(url, processes, edits, seed, tasks=tasks)
            finally:
                stop.touch()
                reader.ended_within(None)
        ended, (out, err) = reader.returncode, reader.said()
        assert ended == 0, f"the reader was held up or failed: {err}"
        reads, longest = out.split()
        return replace(found, reads=int(reads), longest_read_s=float(longest))
    finally:
        for process in spinning:
            process.kill()
            process.wait()


def _crowd(url: str, processes: int, edits: int, seed: int, *, tasks: bool) -> Outcome:
    began = time.perf_counter()
    workers = [Forked(edit, url, number, edits, seed, tasks) for number in range(processes)]
    told: list[Counter[str]] = []
    each_s: list[float] = []
    refused = 0
    for worker in workers:
        worker.ended_within(None)
        ended, (out, err) = worker.returncode, worker.said()
        assert ended == 0, f"a writer failed: {err}"
        lines = [text.split() for text in out.splitlines()]
        refused += sum(kind == REFUSED for kind, _ in lines)
        each_s += [float(seconds) for _, seconds in lines]
        told.append(Counter(kind for kind, _ in lines if kind != REFUSED))
    took = time.perf_counter() - began
    total = sum(told, Counter[str]())
    assert total.total() == processes * edits
    revisions = _hold(url, told, total)
    return Outcome(total.total(), refused, tuple(each_s), revisions, took, total)


def _hold(url: str, told: list[Counter[str]], total: Counter[str]) -> int:
    """Hold the store against what was told; return the newest revision of the set."""
    found = verify_store(Desk(url, "Ann"))
    assert found.total == 0, found.problems[:5]
    with open_store(url).reading() as c:

        def count(query: str) -> int:
            return int(c.scalar(text(query)) or 0)

        assert count("SELECT count(*) FROM operation") == total.total() + 2
        assert count("SELECT max(id) FROM operation") == total.total() + 2, "numbers have gaps"
        in_set = sum(total[kind] for kind in ("own", "shared", "add", "retire", "restore"))
        revisions = count("SELECT newest FROM waypoint_set")
        assert revisions == in_set + 1
        assert count("SELECT newest FROM contest") == total["zones"] + 1
        made = total["task"] + total["areas"]
        assert count("SELECT count(*) FROM task") == made
        assert count("SELECT count(*) FROM task_revision") == made + total["task_edit"] + total["areas_edit"]
        assert count("SELECT count(*) FROM set_label") == total["label"]
        for process, mine in enumerate(told):
            states = f"SELECT count(*) FROM waypoint_state WHERE code = 'P{process:02d}'"
            assert count(states) == mine["own"] + 1
            assert count(f"SELECT count(*) FROM operation WHERE author = 'writer {process}'") == mine.total()
    return revisions


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("processes", nargs="?", type=int, default=8)
    parser.add_argument("edits", nargs="?", type=int, default=200)
    parser.add_argument("--store", help="an empty store; an SQLite file of its own without")
    parser.add_argument("--seed", type=int, default=random.randrange(10**6))
    parser.add_argument("--tasks", action="store_true", help="tasks of areas alone")
    parser.add_argument("--busy", type=int, default=0, help="so many processes more that do nothing but compute")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        url = given.store or str(Path(folder) / "store.db")
        found = crowd(url, given.processes, given.edits, given.seed, tasks=given.tasks, busy=given.busy)
    print(
        f"seed {given.seed}: {found.edits} edits of {given.processes} processes in {found.took_s:.0f} s, "
        f"{found.revisions} revisions of the set; none lost, none failing; {found.reads} readings beside them, "
        f"the longest {found.longest_read_s * 1000:.0f} ms"
    )
    print(
        f"  an edit took {found.median_s:.2f} s at the median, the longest {found.longest_s:.2f} s, "
        f"{found.longest_s / found.median_s:.1f} times that; {found.refused} gave up waiting"
    )
    print("  " + ", ".join(f"{kind} {count}" for kind, count in sorted(found.kinds.items())))
    return 0


if __name__ == "__main__":
    sys.exit(main())
