"""Is this a store of ours, and what does a driver's error mean? In words, with the way out.

Looks and translates only: what is opened, begun and committed stands in `engine`.
"""

from __future__ import annotations

import sqlite3
from enum import Enum
from pathlib import Path

from sqlalchemy import Connection, text
from sqlalchemy.exc import DBAPIError

from taskdb.errors import StoreBusyError, StoreUnusableError, TaskdbError
from taskdb.store.file_trouble import file_trouble, is_busy
from taskdb.store.version import APPLICATION_ID, NEWEST, current_revision

_OURS = {"alembic_version", "operation", "waypoint_set"}
_BUSY_STATES = {"55P03", "40P01", "40001"}  # lock_not_available, deadlock_detected, serialization_failure
_UNIQUE_STATE = "23505"
_NAME_CONSTRAINTS = {
    "uq_waypoint_set_name",
    "uq_contest_name",
    "uq_task_contest_name",
    "uq_task_name_without_contest",
}


class Kept(Enum):
    """What a database holds when it is opened."""

    NOTHING = "nothing"
    STORE = "store"


def look_into(connection: Connection, shown: str) -> Kept:
    """Say whether a database is empty or a store of this schema; StoreUnusableError where it is neither."""
    if is_empty(connection):
        return Kept.NOTHING
    revision = require_ours(connection, shown)
    if revision != NEWEST:
        raise StoreUnusableError(
            "older-store",
            f"{shown} has schema {revision}, this taskdb needs {NEWEST}.",
            hint="taskdb store upgrade",
            details={"store": shown, "schema": revision, "newest": NEWEST},
        )
    return Kept.STORE


def is_empty(connection: Connection) -> bool:
    """Say whether a database has no tables at all."""
    return not _tables(connection)


def require_ours(connection: Connection, shown: str) -> str:
    """Return a store's schema revision; StoreUnusableError for tables of something else and for a newer schema."""
    is_ours = _tables(connection) >= _OURS
    if connection.dialect.name == "sqlite":
        is_ours = is_ours and connection.exec_driver_sql("PRAGMA application_id").scalar() == APPLICATION_ID
    if not is_ours:
        raise _foreign(connection, shown)
    revision = current_revision(connection)
    details = {"store": shown, "schema": revision, "newest": NEWEST}
    if revision is None or not revision.isdigit():
        raise StoreUnusableError(
            "damaged-store",
            f"{shown} does not say which schema it has.",
            hint="Restore the newest backup, or load a dump into a new store: taskdb store load FILE.",
            details=details,
        )
    if int(revision) > int(NEWEST):
        raise StoreUnusableError(
            "newer-store",
            f"{shown} was written by a newer taskdb (schema {revision}, this one knows {NEWEST}).",
            hint="Install the newest taskdb: pip install --upgrade taskdb",
            details=details,
        )
    return revision


def _tables(connection: Connection) -> set[str]:
    if connection.dialect.name == "sqlite":
        query = "SELECT name FROM sqlite_master WHERE type = 'table'"
    else:
        query = "SELECT tablename FROM pg_catalog.pg_tables WHERE schemaname = current_schema()"
    return {name for (name,) in connection.exec_driver_sql(query)}


def _foreign(connection: Connection, shown: str) -> StoreUnusableError:
    if connection.dialect.name == "sqlite":
        message = f"{shown} is an SQLite file of something else, not a taskdb store."
        hint = "Name another file with --store; a new one is made on the first write."
    else:
        message = f"{shown} holds tables that are not taskdb's."
        hint = "Give taskdb a database of its own (CREATE DATABASE …) and name it with --store."
    return StoreUnusableError("not-a-store", message, hint=hint, details={"store": shown})


def translate(error: BaseException, shown: str, wait_s: float, path: Path | None = None) -> TaskdbError | None:
    """Return the error in taskdb's words for a driver's or SQLAlchemy's error, or None where it is a bug.

    `path` is the store's file: it and its disk are looked at before anything is said of them.
    """
    cause: BaseException | None = error.orig if isinstance(error, DBAPIError) else error
    if isinstance(cause, sqlite3.Error):
        if is_busy(cause):
            return busy(shown, wait_s)
        return file_trouble(cause, shown, path)
    if isinstance(error, DBAPIError) and cause is not None:
        return _translate_postgresql(cause, shown, wait_s)
    return None


def _translate_postgresql(cause: BaseException, shown: str, wait_s: float) -> TaskdbError | None:
    state = getattr(cause, "sqlstate", None)
    if state in _BUSY_STATES:
        return busy(shown, wait_s)
    if state == _UNIQUE_STATE and cause.diag.constraint_name in _NAME_CONSTRAINTS:  # type: ignore[attr-defined]
        # A lock on the parent row orders writers; two that make the same new thing have none to lock.
        return StoreBusyError(
            "store-busy",
            f"Another writer of {shown} made the same thing at the same moment; nothing was kept.",
            hint="Try the same command again.",
            details={"store": shown},
        )
    if type(cause).__name__ == "OperationalError":
        return StoreUnusableError(
            "store-not-reachable",
            f"{shown} cannot be used: {str(cause).strip().splitlines()[0] if str(cause).strip() else 'no answer'}.",
            hint="Look at host, database, user and password of --store, and whether the server runs.",
            details={"store": shown},
        )
    if state is None and type(cause).__name__ == "ProgrammingError":
        # The driver or its libpq does not take something of the URL; what, may be part of a password.
        return StoreUnusableError(
            "store-not-reachable",
            f"{shown} cannot be used: the PostgreSQL driver does not take an option or a value in its URL.",
            hint="Look at the options after the ? of --store.",
            details={"store": shown},
        )
    if state == "42501" or state == "25006":
        return StoreUnusableError(
            "store-not-writable",
            f"{shown}: {str(cause).strip().splitlines()[0]}.",
            hint="Ask the database's owner for the right to write in it.",
            details={"store": shown},
        )
    return None


def busy(shown: str, wait_s: float) -> StoreBusyError:
    """Return the error for a store that another writer has held for the whole wait."""
    return StoreBusyError(
        "store-busy",
        f"Another writer holds {shown}; waited {wait_s:g} s; nothing was kept.",
        hint="Try the same command again, or wait longer with --wait.",
        details={"store": shown, "wait_s": wait_s},
    )


def set_lock_timeout(connection: Connection, wait_s: float) -> None:
    """Let PostgreSQL wait at most `wait_s` for a row that another writer holds (this transaction only)."""
    connection.execute(text(f"SET LOCAL lock_timeout = {max(1, round(wait_s * 1000))}"))
