"""Writers of one SQLite file get the lock in the order in which they came, and nobody who is killed holds them up."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from taskdb.errors import StoreBusyError
from taskdb.store.connecting import connect
from taskdb.store.engine import NewOperation, open_store
from taskdb.store.turns import SUFFIX, is_anybody_waiting

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="there SQLite's own waiting counts")

# Each waits for the store and says so; tells its name when it has had the lock.
_WAITER = """
import sqlite3, sys, time
from pathlib import Path
from taskdb.store import connecting, turns
path, name, told = Path(sys.argv[1]), sys.argv[2], Path(sys.argv[3])
raw = connecting.connect(path, 20)
take_place = turns._take_place
def taking_place(path):
    place = take_place(path)
    print("waits", flush=True)
    return place
turns._take_place = taking_place
connecting.lock(raw, path, 20, time.monotonic() + 20)
with told.open("a") as file:
    file.write(name)
time.sleep(0.01)
raw.execute("COMMIT")
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "store.db"
    with open_store(str(path)).writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "test")):
        pass
    return path


def waiter(path: Path, name: str) -> subprocess.Popen[str]:
    """Start a process that waits in turn, and return it once it has its place."""
    line = [sys.executable, "-c", _WAITER, str(path), name, str(path.parent / "told")]
    process = subprocess.Popen(line, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    assert process.stdout.readline() == "waits\n"
    return process


def test_who_came_first_goes_first_and_a_killed_one_is_passed_over(path: Path) -> None:
    with closing(connect(path, 0)) as holder:
        holder.execute("BEGIN IMMEDIATE")
        waiting = [waiter(path, name) for name in "abcdef"]
        assert is_anybody_waiting(path)
        for killed in (waiting[0], waiting[3]):
            killed.send_signal(signal.SIGKILL)
            killed.wait()
        holder.execute("COMMIT")
        for process in waiting:
            process.communicate()
    assert (path.parent / "told").read_text() == "bcef"
    assert not is_anybody_waiting(path)
    assert sorted(file.name for file in path.parent.iterdir()) == ["store.db", "told"]


def test_who_comes_later_does_not_get_in_before_those_who_wait(path: Path) -> None:
    with closing(connect(path, 0)) as holder:
        holder.execute("BEGIN IMMEDIATE")
        first = waiter(path, "a")
        holder.execute("COMMIT")
        # At once, while the lock is free and the first one may still sleep.
        with open_store(str(path)).writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "test")):
            assert (path.parent / "told").read_text() == "a"
        first.communicate()


def test_what_a_killed_waiter_left_behind_is_cleared_by_the_next(path: Path) -> None:
    path.with_name(path.name + SUFFIX).touch()
    began = time.monotonic()
    with open_store(str(path)).writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "test")):
        pass
    assert time.monotonic() - began < 5
    assert list(path.parent.iterdir()) == [path]


def test_who_gives_up_leaves_the_queue(path: Path) -> None:
    with closing(connect(path, 0)) as holder:
        holder.execute("BEGIN IMMEDIATE")
        for _ in range(2):
            with (
                pytest.raises(StoreBusyError),
                open_store(str(path), wait_s=0.02).writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "test")),
            ):
                pass
            assert not is_anybody_waiting(path)


def test_where_there_can_be_no_queue_the_lock_is_waited_for_all_the_same(path: Path) -> None:
    path.with_name(path.name + SUFFIX).mkdir()
    with open_store(str(path)).writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "test")) as writing:
        assert writing.operation_id == 2
