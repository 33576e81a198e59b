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
_BUSY_STATES = {"55P03", "40P01"}  # lock_not_available, deadlock_detected
_BROKEN_OFF = "40001"  # serialization_failure: what a replica tells a reader whose rows it has to take away
_UNIQUE_STATE = "23505"
_BEGIN_SESSION = text(
    "SELECT set_config('lock_timeout', :wait_ms, true), pg_is_in_recovery(),"
    " current_setting('default_transaction_read_only') = 'on'"
)
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
    if state == _BROKEN_OFF:
        return _broken_off(cause, shown)
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
            f"{shown} cannot be used: {_first_line(cause)}.",
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
    if state == "25006":  # read_only_sql_transaction
        return takes_no_writes(shown, Session.READ_ONLY)
    if state == "42501":
        return StoreUnusableError(
            "store-not-writable",
            f"{shown}: {_first_line(cause)}.",
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


def _broken_off(cause: BaseException, shown: str) -> StoreBusyError:
    return StoreBusyError(
        "store-busy",
        f"{shown} broke the command off, for the sake of what others wrote ({_first_line(cause)}); nothing was kept.",
        hint="Try the same command again. On a replica its owner can let readers finish: hot_standby_feedback, or a"
        " longer max_standby_streaming_delay.",
        details={"store": shown},
    )


def _first_line(cause: BaseException) -> str:
    return next(iter(str(cause).strip().splitlines()), "no answer").rstrip(".")


class Session(Enum):
    """What may be done in a session of a server, whatever the rights of its account."""

    WRITES = "writes"
    READ_ONLY = "read-only"
    REPLICA = "replica"


def begin_session(connection: Connection, wait_s: float) -> Session:
    """Let a server wait at most `wait_s` for a row that another writer holds (this transaction only).

    Return whether the session takes writes: asked in the same statement, before anything is computed.
    """
    given = {"wait_ms": str(max(1, round(wait_s * 1000)))}
    _, is_replica, is_read_only = connection.execute(_BEGIN_SESSION, given).one()
    if is_replica:
        return Session.REPLICA
    return Session.READ_ONLY if is_read_only else Session.WRITES


def takes_no_writes(shown: str, session: Session) -> StoreUnusableError:
    """Return the error for a write in a session that takes none."""
    if session is Session.REPLICA:
        message = f"{shown} is a replica: it follows another server and takes no writes."
        hint = (
            "Name the primary server with --store. An address with both finds the one that writes:"
            " postgresql+psycopg://USER@PRIMARY,REPLICA/DATABASE?target_session_attrs=read-write"
        )
    else:
        message = f"{shown} takes no writes: its sessions are read-only."
        hint = (
            "Ask the database's owner for the right to write in it. Where the server is a replica, name the one that it"
            " follows with --store."
        )
    return StoreUnusableError(
        "store-not-writable", message, hint=hint, details={"store": shown, "replica": session is Session.REPLICA}
    )
