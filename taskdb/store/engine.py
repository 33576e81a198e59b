"""Opens a store, and frames every read (one consistent snapshot) and every write (one transaction, one operation).

Knows transactions and locks; what is read and written stands in the modules by noun. A missing SQLite
store reads as an empty one and is made by the first write that keeps something.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
import stat
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

from sqlalchemy import Connection as Connection, Engine
from sqlalchemy.exc import DBAPIError

from taskdb.errors import StoreUnusableError
from taskdb.store.address import Address, parse_address
from taskdb.store.aside import copy_store, driver_connection, empty_store, may_write, private_engine
from taskdb.store.checksums import seal_written
from taskdb.store.connecting import DEADLINE, connect, is_at_rest_for_us, lock, server_engine, sqlite_engine
from taskdb.store.opening import Kept, Session, begin_session, busy, is_empty, look_into, takes_no_writes, translate
from taskdb.store.schema_making import make_schema
from taskdb.store.version import APPLICATION_ID
from taskdb.store.writing import MovedOnError, NewOperation as NewOperation, Writing as Writing, newest_operation

# One writer at a time, who is sure of all that was read and of the next number; the server lets them queue in turn.
_LOCK = f"SELECT pg_advisory_xact_lock({APPLICATION_ID}, hashtext(current_schema()))"
_LOOK_ONLY = "SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY"


def open_store(url: str, *, wait_s: float = 30.0, make_folder: bool = False) -> Store:
    """Return the store at a plain path or SQLAlchemy URL. Opens nothing yet.

    `wait_s` is how long a busy store is waited for; `make_folder` lets the first write make a missing folder.
    Raises UsageError for an address or driver that is not known.
    """
    return Store(parse_address(url), wait_s=wait_s, make_folder=make_folder)


class Store:
    """A database of ours, there or not yet there. `url` may hold a password, `shown_url` never does."""

    def __init__(self, address: Address, *, wait_s: float, make_folder: bool) -> None:
        self.url = address.url
        self.shown_url = address.shown
        self.path = address.path
        self.is_sqlite = address.path is not None
        self.wait_s = wait_s
        self._make_folder = make_folder
        self.engine = sqlite_engine(address.path, wait_s) if address.path is not None else server_engine(address)

    @contextlib.contextmanager
    def reading(self) -> Iterator[Connection]:
        """Yield a connection that sees one consistent snapshot and writes nothing.

        A store that is not there yet yields an empty one in memory. Raises StoreUnusableError, StoreBusyError.
        """
        with self._in_words(), contextlib.ExitStack() as stack:
            yield self._begin_reading(stack)

    @contextlib.contextmanager
    def writing(
        self, operation: NewOperation, *, preview: bool = False, looks_first: bool = False
    ) -> Iterator[Writing]:
        """Yield a write under one new operation; commit at the end, roll back on any exception or for a preview.

        The store is made where it is missing (on SQLite only once something is kept; a preview makes nothing). Who may
        only read previews on a copy of the store, which goes with it. What `looks_first` reads one snapshot, and waits
        for the lock with its first written row (`Writing.carried_out`); else the lock is had from the beginning.
        Raises StoreUnusableError, StoreBusyError.
        """
        with self._changing(operation, preview=preview, looks_first=looks_first) as writing:
            if not looks_first:
                _ = writing.operation_id
            yield writing

    @contextlib.contextmanager
    def filling(self, *, preview: bool = False) -> Iterator[Connection]:
        """Yield a connection for filling a new store row by row, without an operation of its own; else as `writing`."""
        with self._changing(None, preview=preview) as writing:
            yield writing.connection

    @contextlib.contextmanager
    def upgrading(self) -> Iterator[Connection | None]:
        """Yield a connection that alone may change the schema; commit at the end, roll back on any exception.

        None where there is no store yet. On SQLite foreign keys are off: rebuilding a parent table would delete its
        children by cascade. Raises StoreUnusableError, StoreBusyError.
        """
        with self._in_words():
            if self._is_missing():
                yield None
                return
            connection = self._lock(time.monotonic() + self.wait_s, keys=False) if self.is_sqlite else self._connect()
            with contextlib.closing(connection):
                if not self.is_sqlite:
                    connection.exec_driver_sql(_LOCK)
                yield None if is_empty(connection) else connection
                connection.commit()

    def exists(self) -> bool:
        """Say whether there is a store already. Raises StoreUnusableError where there is something else."""
        with self._in_words(), contextlib.ExitStack() as stack:
            if self._is_missing():
                return False
            return look_into(self._connect_to_read(stack), self.shown_url) is Kept.STORE

    # -- how it is done --------------------------------------------------------------------------------------

    @contextlib.contextmanager
    def _changing(
        self, operation: NewOperation | None, *, preview: bool, looks_first: bool = False
    ) -> Iterator[Writing]:
        """Yield a write; without an operation it only fills."""
        with self._in_words():
            file = None if self.path is None else _file_identity(self.path)
            looking = self._begin_looking(preview=preview) if looks_first else None
            connection, is_made = (looking, False) if looking is not None else self._begin_writing(preview=preview)
            is_kept = False
            try:
                get_lock = None
                if looking is not None:
                    get_lock = partial(self._lock_looking, connection, newest_operation(connection), file)
                else:
                    file = None if self.path is None else _file_identity(self.path)
                    self._prepare(connection)
                writing = Writing(connection, operation or NewOperation("", "", ""), get_lock)
                yield writing
                if not (preview or writing.is_abandoned):
                    seal_written(connection, writing.operation_id if operation is not None else 0)
                    self._require_there(file)
                    connection.commit()
                    self._require_there(file)
                    is_kept = True
            finally:
                connection.rollback()
                if is_made and not is_kept:
                    _remove_if_empty(connection, self.path)
                connection.close()
            if is_kept and self.path is not None:
                self._use_wal(self.path)

    @contextlib.contextmanager
    def _in_words(self) -> Iterator[None]:
        try:
            yield
        except (DBAPIError, sqlite3.Error) as error:
            in_words = translate(error, self.shown_url, self.wait_s, self.path)
            if in_words is None:
                raise
            raise in_words from error

    def _require_there(self, file: tuple[int, int] | None) -> None:
        """Raise StoreUnusableError where the store's file is no longer the one that is written: nobody will find it."""
        if file is not None and self.path is not None and _file_identity(self.path) != file:
            raise StoreUnusableError(
                "store-gone",
                f"{self.shown_url} was deleted or replaced while the command ran; what it did is not kept.",
                hint="Restore the newest backup there if it was not meant to go, and give the command again.",
                details={"store": self.shown_url},
            )

    def _is_missing(self) -> bool:
        if self.path is None:
            return False
        try:
            status = self.path.stat()
        except (FileNotFoundError, NotADirectoryError):
            return True
        except OSError as error:
            raise StoreUnusableError(
                "store-not-usable",
                f"{self.shown_url} cannot be looked at: {error.strerror}.",
                hint="Look at the rights of the file's folder, or name another file with --store.",
                details={"store": self.shown_url},
            ) from None
        if stat.S_ISDIR(status.st_mode):
            raise StoreUnusableError(
                "not-a-store", f"{self.shown_url} is a folder, not a store.", hint="Name a file in it with --store."
            )
        return status.st_size == 0

    def _begin_reading(self, stack: contextlib.ExitStack) -> Connection:
        if self._is_missing():
            return stack.enter_context(empty_store())
        connection = self._connect_to_read(stack)
        if look_into(connection, self.shown_url) is Kept.NOTHING:
            return stack.enter_context(empty_store())
        return connection

    def _connect_to_read(self, stack: contextlib.ExitStack) -> Connection:
        if self.path is not None:
            if is_at_rest_for_us(self.path):
                engine = stack.enter_context(self._immutable(self.path))
            else:
                engine = self.engine
            connection = stack.enter_context(engine.connect())
            driver_connection(connection).execute("PRAGMA query_only = ON")
        else:
            connection = stack.enter_context(
                self.engine.connect().execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
            )
        return connection

    @contextlib.contextmanager
    def _immutable(self, path: Path) -> Iterator[Engine]:
        """Yield an engine that takes no locks, for a folder we may not write: there SQLite cannot read a WAL store.

        Raises StoreBusyError where the file changed meanwhile: what was read may then be neither old nor new.
        """
        before = path.stat()
        yield sqlite_engine(path, self.wait_s, options="mode=ro&immutable=1")
        after = path.stat()
        if (before.st_mtime_ns, before.st_size) != (after.st_mtime_ns, after.st_size):
            raise busy(self.shown_url, 0.0)

    def _begin_looking(self, *, preview: bool) -> Connection | None:
        """Return a connection to a store that is there, which sees one snapshot and cannot write yet; else None."""
        if self._is_missing() or (preview and not self._may_write()):
            return None
        if self.path is not None:
            self._use_wal(self.path)
        connection = self._connect(to_write=True) if self.path is None else self.engine.connect()
        try:
            if self.path is not None:
                driver_connection(connection).execute("PRAGMA query_only = ON")
            else:
                connection.connection.rollback()
                connection.exec_driver_sql(_LOOK_ONLY)
            if look_into(connection, self.shown_url) is Kept.STORE:
                return connection
        except BaseException:
            connection.close()
            raise
        connection.close()
        return None

    def _lock_looking(self, connection: Connection, seen: int, file: tuple[int, int] | None) -> None:
        """Let a connection that looked write; MovedOnError where there are newer operations than `seen`."""
        if self.path is not None:
            raw = driver_connection(connection)
            raw.rollback()  # the snapshot: one that has grown old could not be written on
            raw.execute("PRAGMA query_only = OFF")
            lock(raw, self.path, self.wait_s, time.monotonic() + self.wait_s)
            self._require_there(file)
        else:
            connection.connection.rollback()
            begin_session(connection, self.wait_s)
            connection.exec_driver_sql(_LOCK)
        look_into(connection, self.shown_url)  # upgraded meanwhile?
        if newest_operation(connection) != seen:
            raise MovedOnError

    def _begin_writing(self, *, preview: bool) -> tuple[Connection, bool]:
        """Return a connection that may write, and whether its file was made for it."""
        if preview and not self._may_write():
            return self._copied_aside(), False
        if self.path is None:
            return self._connect(to_write=True), False
        is_made = False
        if not self._is_missing():
            self._use_wal(self.path)
        elif preview:
            return private_engine().connect(), False
        else:
            is_made = self._make_file(self.path)
        deadline = time.monotonic() + self.wait_s
        while True:
            # A writer whose first write failed removes the file it made while others wait for the lock on it.
            before = _file_identity(self.path)
            connection = self._lock(deadline)
            if before is not None and _file_identity(self.path) == before:
                return connection, is_made
            connection.close()
            is_made = self._make_file(self.path)

    def _may_write(self) -> bool:
        """Say whether we may write into the store; whether a lock can be had is another matter."""
        if self.path is None:
            with self._connect() as connection:
                return may_write(connection)
        return self._is_missing() or (os.access(self.path, os.W_OK) and os.access(self.path.parent, os.W_OK))

    def _copied_aside(self) -> Connection:
        """Return a connection to a copy of the store that nobody else sees; an empty one where there is no store."""
        connection = private_engine().connect()
        try:
            with contextlib.ExitStack() as stack:
                source = self._connect_to_read(stack)
                if look_into(source, self.shown_url) is Kept.STORE:
                    copy_store(source, connection)
        except BaseException:
            connection.close()
            raise
        return connection

    def _connect(self, *, to_write: bool = False) -> Connection:
        connection = self.engine.connect()
        session = begin_session(connection, self.wait_s)
        if to_write and session is not Session.WRITES:
            connection.close()
            raise takes_no_writes(self.shown_url, session)
        return connection

    def _lock(self, deadline: float, *, keys: bool = True) -> Connection:
        connection = self.engine.connect().execution_options(**{DEADLINE: deadline})
        if not keys:  # before the transaction: inside it the pragma does nothing
            driver_connection(connection).execute("PRAGMA foreign_keys = OFF")
        try:
            connection.begin()
        except BaseException:
            connection.close()
            raise
        return connection

    def _make_file(self, path: Path) -> bool:
        try:
            if self._make_folder:
                path.parent.mkdir(parents=True, exist_ok=True)
            with path.open("xb"):
                return True
        except FileExistsError:
            return False
        except FileNotFoundError:
            raise StoreUnusableError(
                "store-not-usable",
                f"The folder {path.parent} of the store does not exist"
                f"{' and cannot be made' if self._make_folder else ''}.",
                hint="Make the folder first, or name another file with --store.",
                details={"store": self.shown_url},
            ) from None
        except OSError as error:
            raise StoreUnusableError(
                "store-not-writable",
                f"{self.shown_url} cannot be made: {error.strerror}.",
                hint="Name another file with --store.",
                details={"store": self.shown_url},
            ) from None

    def _prepare(self, connection: Connection) -> None:
        """Get a server's lock, and make the schema where there is none, in the caller's transaction."""
        if self.path is None and connection.dialect.name != "sqlite":
            connection.exec_driver_sql(_LOCK)
        if look_into(connection, self.shown_url) is not Kept.STORE:
            make_schema(connection)

    def _use_wal(self, path: Path) -> None:
        """Switch an SQLite store to WAL, so that readers and a writer do not wait for each other.

        Never waits and never fails: where others have the file open, a later write tries again.
        """
        with contextlib.suppress(sqlite3.Error), contextlib.closing(connect(path, wait_s=0)) as raw:
            if raw.execute("PRAGMA journal_mode").fetchone()[0] != "wal" and _is_ours(raw):
                raw.execute("PRAGMA journal_mode = WAL")


def _is_ours(raw: sqlite3.Connection) -> bool:
    return bool(raw.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID)


def _file_identity(path: Path) -> tuple[int, int] | None:
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_dev, status.st_ino


def _remove_if_empty(connection: Connection, path: Path | None) -> None:
    """Take away the file that a first write made and then did not need, unless another writer has begun to use it.

    The name goes while the lock is held; whoever waits for that lock sees that the name has gone and begins anew.
    """
    if path is None or connection.dialect.name != "sqlite":
        return
    raw = driver_connection(connection)
    with contextlib.suppress(sqlite3.Error, OSError):
        raw.execute("PRAGMA busy_timeout = 0")
        raw.execute("BEGIN EXCLUSIVE")
        if raw.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0:
            path.unlink()
        raw.execute("ROLLBACK")
