"""Stores for tests: every test that asks for `store_url` runs on SQLite, and on PostgreSQL where a server is given.

The server's URL is taken from TASKDB_TEST_POSTGRESQL (tests/run.sh starts one); each test gets a database of its own.
"""

from __future__ import annotations

import os
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sqlalchemy import URL, create_engine, make_url
from sqlalchemy.pool import NullPool

SERVER = os.environ.get("TASKDB_TEST_POSTGRESQL", "")
ENGINES = ["sqlite", "postgresql"] if SERVER else ["sqlite"]


def _on_server(*statements: str) -> None:
    engine = create_engine(SERVER, isolation_level="AUTOCOMMIT", poolclass=NullPool)
    with engine.connect() as connection:
        for statement in statements:
            connection.exec_driver_sql(statement)


def _url(database: str) -> str:
    url: URL = make_url(SERVER).set(database=database)
    return url.render_as_string(hide_password=False)


@pytest.fixture(scope="session")
def _template() -> Iterator[str]:
    """The name of a database that holds an empty store: a copy of it is made faster than the tables."""
    from taskdb.store.schema_making import make_schema

    name = f"template_{uuid.uuid4().hex}"
    _on_server(f"CREATE DATABASE {name}")
    engine = create_engine(_url(name), poolclass=NullPool)
    with engine.begin() as connection:
        make_schema(connection)
    yield name
    _on_server(f"DROP DATABASE {name}")


def new_database(template: str | None) -> tuple[str, Callable[[], None]]:
    """Make a database, from a template or empty; return its URL and what drops it."""
    name = f"store_{uuid.uuid4().hex}"
    _on_server(f"CREATE DATABASE {name}" + (f" TEMPLATE {template}" if template else ""))
    return _url(name), lambda: _on_server(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(params=ENGINES)
def store_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """A store's address: an SQLite file that the first write makes, or a PostgreSQL database with the schema."""
    if request.param == "sqlite":
        yield str(tmp_path / "store.db")
        return
    url, drop = new_database(request.getfixturevalue("_template"))
    yield url
    drop()


@pytest.fixture(params=ENGINES)
def empty_store_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """An address at which there is nothing yet: no file, or a database without tables."""
    if request.param == "sqlite":
        yield str(tmp_path / "store.db")
        return
    url, drop = new_database(None)
    yield url
    drop()
