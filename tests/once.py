"""What the tests of one process do once although each command and each store does it anew: nothing that they ask about.

A process of a user's runs one command; one of ours runs thousands. What is kept here is what comes out the same for the
same input, whoever asks: statements compiled to text, and the path through given zones.
"""

from __future__ import annotations

import functools
import pickle
from typing import Any

import pytest
from sqlalchemy import URL, Engine, create_engine
from sqlalchemy.pool import NullPool
from sqlalchemy.util import LRUCache

from taskdb.core.course import extremes
from taskdb.store import engine as store_engine


def compile_once(server: str) -> None:
    """Let all engines of this process share what they compile, for good; `server` is a server's URL, or empty.

    Each command line opens its store by an engine of its own, and SQLAlchemy keeps compiled statements by engine and
    dialect object: a third of the time of our commands went into compiling the same statements. Text and result stay
    the same: the files are of one SQLite, the databases of one server.
    """
    plain = Engine.__init__
    compiled: LRUCache = LRUCache(2000)
    dialects: dict[type, Any] = {}

    def init(engine: Engine, pool: Any, dialect: Any, url: URL, *args: Any, **options: Any) -> None:
        if dialect._on_connect_isolation_level is not None:  # a dialect that sets up its connections in its own way
            plain(engine, pool, dialect, url, *args, **options)
            return
        plain(engine, pool, dialects.setdefault(type(dialect), dialect), url, *args, **options)
        engine._compiled_cache = compiled

    Engine.__init__ = init  # type: ignore[method-assign]
    for url in ["sqlite://", *filter(None, [server])]:
        create_engine(url, poolclass=NullPool).connect().close()  # the first tells a dialect what it speaks to
    # A server's engine keeps no connection, but asks its server five questions first.
    store_engine.server_engine = functools.cache(store_engine.server_engine)  # type: ignore[attr-defined]


def search_once(patch: pytest.MonkeyPatch) -> None:
    """Keep the paths that the search for extremes found, by the whole of its input.

    For tests of commands and services, which measure the same few courses thousands of times. Whether the paths are
    right is asked without this, in tests/unit, tests/properties and tests/reference.
    """
    patch.setattr(extremes, "best_paths", _best_paths)


_FOUND: dict[bytes, Any] = {}
_SEARCH = extremes.best_paths


def _best_paths(*given: Any) -> Any:
    key = pickle.dumps(given)
    if key not in _FOUND:
        _FOUND[key] = _SEARCH(*given)
    return [list(points) for points in _FOUND[key]]
