"""Writers that are killed lose and halve nothing; writers that come at once all land; disks without a log work."""

from __future__ import annotations

import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest
from sqlalchemy import text

from taskdb.core.history.changes import SetChanges
from taskdb.errors import StoreUnusableError
from taskdb.store import connecting, engine, sets
from taskdb.store.backup import back_up
from taskdb.store.engine import NewOperation, open_store

COUNT = 1_500
KILLS = 6
"""Of a writer that does nothing else; whole commands are killed in tests/faults."""

# Writes revisions without end: in revision N every waypoint is called "State N". Tells each one that is kept.
WRITER = """
import sys
from dataclasses import replace
from taskdb.core.history.changes import SetChanges
from taskdb.core.model import Position, Waypoint
from taskdb.store import sets
from taskdb.store.engine import NewOperation, open_store
store = open_store(sys.argv[1])
count = int(sys.argv[2])
print("ready", flush=True)
while True:
    with store.writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "set import")) as w:
        head = sets.find_set(w.connection, "Wold") or sets.create_set(w, "Wold")
        head = sets.set_head(w.connection, head.id)
        name = f"State {head.newest + 1}"
        if head.newest:
            old = sets.waypoints_at(w.connection, head.id, head.newest)
            changes = SetChanges(changed=[(one, replace(one, name=name)) for one in old])
        else:
            at = Position.at(45, 10)
            changes = SetChanges(added=[Waypoint(f"{i:05d}", name, at, identity=f"id{i}") for i in range(count)])
        number = sets.write_revision(w, head, changes)
    print(number, flush=True)
"""

# Adds one waypoint at a time to one set, five times, beside seven others that do the same.
ADDER = """
import sys
from taskdb.core.history.changes import SetChanges
from taskdb.core.model import Position, Waypoint
from taskdb.errors import StoreBusyError
from taskdb.store import sets
from taskdb.store.engine import NewOperation, open_store
store = open_store(sys.argv[1], wait_s=60)
left = [f"{sys.argv[2]}{i}" for i in range(5)]
while left:
    try:
        with store.writing(NewOperation("2027-05-14T08:30:00Z", sys.argv[2], "waypoint add")) as w:
            head = sets.find_set(w.connection, "Wold") or sets.create_set(w, "Wold")
            new = Waypoint(left[0], "Field", Position.at(48, 11), identity=left[0])
            sets.write_revision(w, sets.set_head(w.connection, head.id), SetChanges(added=[new]))
    except StoreBusyError as error:
        if "same thing" not in error.message:
            raise
        continue
    left.pop(0)
"""

OTHERS = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"


def others(url: str) -> int:
    with open_store(url).engine.connect() as c:
        return int(c.scalar(text(OTHERS)) or 0)


def require_whole(url: str, acknowledged: int) -> int:
    """Hold every revision against what it must be, and return the newest: at most one more than was told."""
    store = open_store(url)
    while not store.is_sqlite and others(url):
        time.sleep(0.01)  # the server has not yet seen that its client is gone
    with store.reading() as c:
        operations = c.scalar(text("SELECT count(*) FROM operation"))
        if store.is_sqlite:
            assert c.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
        head = sets.find_set(c, "Wold")
        newest = head.newest if head is not None else 0
        assert acknowledged <= newest <= acknowledged + 1
        assert operations == newest
        for number in {1, newest - 1, newest} & set(range(1, newest + 1)):
            assert head is not None
            names = [w.name for w in sets.waypoints_at(c, head.id, number)]
            assert names == [f"State {number}"] * COUNT
        assert c.scalar(text("SELECT count(*) FROM set_revision")) == newest
    return newest


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")
def test_killed_writers_lose_and_halve_nothing(empty_store_url: str, seed: int) -> None:
    source = random.Random(seed)
    acknowledged = 0
    for kill in range(KILLS):
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, empty_store_url, str(COUNT)], stdout=subprocess.PIPE, text=True
        )
        assert writer.stdout is not None
        assert writer.stdout.readline() == "ready\n"
        told = [writer.stdout.readline()] if kill == KILLS - 1 else []
        time.sleep(source.uniform(0.0, 0.7))
        writer.send_signal(signal.SIGKILL)
        told += writer.stdout.read().split()
        writer.wait()
        writer.stdout.close()
        acknowledged = require_whole(empty_store_url, int(told[-1]) if told else acknowledged)
    with open_store(empty_store_url).writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "test")) as w:
        assert w.operation_id > acknowledged
    assert acknowledged > 0


@pytest.mark.slow
def test_eight_processes_that_write_at_once_all_land(empty_store_url: str) -> None:
    names = "abcdefgh"
    adders = [subprocess.Popen([sys.executable, "-c", ADDER, empty_store_url, name]) for name in names]
    assert [adder.wait(timeout=120) for adder in adders] == [0] * 8
    with open_store(empty_store_url).reading() as c:
        head = sets.find_set(c, "Wold")
        assert head is not None
        assert head.newest == 40
        assert [w.code for w in sets.waypoints_at(c, head.id, 40)] == sorted(f"{n}{i}" for n in names for i in range(5))
        log = sets.set_log(c, head.id)
        assert [(info.number, info.added, info.count) for info in log] == [(n, 1, n) for n in range(40, 0, -1)]
        assert {info.author for info in log} == set(names)


@pytest.fixture
def disk_without_wal(monkeypatch: pytest.MonkeyPatch) -> None:
    """SQLite on a disk without shared memory, as some network disks are: its own lock-file VFS."""
    connect = connecting.connect

    def connect_there(path: Path, wait_s: float, options: str = "mode=rw") -> sqlite3.Connection:
        return connect(path, wait_s, f"{options}&vfs=unix-dotfile")

    for module in (connecting, engine):
        monkeypatch.setattr(module, "connect", connect_there)


@pytest.mark.skipif(sys.platform == "win32", reason="needs SQLite's unix VFS")
def test_a_disk_where_the_write_ahead_log_does_not_take_is_written_and_read(
    disk_without_wal: None, tmp_path: Path
) -> None:
    store = open_store(str(tmp_path / "store.db"))
    for number in range(2):
        with store.writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "test")) as w:
            sets.write_revision(w, sets.create_set(w, f"Wold{number}"), SetChanges(added=()))
    with store.reading() as c:
        assert c.exec_driver_sql("PRAGMA journal_mode").scalar() == "delete"
        assert c.scalar(text("SELECT count(*) FROM waypoint_set")) == 2


@pytest.mark.skipif(sys.platform == "win32", reason="needs SQLite's unix VFS")
def test_a_store_with_a_log_carried_to_such_a_disk_is_refused_and_its_backup_is_read(
    tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    store, copy = open_store(str(tmp_path / "store.db")), tmp_path / "copy.db"
    with store.writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "test")) as w:
        sets.create_set(w, "Wold")
    back_up(store, copy)
    before = (tmp_path / "store.db").read_bytes()
    request.getfixturevalue("disk_without_wal")
    with pytest.raises(StoreUnusableError) as refused, open_store(str(tmp_path / "store.db")).reading():
        pass
    assert "taskdb store backup" in (refused.value.hint or "")
    assert (tmp_path / "store.db").read_bytes() == before
    with open_store(str(copy)).reading() as c:
        assert c.scalar(text("SELECT name FROM waypoint_set")) == "Wold"


def test_a_read_that_is_interrupted_prints_nothing_of_its_own(tmp_path):
    program = """
import signal, sys
from taskdb.store.engine import NewOperation, open_store

def interrupt(*_):
    raise KeyboardInterrupt

store = open_store(sys.argv[1])
with store.writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "set import")) as w:
    w.begin()
signal.signal(signal.SIGALRM, interrupt)
numbers = "WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n LIMIT 2000000) SELECT x FROM n"
try:
    with store.reading() as c, c.exec_driver_sql(numbers) as found:
        signal.setitimer(signal.ITIMER_REAL, 0.02)
        found.fetchmany(2000000)
except KeyboardInterrupt:
    print("interrupted")
"""
    done = subprocess.run([sys.executable, "-c", program, str(tmp_path / "a.db")], capture_output=True, text=True)
    assert (done.stdout, done.stderr) == ("interrupted\n", "")
