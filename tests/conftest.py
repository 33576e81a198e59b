"""Stores for tests: every test that asks for `store_url` runs on SQLite, and on PostgreSQL where a server is given.

The server's URL is taken from TASKDB_TEST_POSTGRESQL (tests/run.sh starts one). Making a database takes longer than
most tests, so each process has one for all its tests, which is emptied after each. Where TASKDB_TEST_POOLER is given
(python -m tests.servers.pooler) the tests use the server through that.
"""

from __future__ import annotations

import atexit
import gc
import os
import shutil
import sqlite3
import tempfile
import uuid
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings
from sqlalchemy import Connection, create_engine, make_url
from sqlalchemy.pool import NullPool

from tests.once import compile_once, search_once

# Each worker has a processor; threads of numpy and scipy would only wait for one another: a fifth of the judges' time.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

SERVER = os.environ.get("TASKDB_TEST_POSTGRESQL", "")
AS_USED = os.environ.get("TASKDB_TEST_POOLER") or SERVER
ENGINES = ["sqlite", "postgresql"] if SERVER else ["sqlite"]

# A cache of the run's own, which its workers and the commands that they start share.
if "TASKDB_CACHE" not in os.environ:
    os.environ["TASKDB_CACHE"] = tempfile.mkdtemp(prefix="taskdb-tests-")
    atexit.register(shutil.rmtree, os.environ["TASKDB_CACHE"], ignore_errors=True)

# The same examples on every run and every machine; `--hypothesis-profile=default` looks for others.
settings.register_profile("the same", derandomize=True, deadline=None, print_blob=True)
settings.load_profile("the same")

compile_once(SERVER)


def pytest_collection_finish() -> None:
    """Take what was collected out of sight of the garbage collector, which would walk through it time and again.

    It looks as seldom as in a command of its own (`cli.main.run`): a twentieth of the time of commands and services.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(100_000, 20, 20)


@pytest.fixture
def courses_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """Measure each course once in this process: for tests that ask about something else."""
    search_once(monkeypatch)


@pytest.fixture
def seed(request: pytest.FixtureRequest) -> int:
    """The seed of a test that draws at random: the same on every run, told with its failure.

    TASKDB_TEST_SEED gives another.
    """
    chosen = int(os.environ.get("TASKDB_TEST_SEED", "20270514"))
    print(f"TASKDB_TEST_SEED={chosen}")
    return chosen


# -- on the server ----------------------------------------------------------------------------------------------------


def _on_server(*statements: str) -> None:
    engine = create_engine(SERVER, isolation_level="AUTOCOMMIT", poolclass=NullPool)
    with engine.connect() as connection:
        for statement in statements:
            connection.exec_driver_sql(statement)


def new_database() -> tuple[str, Callable[[], None]]:
    """Make an empty database; return its URL and what drops it."""
    name = f"store_{uuid.uuid4().hex}"
    _on_server(f"CREATE DATABASE {name}")
    return in_database(AS_USED, name), lambda: _on_server(f"DROP DATABASE {name} WITH (FORCE)")


def in_database(url: str, name: str | None) -> str:
    """Return the URL of another database of the same server."""
    return make_url(url).set(database=name).render_as_string(hide_password=False)


_OTHERS = """
SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()
"""
_SEQUENCES_ANEW = "SELECT setval(oid::regclass, 1, false) FROM pg_class WHERE relkind = 'S' AND relname LIKE '%%_seq'"
_SHAPE = """
SELECT c.relname, c.relkind, c.relacl::text, a.attname, a.atttypid::text, a.attnotnull, (SELECT datacl::text FROM
    pg_database WHERE datname = current_database()), (SELECT count(*) FROM pg_db_role_setting)
FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid WHERE c.relnamespace = 'public'::regnamespace
ORDER BY c.relname, a.attnum
"""


_SEQUENCES = "SELECT sequencename, last_value FROM pg_sequences WHERE schemaname = 'public' AND last_value IS NOT NULL"


_NO_ROWS = 21
"""Bytes of a binary COPY without a row: its head, and a row of -1 fields at the end."""


def _tables() -> list[str]:
    """Return the tables of a store, in an order in which they can be filled."""
    from taskdb.store.schema import metadata

    return [table.name for table in metadata.sorted_tables if table.name != "alembic_version"]


@dataclass(frozen=True)
class KeptRows:
    """All that stands in a store on the server: the rows of each table that has some, and how far its numbers are."""

    tables: dict[str, bytes]
    sequences: list[tuple[str, int]]


class EmptiedStore:
    """A database with the tables of a store, emptied after each test, and made anew where its shape was changed."""

    def __init__(self) -> None:
        self._made: tuple[str, Callable[[], None]] | None = None
        self._shape: list[tuple[object, ...]] = []

    def url(self) -> str:
        if self._made is None:
            from taskdb.store.schema_making import make_schema

            self._made = new_database()
            with self._connected() as connection:
                make_schema(connection)
                self._shape = self._look(connection)
        return self._made[0]

    def empty(self) -> None:
        """Bring the store back to its first state; sessions that a test left behind are ended."""
        with self._connected() as connection:
            connection.exec_driver_sql(_OTHERS)
            is_as_made = self._look(connection) == self._shape
            if is_as_made:
                connection.exec_driver_sql("".join(f"DELETE FROM {name};" for name in reversed(_tables())))
                connection.exec_driver_sql(_SEQUENCES_ANEW)
        if not is_as_made:
            self.drop()

    def rows(self) -> KeptRows:
        with self._cursor() as cursor:
            found = {}
            for name in _tables():
                with cursor.copy(f"COPY {name} TO STDOUT (FORMAT binary)") as copy:
                    found[name] = b"".join(copy)
            cursor.execute(_SEQUENCES)
            return KeptRows({n: rows for n, rows in found.items() if len(rows) > _NO_ROWS}, cursor.fetchall())

    def fill(self, kept: KeptRows) -> None:
        """Put rows into the empty store: a tenth of the time of the services that led to them."""
        with self._cursor() as cursor:
            for name, rows in kept.tables.items():
                with cursor.copy(f"COPY {name} FROM STDIN (FORMAT binary)") as copy:
                    copy.write(rows)
            for name, last in kept.sequences:
                cursor.execute("SELECT setval(%s::regclass, %s)", (name, last))

    def drop(self) -> None:
        if self._made is not None:
            self._made[1]()
        self._made = None

    def _connected(self) -> Connection:
        assert self._made is not None
        straight = in_database(SERVER, make_url(self._made[0]).database)
        return create_engine(straight, poolclass=NullPool, isolation_level="AUTOCOMMIT").connect()

    @contextmanager
    def _cursor(self) -> Iterator[Any]:
        """Yield a cursor of the driver's own, whose work is kept at the end."""
        with self._connected() as connection, connection.connection.cursor() as cursor:
            yield cursor

    def _look(self, connection: Connection) -> list[tuple[object, ...]]:
        versions = connection.exec_driver_sql("SELECT version_num FROM alembic_version")
        return [tuple(row) for rows in (versions, connection.exec_driver_sql(_SHAPE)) for row in rows]


@pytest.fixture(scope="session")
def emptied_store() -> Iterator[EmptiedStore]:
    store = EmptiedStore()
    yield store
    store.drop()


# -- stores -----------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def empty_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An SQLite store in which nothing is: copying it takes a fiftieth of the time that making its tables does."""
    from taskdb.store.schema_making import make_schema

    path = tmp_path_factory.mktemp("store") / "empty.db"
    with create_engine(f"sqlite:///{path}", poolclass=NullPool).connect() as connection:
        make_schema(connection)
        connection.commit()
        connection.exec_driver_sql("PRAGMA journal_mode = WAL")
    return path


def copied(store: str, to: Path) -> Path:
    """Copy the file of an SQLite store that nobody writes, with all that its log still holds."""
    with closing(sqlite3.connect(store)) as raw:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return Path(shutil.copyfile(store, to))


@pytest.fixture(params=ENGINES)
def store_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of a store in which nothing is."""
    if request.param == "sqlite":
        yield shutil.copyfile(request.getfixturevalue("empty_file"), str(tmp_path / "store.db"))
        return
    store: EmptiedStore = request.getfixturevalue("emptied_store")
    yield store.url()
    store.empty()


@pytest.fixture(params=ENGINES)
def empty_store_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """An address at which there is nothing yet: no file, or a database without tables."""
    if request.param == "sqlite":
        yield str(tmp_path / "store.db")
        return
    url, drop = new_database()
    yield url
    drop()
