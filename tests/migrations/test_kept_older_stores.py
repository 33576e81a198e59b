"""Each schema that was ever released is kept as a small store, and upgrades to the newest with every row.

The stores are SQL text (and, for the newest schema, a dump): tests/data/stores/make.py made them.
"""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from contextlib import closing
from pathlib import Path

import pytest

from taskdb.services.desk import Desk, Write
from taskdb.services.store.copies import dump_store, load_store
from taskdb.services.store.verify import verify_store
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


def lines(path: Path) -> list[str]:
    """A dump's lines; of the last one not the checksum, which the kept dump is without."""
    text = path.read_text(encoding="utf-8").splitlines()
    last = json.loads(text[-1])
    last.pop("sha256", None)
    return [*text[:-1], json.dumps(last)]


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
    assert lines(tmp_path / "a.dump") == lines(kept)
    desk = Desk(empty_store_url, "Ann")
    load_store(desk, str(kept), Write("store load"))
    dump_store(desk, str(tmp_path / "b.dump"), Write("store dump"))
    assert lines(tmp_path / "b.dump") == lines(kept)
    assert verify_store(desk).problems == ()
