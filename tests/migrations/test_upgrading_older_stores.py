"""An upgrade keeps every row or keeps nothing: tried with migrations invented here, one after the newest."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from taskdb.core.history.changes import SetChanges
from taskdb.core.model import Position, Waypoint
from taskdb.errors import StoreUnusableError
from taskdb.store import opening, sets, upgrade
from taskdb.store.engine import NewOperation, Store, open_store
from taskdb.store.upgrade import NEWEST, migrations_folder, upgrade_store

FOLLOWING = f"{int(NEWEST) + 1:04d}"
OPERATION = NewOperation("2027-05-14T08:30:00Z", "Ann", "test")

# Rebuilds a table that four others refer to: on SQLite with keys on, every child row would go with it.
REBUILD = """
    with op.batch_alter_table("waypoint_set", recreate="auto") as batch:
        batch.alter_column("newest", existing_type=sa.Integer(), type_=sa.BigInteger())
        batch.add_column(sa.Column("remark", sa.Text()))
"""
LOSES = """
    op.add_column("waypoint_set", sa.Column("remark", sa.Text()))
    op.execute("DELETE FROM waypoint_state WHERE code = '007'")
"""
BREAKS = """
    op.add_column("waypoint_set", sa.Column("remark", sa.Text()))
    op.execute("INSERT INTO no_such_table VALUES (1)")
"""


@pytest.fixture
def older(store_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], Store]:
    """Return a store with a set in it, which became older by one migration with this body."""

    def make(body: str) -> Store:
        store = open_store(store_url)
        spots = [Waypoint(f"{i:03d}", "Field", Position.at(48, 11), identity=f"id{i}") for i in range(20)]
        with store.writing(OPERATION) as w:
            sets.write_revision(w, sets.create_set(w, "Wold"), SetChanges(added=spots))
        folder = tmp_path / "migrations"
        shutil.copytree(migrations_folder(), folder, ignore=shutil.ignore_patterns("__pycache__"))
        (folder / "versions" / f"{FOLLOWING}_invented.py").write_text(
            f"import sqlalchemy as sa\nfrom alembic import op\n\n"
            f"revision = {FOLLOWING!r}\ndown_revision = {NEWEST!r}\n\n\ndef upgrade():\n{body}"
        )
        monkeypatch.setattr(upgrade, "migrations_folder", lambda: folder)
        for module in (upgrade, opening):
            monkeypatch.setattr(module, "NEWEST", FOLLOWING)
        return store

    return make


def look(store: Store) -> dict[str, Any]:
    """What stands in the store, past the check of its schema."""
    with store.engine.connect() as c:
        return {
            "revision": c.scalar(text("SELECT version_num FROM alembic_version")),
            "states": c.scalar(text("SELECT count(*) FROM waypoint_state")),
            "revisions": c.scalar(text("SELECT count(*) FROM set_revision")),
            "columns": set(c.execute(text("SELECT * FROM waypoint_set")).keys()),
        }


def test_a_parent_table_is_rebuilt_without_losing_its_children(older: Callable[[str], Store], store_url: str) -> None:
    store = older(REBUILD)
    with pytest.raises(StoreUnusableError) as caught, store.reading():
        pass
    assert (caught.value.code, caught.value.hint) == ("older-store", "taskdb store upgrade")
    result = upgrade_store(store_url)
    assert (result.before, result.after) == (NEWEST, FOLLOWING)
    after = look(store)
    assert (after["revision"], after["states"], after["revisions"]) == (FOLLOWING, 20, 1)
    assert "remark" in after["columns"]
    with store.reading() as c:
        assert len(sets.waypoints_at(c, 1, 1)) == 20
    with pytest.raises(Exception, match=r"(?i)foreign key"), store.writing(OPERATION) as w:
        w.connection.execute(text("DELETE FROM waypoint_set"))


@pytest.mark.parametrize(("body", "code"), [(LOSES, "upgrade-failed"), (BREAKS, None)])
def test_an_upgrade_that_fails_keeps_nothing(
    older: Callable[[str], Store], store_url: str, body: str, code: str | None
) -> None:
    store = older(body)
    before = look(store)
    with pytest.raises(Exception, match=r"lose rows of waypoint_state|no_such_table") as caught:
        upgrade_store(store_url)
    if code is not None:
        assert isinstance(caught.value, StoreUnusableError)
        assert caught.value.code == code
        assert caught.value.details["lost"] == {"waypoint_state": 20}
    assert look(store) == before
    assert before["revision"] == NEWEST


def test_a_preview_of_an_upgrade_keeps_nothing(older: Callable[[str], Store], store_url: str) -> None:
    store = older(REBUILD)
    before = look(store)
    assert upgrade_store(store_url, preview=True).after == FOLLOWING
    assert look(store) == before
