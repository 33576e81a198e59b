"""Brings an older store to the newest schema, all of it or nothing. The only module that imports alembic, when it must.

The migrations lie at the top of a checkout and inside an installed package; one locator knows both places.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, text

from taskdb.errors import StoreUnusableError
from taskdb.store.backup import back_up_before
from taskdb.store.engine import Store, open_store
from taskdb.store.opening import require_ours
from taskdb.store.version import NEWEST, current_revision

__all__ = ["NEWEST", "Upgraded", "current_revision", "migrations_folder", "run_migrations", "upgrade_store"]


@dataclass(frozen=True, slots=True)
class Upgraded:
    """What an upgrade did; `before` is None where there was no store yet, equal to `after` where nothing was to do."""

    before: str | None
    after: str
    backup: Path | None = None
    """Where an SQLite store was kept as it was before."""


def migrations_folder() -> Path:
    """Return the folder with alembic's environment: inside the installed package, else at the top of the checkout."""
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "migrations", package.parent / "migrations"):
        if (folder / "env.py").is_file():
            return folder
    raise FileNotFoundError(f"no migrations beside or inside {package}")


def upgrade_store(
    url: str,
    *,
    wait_s: float = 30.0,
    preview: bool = False,
    before_keeping: Callable[[], None] | None = None,
    backup_at: str | None = None,
) -> Upgraded:
    """Bring a store to the newest schema in one transaction; a store that is not there yet stays so.

    `preview` does it all and keeps nothing; `before_keeping` is called when only the commit is left to do. With a
    time in `backup_at` an SQLite store is kept as it was first: no backup, no upgrade.
    Raises StoreUnusableError for a store that is damaged, newer, not ours, or whose rows would not survive,
    StoreBusyError where another writer holds it. Nothing is kept of an upgrade that fails.
    """
    store = open_store(url, wait_s=wait_s)
    with store.upgrading() as connection:
        if connection is None:
            return Upgraded(None, NEWEST)
        before = require_ours(connection, store.shown_url)
        if before == NEWEST:
            return Upgraded(before, NEWEST)
        backup = back_up_before(store, "store upgrade", backup_at) if backup_at is not None and not preview else None
        with _nothing_lost(connection, store):
            run_migrations(connection)
        if preview:
            connection.rollback()
        elif before_keeping is not None:
            before_keeping()
        return Upgraded(before, NEWEST, backup)


def run_migrations(connection: Connection, target: str = "head") -> None:
    """Run the migrations up to `target` over a connection, inside its transaction."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(migrations_folder()).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    command.upgrade(config, target)


@contextlib.contextmanager
def _nothing_lost(connection: Connection, store: Store) -> Iterator[None]:
    """Hold the rows of every table against those before: rebuilding a parent table can delete its children unseen."""
    before = _row_counts(connection)
    yield
    after = _row_counts(connection)
    lost = {name: count for name, count in before.items() if name in after and after[name] < count}
    broken = _broken_keys(connection)
    if lost or broken:
        tables = ", ".join(sorted({*lost, *broken}))
        raise StoreUnusableError(
            "upgrade-failed",
            f"The upgrade of {store.shown_url} would lose rows of {tables}; nothing was kept.",
            hint="Keep the store as it is and report this.",
            details={"lost": lost, "broken": sorted(broken)},
        )


def _row_counts(connection: Connection) -> dict[str, int]:
    if connection.dialect.name == "sqlite":
        query = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite^_%' ESCAPE '^'"
    else:
        query = "SELECT tablename FROM pg_catalog.pg_tables WHERE schemaname = current_schema()"
    names = connection.scalars(text(query)).all()
    return {name: connection.exec_driver_sql(f'SELECT count(*) FROM "{name}"').scalar_one() for name in names}


def _broken_keys(connection: Connection) -> set[str]:
    raw = connection.connection.driver_connection
    if not isinstance(raw, sqlite3.Connection):
        return set()
    return {row[0] for row in raw.execute("PRAGMA foreign_key_check")}
