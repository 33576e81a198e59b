"""Connections to SQLite files and servers: how one is opened, and how its transactions begin."""

from __future__ import annotations

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

BEGIN = "taskdb_begin"
DEADLINE = "taskdb_deadline"
"""Execution options: the statement that begins a transaction, and until when (time.monotonic) a lock is waited for."""

LEAST_ROOM = 1 << 16
"""So many bytes beside a store are enough to read it."""

_POLL_MS = 200  # how long SQLite itself waits for a lock before we look for Ctrl-C and the deadline


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
    event.listen(engine, "begin", lambda connection: _begin(connection, wait_s))
    return engine


def _begin(connection: Connection, wait_s: float) -> None:
    """Issue BEGIN ourselves: under WAL a deferred transaction that reads, then writes, fails at once."""
    raw = driver_connection(connection)
    options = connection.get_execution_options()
    statement: str = options.get(BEGIN, "BEGIN")
    deadline: float | None = options.get(DEADLINE)
    if deadline is None:
        raw.execute(statement)
        return
    # In short steps, since SQLite's own waiting cannot be interrupted from the keyboard.
    raw.execute(f"PRAGMA busy_timeout = {_POLL_MS}")
    while True:
        try:
            raw.execute(statement)
            break
        except sqlite3.OperationalError as error:
            if not is_busy(error) or time.monotonic() >= deadline:
                raise
    raw.execute(f"PRAGMA busy_timeout = {round(wait_s * 1000)}")


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
