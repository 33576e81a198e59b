"""Writes many states of waypoints fast: numbers them, inserts them in batches, keeps the search words of open ones.

Knows the two engines' fastest ways (SQLite: the driver's executemany, indexes built after a first load; PostgreSQL:
COPY). What a revision is, and which states open or close, is decided by `sets`.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import count, islice, repeat
from typing import Any, TypeVar

from sqlalchemy import ColumnElement, Connection, text, true
from sqlalchemy.exc import DBAPIError

from taskdb.core.collecting import without_collecting
from taskdb.core.model import Waypoint
from taskdb.core.waypoint_columns import WaypointColumns
from taskdb.store.checksums import state_sums
from taskdb.store.rows import STATE_COLUMNS, state_columns
from taskdb.store.word_index import WordIndex

BATCH = 10_000
"""Rows handed to the driver at once: larger batches are slower and hold more memory."""

IN_LIST = 500
"""Values in one list of a condition: more make a statement that some builds refuse."""

_VALUES = 900  # bound in one statement: older builds of SQLite take 999 at most
_LOAD_FROM = 5_000
_FEW_STATES = 4
_INSERT_WORD = "INSERT INTO waypoint_word (word, state_id) SELECT ?, value FROM json_each(?)"
_MOST_WORDS = 5_000_000
_MOST_DIFFERENT = 300_000  # above these, what is collected takes more than a hundred megabytes

MANY = 20_000
"""With more ids than this, what is asked for by id is read whole."""

T = TypeVar("T")


def batches(items: Iterable[T], size: int) -> Iterator[list[T]]:
    """Yield the items in lists of `size`, the last one shorter."""
    iterator = iter(items)
    while batch := list(islice(iterator, size)):
        yield batch


def among(column: ColumnElement[int], ids: Sequence[int], *, most: int = MANY) -> Iterator[ColumnElement[bool]]:
    """Yield conditions that together hold for the ids: lists of some hundreds, or one that holds for all above `most`.

    One that holds for all is for those who look up what they find by id and can do with too much.
    """
    if len(ids) > most:
        yield true()
        return
    for batch in batches(ids, IN_LIST):
        yield column.in_(batch)


def close_states(c: Connection, set_id: int, identities: Iterable[str], number: int) -> int:
    """End the open states of these identities at revision `number`, take away their words; return how many."""
    closed = 0
    for batch in batches(identities, IN_LIST):
        rows = _open_states(c, set_id, batch)
        if rows:
            ids, codes, names = zip(*rows, strict=True)
            words = WordIndex()
            words.add(ids, names, codes)
            if words.count:
                _many(c, "DELETE FROM waypoint_word WHERE word = ? AND state_id = ?", list(words.pairs()))
            ended = [(number, row[0], set_id) for row in rows]  # by its set too, which may be a partition
            _many(c, "UPDATE waypoint_state SET valid_to = ? WHERE id = ? AND set_id = ?", ended)
        closed += len(rows)
    return closed


def in_columns(waypoints: Iterable[Waypoint]) -> Iterator[WaypointColumns]:
    """Yield waypoints as columns, a batch at a time."""
    return map(WaypointColumns.of, batches(waypoints, BATCH))


def insert_states(
    c: Connection,
    waypoints: Iterable[WaypointColumns],
    *,
    set_id: int,
    number: int,
    operation_id: int,
    expected: int | None,
    sums: list[str],
    new_identity: Callable[[], str] | None = None,
) -> int:
    """Insert open states valid from revision `number`; return how many. `expected` says how many may come, if known.

    Their checksums are added to `sums`.
    A waypoint without an identity gets one from `new_identity`. Words are written at the end, or in between where
    they are very many.
    """
    common = {"set_id": set_id, "valid_from": number, "operation_id": operation_id}
    is_lite = c.dialect.name == "sqlite"
    insert_rows, insert_words = (_insert_used, _insert_words) if is_lite else (_copy_used, _copy_words)
    total, words = 0, WordIndex()
    with _loading(c, expected) if is_lite else contextlib.nullcontext(), without_collecting():
        numbers = _next_numbers(c)
        for batch in waypoints:
            ids = numbers(len(batch))
            kept = state_columns(batch, _identities(batch, new_identity))
            columns: dict[str, Sequence[Any] | None] = {"id": ids, **dict(zip(STATE_COLUMNS, kept, strict=True))}
            insert_rows(c, columns, common)
            sums += state_sums(columns)
            words.add_folded(ids, batch.names, columns["name_folded"] or (), columns["code_folded"] or ())
            total += len(batch)
            if words.count > _MOST_WORDS or words.different > _MOST_DIFFERENT:
                insert_words(c, words)
                words = WordIndex()
        insert_words(c, words)
    return total


def _identities(batch: WaypointColumns, new_identity: Callable[[], str] | None) -> list[str]:
    if batch.identities is None and new_identity is not None:
        return [new_identity() for _ in range(len(batch))]
    known = [None] * len(batch) if batch.identities is None else batch.identities
    if new_identity is not None:
        return [new_identity() if identity is None else identity for identity in known]
    if None in known:
        raise ValueError(f"the waypoint {batch.codes[known.index(None)]} has no identity")
    return [identity for identity in known if identity is not None]


def _next_numbers(c: Connection) -> Callable[[int], Sequence[int]]:
    """Return what gives the next so many numbers of states, rising."""
    if c.dialect.name == "sqlite":
        used = c.exec_driver_sql("SELECT seq FROM sqlite_sequence WHERE name = 'waypoint_state'").scalar() or 0
        following = count(used + 1)
        return lambda many: list(islice(following, many))
    sequence = c.execute(text("SELECT pg_get_serial_sequence('waypoint_state', 'id')")).scalar_one()
    numbers = text("SELECT nextval(CAST(:sequence AS regclass)) FROM generate_series(1, :count)")
    return lambda many: sorted(c.execute(numbers, {"sequence": sequence, "count": many}).scalars())


def _insert_used(c: Connection, columns: Mapping[str, Sequence[Any] | None], common: Mapping[str, int]) -> None:
    """Insert states without the columns that are empty in all of them: half the time is binding."""
    used = {name: column for name, column in columns.items() if column is not None}
    names, constant = (*common, *used), "".join(f"{value:d}, " for value in common.values())
    _insert(c, f"waypoint_state ({', '.join(names)})", constant, list(used.values()))


def _insert(c: Connection, into: str, constant: str, columns: Sequence[Sequence[Any]]) -> None:
    """Insert columns into SQLite, several rows a statement: half the time of one by one."""
    width, rows = len(columns), len(columns[0])
    together = max(1, min(_VALUES // width, rows))
    head, row = f"INSERT INTO {into} VALUES ", f"({constant}{', '.join('?' * width)})"
    cells: list[Any] = [None] * (rows * width)
    for at, column in enumerate(columns):
        cells[at::width] = column
    whole = rows // together * together * width
    packed = [tuple(cells[start : start + together * width]) for start in range(0, whole, together * width)]
    c.exec_driver_sql(head + ", ".join([row] * together), packed)
    rest = tuple(cells[whole:])
    if rest:
        c.exec_driver_sql(head + ", ".join([row] * (len(rest) // width)), rest)


def _insert_words(c: Connection, words: WordIndex) -> None:
    """Insert words into SQLite in the order of the table; those of many states as a JSON list of their numbers."""
    rare: list[tuple[str, int]] = []
    common: list[tuple[str, str]] = []

    def insert_rare() -> None:
        if rare:
            _insert(c, "waypoint_word (word, state_id)", "", list(zip(*rare, strict=True)))
            rare.clear()

    def insert_common() -> None:
        if common:
            c.exec_driver_sql(_INSERT_WORD, list(common))
            common.clear()

    for word, states in words.states_of_words():
        if len(states) > _FEW_STATES:
            common.append((word, str(states)))
        else:
            rare += ((word, number) for number in states)
        if len(rare) >= BATCH:
            insert_rare()
        if len(common) >= IN_LIST:
            insert_common()
    insert_rare()
    insert_common()


def remake_words(c: Connection) -> None:
    """Make the search words of every open state anew: they are derived, and a newer folding may differ."""
    c.execute(text("DELETE FROM waypoint_word"))
    states = c.execute(text("SELECT id, code, name FROM waypoint_state WHERE valid_to IS NULL ORDER BY id")).all()
    words = WordIndex()
    for batch in batches(states, BATCH):
        ids, codes, names = zip(*batch, strict=True)
        words.add(ids, names, codes)
    insert_words = _insert_words if c.dialect.name == "sqlite" else _copy_words
    insert_words(c, words)


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
def _loading(c: Connection, expected: int | None) -> Iterator[None]:
    """Around a load into SQLite that outweighs what is there, take indexes away and build them afterwards."""
    present = c.exec_driver_sql("SELECT max(id) FROM waypoint_state").scalar() or 0
    is_load = present == 0 if expected is None else expected >= _LOAD_FROM and expected > 2 * present
    if not is_load:
        yield
        return
    indexes = c.exec_driver_sql(
        "SELECT name, sql FROM sqlite_master WHERE type = 'index' AND tbl_name = 'waypoint_state' AND sql IS NOT NULL"
        " AND name <> 'ix_waypoint_state_valid_to'"  # of ended states: nothing that is loaded gets into it
    ).all()
    for name, _ in indexes:
        c.exec_driver_sql(f'DROP INDEX "{name}"')
    yield
    for _, statement in indexes:
        c.exec_driver_sql(statement)


def _copy_used(c: Connection, columns: Mapping[str, Sequence[Any] | None], common: Mapping[str, int]) -> None:
    """Insert states by COPY, several times as fast as any INSERT."""
    used = {name: column for name, column in columns.items() if column is not None}
    rows = zip(*(repeat(value) for value in common.values()), *used.values())  # noqa: B905 - repeat has no length
    _copy(c, "waypoint_state", (*common, *used), rows)


def _copy_words(c: Connection, words: WordIndex) -> None:
    if words.count:
        _copy(c, "waypoint_word", ("word", "state_id"), words.pairs())


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
