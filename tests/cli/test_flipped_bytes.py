"""A store some of whose bytes are others than were written: SQLite takes them, and no reader foresaw them."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from taskdb.errors import ExitCode

DEMO = Path(__file__).parents[2] / "demo"

FLIPS = [
    pytest.param(b'"earth":', b'"ea2th":', ["task", "show", "A"], id="a word of a value"),
    pytest.param(b'"earth":', b'"ea\xf0th":', ["task", "show", "A"], id="no UTF-8 in a value"),
    pytest.param(b"take_off TEXT", b"take_of\x81 TEXT", ["task", "show", "A"], id="the name of a column"),
    pytest.param(
        b" set_revision (\n\tset_id INTEGER",
        b" set_revision (\n\tset_id INTE,ER",
        ["set", "show", "region"],
        id="a type, so that a row that is asserted is not there",
    ),
    pytest.param(
        b" airspace_revision (\n\tairspace_id INTEGER",
        b" airspace_revision (\n\tairspace_id INTE,ER",
        ["airspace", "show", "air"],
        id="a type, so that a row that is asked for is not there",
    ),
    pytest.param(b"UNIQUE (name)", b"UNIQUE (na\xf0e)", ["set", "list"], id="what SQLite itself quotes"),
]


@pytest.fixture
def store(built, store_path: Path) -> Path:
    built(
        ("set", "import", DEMO / "region.csv", "--into", "region"),
        ("task", "new", "A", "001", "232", "004", "001", "--set", "region"),
        ("airspace", "import", DEMO / "airspace.geojson", "--into", "air"),
    )
    with closing(sqlite3.connect(store_path)) as raw:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return store_path


@pytest.mark.parametrize(("was", "now", "words"), FLIPS)
def test_flipped_bytes_are_told_as_damage_and_are_no_bug(taskdb, store, was, now, words):
    assert taskdb(*words).exit_code is ExitCode.DONE
    whole = store.read_bytes()
    assert was in whole and len(was) == len(now)
    store.write_bytes(whole.replace(was, now))
    done = taskdb(*words, "--json")
    assert (done.exit_code, done.error()["code"]) == (ExitCode.STORE_UNUSABLE, "damaged-store")
    assert "newest backup" in done.error()["hint"]
    verified = taskdb("store", "verify")
    assert verified.exit_code is ExitCode.STORE_UNUSABLE and "Traceback" not in verified.stderr


def test_over_a_whole_store_what_nobody_foresaw_stays_a_bug(taskdb, store, tmp_path, monkeypatch):
    def fail(*_: object, **__: object) -> None:
        raise KeyError("missing_thing")

    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    monkeypatch.setattr("taskdb.services.tasks.task.show_task", fail)
    assert taskdb("task", "show", "A").exit_code is ExitCode.BUG
