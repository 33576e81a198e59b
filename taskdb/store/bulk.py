"""Writes many states of waypoints fast: numbers them, inserts them in batches, keeps the search words of open ones.

Knows the two engines' fastest ways (SQLite: the driver's executemany, indexes built after a first load; PostgreSQL:
COPY). What a revision is, and which states open or close, is decided by `sets`.
"""

from __future__ import annotations

import contextlib
import gc
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import chain, islice
from operator import itemgetter
from typing import Any, TypeVar

from sqlalchemy import Connection, text
from sqlalchemy.exc import DBAPIError

from taskdb.core.model import Waypoint
from taskdb.store.rows import STATE_COLUMNS, state_values, words_of, words_of_values

BATCH = 10_000
"""Rows handed to the driver at once: larger batches are slower and hold more memory."""

_IN_LIST = 500
_VALUES = 100  # bound in one statement: older builds of SQLite take 999 at most
_LOAD_FROM = 5_000
_COLUMNS = ("id", "set_id", "valid_from", "operation_id", *STATE_COLUMNS)

T = TypeVar("T")


def batches(items: Iterable[T], size: int) -> Iterator[list[T]]:
    """Yield the items in lists of `size`, the last one shorter."""
    iterator = iter(items)
    while batch := list(islice(iterator, size)):
        yield batch


def close_states(c: Connection, set_id: int, identities: Iterable[str], number: int) -> int:
    """End the open states of these identities at revision `number`, take away their words; return how many."""
    closed = 0
    for batch in batches(identities, _IN_LIST):
        rows = _open_states(c, set_id, batch)
        words = [(word, row[0]) for row in rows for word in words_of(row[2], row[1])]
        if words:
            _many(c, "DELETE FROM waypoint_word WHERE word = ? AND state_id = ?", words)
        if rows:
            _many(c, "UPDATE waypoint_state SET valid_to = ? WHERE id = ?", [(number, row[0]) for row in rows])
        closed += len(rows)
    return closed


def insert_states(
    c: Connection,
    waypoints: Iterable[Waypoint],
    *,
    set_id: int,
    number: int,
    operation_id: int,
    expected: int | None,
    new_identity: Callable[[], str] | None = None,
) -> int:
    """Insert open states valid from revision `number`; return how many. `expected` says how many may come, if known.

    A waypoint without an identity gets one from `new_identity`.
    """
    if c.dialect.name != "sqlite":
        return _copy_states(c, waypoints, (set_id, number, operation_id), new_identity)
    total = 0
    with _loading(c, expected) as word_table, _without_collecting():
        next_id = (c.exec_driver_sql("SELECT seq FROM sqlite_sequence WHERE name = 'waypoint_state'").scalar() or 0) + 1
        for batch in batches(waypoints, BATCH):
            ids = range(next_id, next_id + len(batch))
            rows, words = _rows(batch, ids, (set_id, number, operation_id), new_identity)
            _insert_used(c, rows)
            _insert(c, word_table, ("word", "state_id"), words)
            next_id += len(batch)
            total += len(batch)
    return total


@contextlib.contextmanager
def _without_collecting() -> Iterator[None]:
    """Hold the collector of cyclic garbage still: batches of tuples make none, and looking costs a fifth of a load."""
    was_enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_enabled:
            gc.enable()


def _insert_used(c: Connection, rows: Sequence[tuple[Any, ...]]) -> None:
    """Insert states without the columns that are empty in all of them: half the time is binding."""
    used = [i for i, column in enumerate(zip(*rows, strict=True)) if column.count(None) < len(rows)]
    _insert(c, "waypoint_state", [_COLUMNS[i] for i in used], list(map(itemgetter(*used), rows)))


def _insert(c: Connection, table: str, columns: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> None:
    """Insert into SQLite, several rows a statement: half the time of one by one."""
    together = max(1, _VALUES // len(columns))
    whole = len(rows) - len(rows) % together
    head = f"INSERT INTO {table} ({', '.join(columns)}) VALUES "
    row = f"({', '.join('?' * len(columns))})"
    if whole:
        packed = [tuple(chain.from_iterable(rows[i : i + together])) for i in range(0, whole, together)]
        c.exec_driver_sql(head + ", ".join([row] * together), packed)
    if rows[whole:]:
        c.exec_driver_sql(head + row, list(rows[whole:]))


def remake_words(c: Connection) -> None:
    """Make the search words of every open state anew: they are derived, and a newer folding may differ."""
    c.execute(text("DELETE FROM waypoint_word"))
    states = c.execute(text("SELECT id, code, name FROM waypoint_state WHERE valid_to IS NULL ORDER BY id")).all()
    for batch in batches(states, BATCH):
        words = [(word, row[0]) for row in batch for word in words_of(row[2], row[1])]
        if words:
            _many(c, "INSERT INTO waypoint_word (word, state_id) VALUES (?, ?)", words)


def _rows(
    batch: Sequence[Waypoint],
    ids: Sequence[int],
    common: tuple[int, int, int],
    new_identity: Callable[[], str] | None,
) -> tuple[list[tuple[Any, ...]], list[tuple[str, int]]]:
    rows, words = [], []
    for number, waypoint in zip(ids, batch, strict=True):
        identity = waypoint.identity
        if identity is None:
            if new_identity is None:
                raise ValueError(f"the waypoint {waypoint.code} has no identity")
            identity = new_identity()
        values = state_values(waypoint, identity)
        rows.append((number, *common, *values))
        words += [(word, number) for word in words_of_values(values)]
    return rows, words


def _many(c: Connection, statement: str, rows: Sequence[tuple[Any, ...]]) -> None:
    marks = statement if c.dialect.name == "sqlite" else statement.replace("?", "%s")
    c.exec_driver_sql(marks, list(rows))


def _open_states(c: Connection, set_id: int, identities: Sequence[str]) -> list[Any]:
    found = "SELECT id, code, name FROM waypoint_state WHERE set_id = {0} AND valid_to IS NULL AND identity "
    if c.dialect.name == "sqlite":
        marks = ", ".join("?" * len(identities))
        return list(c.exec_driver_sql(f"{found.format('?')} IN ({marks})", (set_id, *identities)))
    return list(c.exec_driver_sql(f"{found.format('%s')} = ANY(%s)", (set_id, list(identities))))


@contextlib.contextmanager
def _loading(c: Connection, expected: int | None) -> Iterator[str]:
    """Yield the table that words go to; around a load that outweighs what is there, build indexes afterwards."""
    present = c.exec_driver_sql("SELECT max(id) FROM waypoint_state").scalar() or 0
    is_load = present == 0 if expected is None else expected >= _LOAD_FROM and expected > 2 * present
    if not is_load:
        yield "waypoint_word"
        return
    indexes = c.exec_driver_sql(
        "SELECT name, sql FROM sqlite_master WHERE type = 'index' AND tbl_name = 'waypoint_state' AND sql IS NOT NULL"
    ).all()
    for name, _ in indexes:
        c.exec_driver_sql(f'DROP INDEX "{name}"')
    c.exec_driver_sql("CREATE TEMP TABLE word_load (word TEXT NOT NULL, state_id INTEGER NOT NULL)")
    yield "temp.word_load"
    for _, statement in indexes:
        c.exec_driver_sql(statement)
    # Sorted once by SQLite: into a table kept in word order, a million random inserts take many times as long.
    c.exec_driver_sql(
        "INSERT INTO waypoint_word (word, state_id) SELECT word, state_id FROM temp.word_load ORDER BY word, state_id"
    )
    c.exec_driver_sql("DROP TABLE temp.word_load")


def _copy_states(
    c: Connection,
    waypoints: Iterable[Waypoint],
    common: tuple[int, int, int],
    new_identity: Callable[[], str] | None,
) -> int:
    """Insert by COPY, several times as fast as any INSERT; numbers come from the table's own sequence."""
    total = 0
    sequence = c.execute(text("SELECT pg_get_serial_sequence('waypoint_state', 'id')")).scalar_one()
    numbers = text("SELECT nextval(CAST(:sequence AS regclass)) FROM generate_series(1, :count)")
    for batch in batches(waypoints, BATCH):
        ids = sorted(c.execute(numbers, {"sequence": sequence, "count": len(batch)}).scalars())
        rows, words = _rows(batch, ids, common, new_identity)
        _copy(c, "waypoint_state", _COLUMNS, rows)
        _copy(c, "waypoint_word", ("word", "state_id"), words)
        total += len(batch)
    return total


def _copy(c: Connection, table: str, columns: Sequence[str], rows: Iterable[tuple[Any, ...]]) -> None:
    raw: Any = c.connection.driver_connection
    statement = f"COPY {table} ({', '.join(columns)}) FROM STDIN"
    driver: Any = c.dialect.loaded_dbapi
    try:
        with raw.cursor() as cursor, cursor.copy(statement) as copy:
            for row in rows:
                copy.write_row(row)
    except driver.Error as error:  # past SQLAlchemy, so its kinds of errors are made here
        raise DBAPIError.instance(statement, None, error, driver.Error, dialect=c.dialect) from error
