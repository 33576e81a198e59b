"""Each schema that was ever released is kept as a small store, and upgrades to the newest with every row.

The stores are SQL text (and, for the newest schema, a dump): tests/data/stores/make.py made them.
"""

from __future__ import annotations

import sqlite3
from collections import Counter
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from taskdb.services.desk import Desk, Write
from taskdb.services.store.copies import dump_store, load_store
from taskdb.services.store.verify import verify_store
from taskdb.store.checksums import SEALED
from taskdb.store.engine import NewOperation, open_store
from taskdb.store.upgrade import migrations_folder, upgrade_store
from taskdb.store.version import NEWEST

STORES = Path(__file__).parents[1] / "data" / "stores"
SCHEMAS = sorted(path.stem for path in STORES.glob("*.sql"))

MORE_ROWS: dict[str, dict[str, int]] = {}
"""By the schema from which an upgrade starts: tables to which it declares to add rows, and how many."""


def built(schema: str, folder: Path) -> str:
    """Build a kept store and return its path."""
    path = folder / f"{schema}.db"
    with closing(sqlite3.connect(path)) as raw:
        raw.executescript((STORES / f"{schema}.sql").read_text(encoding="utf-8"))
    return str(path)


def counts(path: str) -> Counter[str]:
    with closing(sqlite3.connect(path)) as raw:
        names = [name for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return Counter({name: raw.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0] for name in names})


def test_every_schema_is_kept_as_a_store() -> None:
    migrations = {path.name[:4] for path in (migrations_folder() / "versions").glob("0*.py")}
    assert set(SCHEMAS) == migrations


@pytest.mark.parametrize("schema", SCHEMAS)
def test_a_kept_store_upgrades_with_every_row(schema: str, tmp_path: Path) -> None:
    path = built(schema, tmp_path)
    before = counts(path)
    assert before["waypoint_state"] == 6 and before["task_revision"] == 5 and before["handout"] == 1
    done = upgrade_store(path)
    assert (done.before, done.after) == (schema, NEWEST)
    expected = before + Counter(MORE_ROWS.get(schema, {}))
    after = counts(path)
    assert {name: after[name] for name in expected} == dict(expected)
    assert verify_store(Desk(path, "Ann")).problems == ()


@pytest.mark.parametrize("schema", SCHEMAS[1:-1])
def test_what_is_summed_on_an_upgrade_has_the_checksums_of_what_is_written_now(schema: str, tmp_path: Path) -> None:
    """The season of each is the beginning of the next one's; only where states are cut into hundreds may differ."""
    path = built(schema, tmp_path)
    upgrade_store(path)

    def sums(store: str) -> set[tuple[Any, ...]]:
        with closing(sqlite3.connect(store)) as raw:
            return {
                (sealed.table, *row)
                for sealed in SEALED
                for row in raw.execute(f"SELECT rowid, checksum FROM {sealed.table} ORDER BY rowid")
            }

    upgraded = sums(path)
    assert upgraded <= sums(built(NEWEST, tmp_path)) and len(upgraded) > 20


def test_the_kept_store_of_the_newest_schema_is_as_one_made_now(tmp_path: Path) -> None:
    """Where this fails while a schema is being built: python -m tests.data.stores.make"""

    def statements(path: str) -> dict[str, str]:
        query = "SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%'"
        with closing(sqlite3.connect(path)) as raw:
            return {name: " ".join(sql.split()) for name, sql in raw.execute(query)}

    fresh = str(tmp_path / "fresh.db")
    with open_store(fresh).writing(NewOperation("2027-05-14T08:30:00Z", "Ann", "test")):
        pass
    assert statements(built(NEWEST, tmp_path)) == statements(fresh)


def test_the_kept_dump_of_the_newest_schema_is_that_of_its_store_on_both_engines(
    empty_store_url: str, tmp_path: Path
) -> None:
    kept = STORES / f"{NEWEST}.dump"
    dump_store(Desk(built(NEWEST, tmp_path), "Ann"), str(tmp_path / "a.dump"), Write("store dump"))
    assert (tmp_path / "a.dump").read_text(encoding="utf-8") == kept.read_text(encoding="utf-8")
    desk = Desk(empty_store_url, "Ann")
    load_store(desk, str(kept), Write("store load"))
    dump_store(desk, str(tmp_path / "b.dump"), Write("store dump"))
    assert (tmp_path / "b.dump").read_text(encoding="utf-8") == kept.read_text(encoding="utf-8")
    assert verify_store(desk).problems == ()
