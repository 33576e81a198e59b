"""A store copied as a file while it is written: an older state that is whole, or damage that is told."""

from __future__ import annotations

import random
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from taskdb.core.history.changes import SetChanges
from taskdb.core.model import Position, Waypoint
from taskdb.errors import StoreUnusableError
from taskdb.services.desk import Desk
from taskdb.services.store.store import read_journal
from taskdb.services.store.verify import verify_store
from taskdb.store import sets
from taskdb.store.engine import NewOperation, open_store


def add(path: Path, name: str, count: int = 400) -> None:
    """Write an operation that adds waypoints."""
    with open_store(str(path)).writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "test")) as w:
        head = sets.find_set(w.connection, "Wold") or sets.create_set(w, "Wold")
        at = Position.at(45, 10)
        new = [Waypoint(f"{name}{i}", f"{name} {i}", at, identity=f"{name}-{i}") for i in range(count)]
        sets.write_revision(w, sets.set_head(w.connection, head.id), SetChanges(added=new))


def is_whole(path: Path) -> bool:
    """Say whether a copy is whole by `store verify`; one that cannot be opened is not."""
    try:
        return verify_store(Desk(str(path), "Ann")).total == 0
    except StoreUnusableError as error:
        assert "taskdb store backup" in (error.hint or "") or error.code != "damaged-store"
        return False


@pytest.fixture
def in_use(tmp_path: Path):
    """A store that somebody has open: what is committed stays in its log."""
    path = tmp_path / "store.db"
    add(path, "a")
    with closing(sqlite3.connect(path)) as reader:
        reader.execute("SELECT count(*) FROM operation").fetchone()
        add(path, "b")
        yield path


def test_a_copy_of_the_file_alone_is_an_older_state_that_is_whole_and_with_its_log_the_newest(in_use: Path) -> None:
    alone, both = in_use.with_name("alone.db"), in_use.with_name("both.db")
    shutil.copy(in_use, alone)
    shutil.copy(in_use, both)
    shutil.copy(f"{in_use}-wal", f"{both}-wal")
    assert (read_journal(Desk(str(alone), "Ann")).total, is_whole(alone)) == (1, True)
    assert (read_journal(Desk(str(both), "Ann")).total, is_whole(both)) == (2, True)
    assert read_journal(Desk(str(in_use), "Ann")).total == 2


def test_a_copy_that_holds_pages_of_two_states_is_told_as_damaged(in_use: Path, seed: int) -> None:
    older, newer = in_use.with_name("older.db"), in_use.with_name("newer.db")
    shutil.copy(in_use, older)
    shutil.copy(in_use, newer)
    shutil.copy(f"{in_use}-wal", f"{newer}-wal")
    with closing(sqlite3.connect(newer)) as raw:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        size = raw.execute("PRAGMA page_size").fetchone()[0]
    before, after = older.read_bytes(), newer.read_bytes()
    source = random.Random(seed)
    for number in range(12):
        cut = source.randrange(1, len(before) // size) * size  # a checkpoint had come so far when it was copied
        mixed = in_use.with_name(f"mixed{number}.db")
        mixed.write_bytes(after[:cut] + before[cut:])
        assert mixed.read_bytes() in (before, after) or not is_whole(mixed), f"cut at page {cut // size}"
