"""Connections to SQLite files and servers: how one is opened, and how its transactions begin."""

from __future__ import annotations

import logging
import os
import sqlite3
import time
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import ArgumentError, NoSuchModuleError
from sqlalchemy.pool import NullPool

from taskdb.disk.looking import has_room
from taskdb.errors import UsageError
from taskdb.store.address import Address
from taskdb.store.aside import driver_connection
from taskdb.store.file_trouble import is_busy
from taskdb.store.turns import is_anybody_waiting, waiting

DEADLINE = "taskdb_deadline"
"""Execution option of a connection that is to write: until when (time.monotonic) the lock is waited for."""

LEAST_ROOM = 1 << 16
"""So many bytes beside a store are enough to read it."""

# What fails is raised. Without a handler Python prints what SQLAlchemy logs of it besides: a traceback of a cursor that
# can no longer be closed, where somebody interrupts a read. Whoever sets logging up still gets it.
logging.getLogger("sqlalchemy").addHandler(logging.NullHandler())

_LOCKING = "BEGIN IMMEDIATE"
_POLL_S = 0.003


def is_at_rest_for_us(path: Path) -> bool:
    """Say whether we cannot write beside the store, and nobody has a write-ahead log there that holds anything.

    Reading needs a log and its index beside the store, which a full disk has no room for.
    """
    if os.access(path.parent, os.W_OK) and has_room(path.parent, LEAST_ROOM):
        return False
    log = path.with_name(path.name + "-wal")
    return not log.exists() or log.stat().st_size == 0


def connect(path: Path, wait_s: float, options: str = "mode=rw") -> sqlite3.Connection:
    """Open an SQLite file. `mode=rw` never makes one; a write-protected one is opened for reading."""
    uri = f"file:{quote(os.fspath(path.absolute()))}?{options}"
    raw = sqlite3.connect(uri, uri=True, timeout=wait_s, isolation_level=None)
    raw.execute("PRAGMA foreign_keys = ON")
    return raw


def sqlite_engine(path: Path, wait_s: float, options: str = "mode=rw") -> Engine:
    """Return an engine for a file that is there; a transaction begins as its execution options say."""
    engine = create_engine("sqlite://", creator=lambda: connect(path, wait_s, options), poolclass=NullPool)
    event.listen(engine, "begin", lambda connection: _begin(connection, path, wait_s))
    return engine


def _begin(connection: Connection, path: Path, wait_s: float) -> None:
    """Issue BEGIN ourselves: under WAL a deferred transaction that reads, then writes, fails at once."""
    raw = driver_connection(connection)
    options = connection.get_execution_options()
    deadline: float | None = options.get(DEADLINE)
    if deadline is None:
        raw.execute("BEGIN")
    else:
        lock(raw, path, wait_s, deadline)


def lock(raw: sqlite3.Connection, path: Path, wait_s: float, deadline: float) -> None:
    """Begin a transaction that may write, in turn with others who wait. Raises SQLite's error after the deadline."""
    # In short steps: SQLite's own waiting cannot be interrupted from the keyboard, and knows no turn.
    raw.execute("PRAGMA busy_timeout = 0")
    if is_anybody_waiting(path) or not _is_begun(raw):
        with waiting(path) as is_our_turn:
            while not (is_our_turn() and _is_begun(raw)):
                if time.monotonic() >= deadline:
                    raw.execute(_LOCKING)
                    break
                time.sleep(_POLL_S)
    raw.execute(f"PRAGMA busy_timeout = {round(wait_s * 1000)}")


def _is_begun(raw: sqlite3.Connection) -> bool:
    try:
        raw.execute(_LOCKING)
    except sqlite3.OperationalError as error:
        if not is_busy(error):
            raise
        return False
    return True


def server_engine(address: Address) -> Engine:
    """Return an engine for a database on a server. UsageError for a driver or an address that is not known.

    Nothing is left behind in a session, which a pooler hands to others after each transaction: no prepared statements.
    """
    asked = {"connect_timeout": 10, "prepare_threshold": None}
    try:
        return create_engine(address.url, poolclass=NullPool, connect_args=asked)
    except (ImportError, NoSuchModuleError):
        raise UsageError(
            "driver-missing",
            f"{address.shown} needs the PostgreSQL driver, which is not installed.",
            hint="pip install 'taskdb[postgresql]'",
        ) from None
    except (ArgumentError, ValueError):
        raise UsageError(
            "unknown-store-url",
            f"{address.shown} is not a URL of a PostgreSQL database.",
            hint="Write it as postgresql+psycopg://USER@HOST/DATABASE.",
        ) from None
