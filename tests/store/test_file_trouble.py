"""SQLite says of many faults the same: what is told is what the disk says, and damage only where it is damage."""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from taskdb.errors import StoreUnusableError
from taskdb.store import file_trouble
from taskdb.store.engine import NewOperation, open_store
from taskdb.store.file_trouble import file_trouble as told
from taskdb.store.sets import create_set


def error(name: str, text: str) -> sqlite3.OperationalError:
    made = sqlite3.OperationalError(text)
    made.sqlite_errorname = name
    return made


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "store.db"
    with open_store(str(path)).writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "test")) as w:
        create_set(w, "Wold")
    return path


READ, WRITTEN = "why_not_read", "why_not_written"
SAID = [
    # what SQLite says, what looking at the disk finds, the code, a part of the words
    ("SQLITE_FULL", None, errno.ENOSPC, "store-not-usable", "the disk is full"),
    ("SQLITE_FULL", WRITTEN, errno.EDQUOT, "store-not-usable", "quota"),
    ("SQLITE_IOERR_WRITE", WRITTEN, errno.EDQUOT, "store-not-usable", "quota"),
    ("SQLITE_IOERR_WRITE", WRITTEN, errno.EIO, "store-not-usable", "the disk itself fails"),
    ("SQLITE_IOERR_WRITE", None, 0, "store-not-usable", "writing the disk failed"),
    ("SQLITE_IOERR_FSYNC", WRITTEN, errno.EIO, "store-not-usable", "the disk itself fails"),
    ("SQLITE_IOERR_SHMSIZE", WRITTEN, errno.ENOSPC, "store-not-usable", "the disk is full"),
    ("SQLITE_IOERR_READ", READ, errno.EIO, "store-not-usable", "the disk itself fails"),
    ("SQLITE_IOERR_READ", None, 0, "store-not-usable", "reading or writing the disk failed"),
    ("SQLITE_CANTOPEN", WRITTEN, errno.EACCES, "store-not-writable", "no right"),
    ("SQLITE_CANTOPEN", WRITTEN, errno.ENOSPC, "store-not-usable", "the disk is full"),
    ("SQLITE_CANTOPEN", None, 0, "store-not-usable", "cannot be opened"),
    ("SQLITE_READONLY", WRITTEN, errno.EROFS, "store-not-writable", "write-protected"),
    ("SQLITE_READONLY", WRITTEN, errno.EPERM, "store-not-writable", "protected against changes"),
    ("SQLITE_READONLY_DIRECTORY", WRITTEN, errno.EACCES, "store-not-writable", "no right"),
    ("SQLITE_READONLY", None, 0, "store-not-writable", "read-only for you"),
    ("SQLITE_READONLY_DBMOVED", None, 0, "store-gone", "deleted or replaced"),
    ("SQLITE_CORRUPT", READ, errno.EIO, "store-not-usable", "the disk itself fails"),
    ("SQLITE_CORRUPT", READ, errno.EACCES, "store-not-writable", "no right"),
    ("SQLITE_CORRUPT", None, 0, "damaged-store", "is damaged"),
    ("SQLITE_NOTADB", READ, errno.EIO, "store-not-usable", "the disk itself fails"),
    ("SQLITE_NOTADB", None, 0, "not-a-store", "no SQLite file"),
]


@pytest.mark.parametrize(("name", "look", "number", "code", "words"), SAID)
def test_what_is_told_is_what_the_disk_says(
    store: Path, monkeypatch: pytest.MonkeyPatch, name: str, look: str | None, number: int, code: str, words: str
) -> None:
    if look is not None:
        monkeypatch.setattr(file_trouble, look, lambda _: OSError(number, os.strerror(number)))
    found = told(error(name, "as SQLite says it"), "the store", store)
    assert found is not None
    assert (found.code, words in found.message) == (code, True), found.message
    assert found.hint
    assert ("damage" in found.message) is (code == "damaged-store")


def test_looking_leaves_nothing_behind(store: Path) -> None:
    before = sorted(store.parent.iterdir())
    told(error("SQLITE_IOERR_WRITE", "disk I/O error"), "the store", store)
    assert sorted(store.parent.iterdir()) == before


def test_other_errors_are_none_of_files(store: Path) -> None:
    assert told(error("SQLITE_CONSTRAINT_UNIQUE", "UNIQUE constraint failed"), "the store", store) is None


def test_a_copy_that_was_cut_short_says_how_much_is_missing(store: Path, tmp_path: Path) -> None:
    with closing(sqlite3.connect(store)) as raw:
        raw.execute("PRAGMA journal_mode = DELETE")
        raw.execute("CREATE TABLE more (text)")
        raw.execute("INSERT INTO more VALUES (?)", ("x" * 20_000,))
        raw.commit()
    cut = tmp_path / "cut.db"
    cut.write_bytes(store.read_bytes()[:-8_192])
    with pytest.raises(StoreUnusableError) as refused, open_store(str(cut)).reading() as c:
        c.exec_driver_sql("PRAGMA integrity_check").fetchall()
        c.exec_driver_sql("SELECT * FROM more").fetchall()
    assert "ends 8,192 bytes too early" in refused.value.message
    assert "taskdb store backup" in (refused.value.hint or "")


def test_a_store_is_read_where_the_disk_has_no_room_for_its_log(store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("taskdb.store.connecting.has_room", lambda *_: False)
    before = sorted(store.parent.iterdir())
    with open_store(str(store)).reading() as c:
        assert c.exec_driver_sql("SELECT name FROM waypoint_set").scalar() == "Wold"
        assert sorted(store.parent.iterdir()) == before, "reading made a file"
    with open_store(str(store)).writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "test")) as w:
        create_set(w, "Moor")
    copy = store.with_name("copy.db")
    shutil.copy(store, copy)
    copy.with_name("copy.db-wal").touch()  # what a reader that found no room left behind
    with open_store(str(copy)).reading() as c:
        assert c.exec_driver_sql("SELECT count(*) FROM waypoint_set").scalar() == 2
