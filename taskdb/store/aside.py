"""Databases of our own that go when they are closed: an empty store to read, and a store's copy for a preview.

Whoever may only read can see what a command would do: it is done to a copy. That is an SQLite database, which spills
to a nameless temporary file, whatever engine it was copied from: both behave alike.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator

from sqlalchemy import Connection, Engine, create_engine, event, insert, select, text
from sqlalchemy.pool import NullPool

from taskdb.store import schema
from taskdb.store.schema_making import make_schema

_BATCH = 5_000
_MAY_WRITE = text(
    "SELECT NOT pg_is_in_recovery() AND current_setting('transaction_read_only') = 'off' AND coalesce(bool_and(CASE"
    " WHEN c.relkind = 'S' THEN has_sequence_privilege(c.oid, 'USAGE')"
    " ELSE has_table_privilege(c.oid, 'INSERT') AND has_table_privilege(c.oid, 'UPDATE')"
    " AND has_table_privilege(c.oid, 'DELETE') END), has_schema_privilege(current_schema(), 'CREATE'))"
    " FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace"
    " WHERE n.nspname = current_schema() AND c.relkind IN ('r', 'S') AND c.relname <> 'alembic_version'"
)


def may_write(c: Connection) -> bool:
    """Say whether an account on a server may write in all of the store's tables, or make them where there are none."""
    return bool(c.execute(_MAY_WRITE).scalar_one())


def private_engine() -> Engine:
    """Return an engine whose connections are each an empty SQLite database of their own."""

    def connect() -> sqlite3.Connection:
        raw = sqlite3.connect("", isolation_level=None)
        raw.execute("PRAGMA foreign_keys = ON")
        return raw

    engine = create_engine("sqlite://", creator=connect, poolclass=NullPool)
    event.listen(engine, "begin", lambda connection: driver_connection(connection).execute("BEGIN"))
    return engine


@contextlib.contextmanager
def empty_store() -> Iterator[Connection]:
    """Yield a connection to a store that holds nothing."""
    with private_engine().connect() as connection:
        make_schema(connection)
        yield connection


def copy_store(source: Connection, target: Connection) -> None:
    """Copy a store, as a reader sees it, into an empty private database."""
    raw = driver_connection(target)
    if source.dialect.name == "sqlite":
        driver_connection(source).backup(raw)
        return
    raw.execute("PRAGMA foreign_keys = OFF")  # a row may refer to a later one of its own table
    make_schema(target)
    for table in schema.metadata.sorted_tables:
        rows = source.execute(select(table), execution_options={"yield_per": _BATCH})
        for batch in rows.mappings().partitions(_BATCH):
            target.execute(insert(table), [dict(row) for row in batch])
    target.commit()
    raw.execute("PRAGMA foreign_keys = ON")


def driver_connection(connection: Connection) -> sqlite3.Connection:
    """Return the connection of Python's own module beneath one to an SQLite database."""
    raw = connection.connection.driver_connection
    assert isinstance(raw, sqlite3.Connection)
    return raw
