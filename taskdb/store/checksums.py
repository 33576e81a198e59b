"""A checksum (CRC-32) for everything that was ever written, so that one digit changed on the disk is told.

A revision or record is summed with the rows that are part of it, so that a row that is gone is told too. The states
of waypoints are summed a hundred at a time, beside their set's revision: one by one they would slow an import down.
The text that is summed is the same on every engine and for every release; to change it takes a migration.
"""

from __future__ import annotations

import re
from array import array
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from sys import byteorder
from typing import Any
from zlib import crc32

from sqlalchemy import ColumnElement, Connection, MetaData, Table, and_, bindparam, select, true, update

from taskdb.store.rows import READ_COLUMNS, to_json
from taskdb.store.schema import metadata

_TOGETHER = 100
_BATCH = 5_000
_SUMMED = ("id", *READ_COLUMNS)
_NUMBERS = frozenset(["id", "latitude_e7", "longitude_e7", "elevation_dm"])
_FIRST = re.compile(r"(\d+):")


@dataclass(frozen=True, slots=True)
class Sealed:
    """A table whose rows are summed: what a row is called, its parts' tables, the column that may change later.

    A part's primary key begins with that of what it is a part of.
    """

    table: str
    called: str
    parts: tuple[str, ...] = ()
    changing: str | None = None


SEALED = (
    Sealed("operation", "operation {id}"),
    Sealed("waypoint_set", "set {name}", changing="newest"),
    Sealed("set_label", "label {id}"),
    Sealed("waypoint_successor", "merged duplicate {id}"),
    Sealed("airspace_revision", "airspace {name}@{number}", ("airspace_volume",)),
    Sealed(
        "contest_revision",
        "contest {name}@{number}",
        ("contest_zone", "contest_class", "contest_day", "contest_airspace"),
    ),
    Sealed("task_revision", "task {name}@{number}", ("task_point",)),
    Sealed("accepted_finding", "accepted finding {id}"),
    Sealed("flown_record", "flown record {id}"),
    Sealed("handout", "hand-out {id}", ("handout_task",)),
)


@dataclass(frozen=True, slots=True)
class Summed:
    """What was summed: its key and what it is called, the checksum that is kept (None: none) and the one it has now."""

    key: Mapping[str, Any]
    called: str
    kept: str | None
    now: str


def seal_written(c: Connection, operation_id: int) -> None:
    """Keep the checksums of all that an operation wrote; those of states of waypoints are kept as they are written."""
    for sealed in SEALED:
        column = "id" if sealed.table == "operation" else "operation_id"
        table = metadata.tables[sealed.table]
        _keep(c, table, summed_rows(c, sealed, table.c[column] == operation_id))


def seal_all(c: Connection, tables: MetaData = metadata, seals: Sequence[Sealed] = SEALED) -> None:
    """Make every checksum anew. For rows that are known to be right: what is wrong in them is not told afterwards."""
    for sealed in seals:
        _keep(c, tables.tables[sealed.table], summed_rows(c, sealed, true(), tables))
    _keep(c, tables.tables["set_revision"], summed_states(c, tables))


def _keep(c: Connection, table: Table, summed: Iterator[Summed]) -> None:
    rows = [{**{f"at_{name}": value for name, value in one.key.items()}, "checksum": one.now} for one in summed]
    if rows:
        mine = and_(*(column == bindparam(f"at_{column.name}") for column in table.primary_key.columns))
        c.execute(update(table).where(mine), rows)


# -- rows --------------------------------------------------------------------------------------------------------


def summed_rows(
    c: Connection, sealed: Sealed, condition: ColumnElement[bool], tables: MetaData = metadata
) -> Iterator[Summed]:
    """Yield the rows of a table that meet a condition, each summed with its parts."""
    table = tables.tables[sealed.table]
    names = [column.name for column in table.primary_key.columns]
    parts: defaultdict[tuple[Any, ...], list[str]] = defaultdict(list)
    for name in sealed.parts:
        part = tables.tables[name]
        keys = list(part.primary_key.columns)[: len(names)]
        joined = and_(*(key == table.c[of] for key, of in zip(keys, names, strict=True)))
        for row in c.execute(select(part).join_from(part, table, joined).where(condition)).mappings():
            parts[tuple(row[key.name] for key in keys)].append(_text(name, row))
    for row in c.execute(select(table).where(condition).order_by(*table.primary_key.columns)).mappings().all():
        key = {name: row[name] for name in names}
        texts = [_text(sealed.table, row, sealed.changing), *sorted(parts[tuple(key.values())])]
        yield Summed(key, sealed.called.format(**row), row["checksum"], _digits(crc32("\n".join(texts).encode())))


def _text(table: str, row: Mapping[Any, Any], changing: str | None = None) -> str:
    """Return a row as text. Empty columns are left out, so that a column added later changes no checksum."""
    values = {name: _value(one) for name, one in row.items() if one is not None and name not in ("checksum", changing)}
    return to_json([table, values])


def _value(value: Any) -> Any:
    """Return a value as it is on every engine: SQLite keeps a yes as 1, and a whole number in a column of decimals."""
    if isinstance(value, bytes):
        return repr(value)  # none of ours is: a damaged one
    return int(value) if isinstance(value, bool) or (isinstance(value, float) and value.is_integer()) else value


def _digits(crc: int) -> str:
    return f"{crc:08x}"


# -- states of waypoints -----------------------------------------------------------------------------------------


def state_sums(columns: Mapping[str, Sequence[Any] | None]) -> list[str]:
    """Return the sums of states in columns with their ids, rising: of a hundred each, `FIRST-ID:CHECKSUM`."""
    used = [(name, column) for name in _SUMMED if (column := columns.get(name)) is not None]
    ids = columns["id"] or ()
    return [
        f"{ids[first]}:{_sum((name, column[first : first + _TOGETHER]) for name, column in used)}"
        for first in range(0, len(ids), _TOGETHER)
    ]


def _sum(columns: Iterable[tuple[str, Sequence[Any]]]) -> str:
    """Return the sum of columns; one that is empty in all rows counts as one that is not there."""
    crc = 0
    for name, values in columns:
        try:
            content = _numbers(values) if name in _NUMBERS else "\0".join(values).encode()
        except (TypeError, OverflowError):  # some are empty; or of another kind, which nothing writes
            if values[0] is None and values.count(None) == len(values):
                continue
            content = to_json(list(values) if bytes not in map(type, values) else list(map(repr, values))).encode()
        crc = crc32(content, crc32(name.encode(), crc))
    return _digits(crc)


def _numbers(values: Sequence[int]) -> bytes:
    numbers = array("q", values)
    if byteorder == "big":
        numbers.byteswap()
    return numbers.tobytes()


def summed_states(c: Connection, tables: MetaData = metadata) -> Iterator[Summed]:
    """Yield the revisions of sets, each with the sums of the states that it opened."""
    of_set, revision, state = (tables.tables[name] for name in ("waypoint_set", "set_revision", "waypoint_state"))
    query = select(state.c.set_id, state.c.valid_from, *(state.c[name] for name in _SUMMED))
    states = c.execute(
        query.order_by(state.c.set_id, state.c.valid_from, state.c.id), execution_options={"yield_per": _BATCH}
    )
    groups = groupby(states, key=lambda row: (row[0], row[1]))
    at, rows = next(groups, (None, iter(())))
    heads = (
        select(revision.c.set_id, revision.c.number, revision.c.checksum, of_set.c.name)
        .join_from(revision, of_set, of_set.c.id == revision.c.set_id)
        .order_by(revision.c.set_id, revision.c.number)
    )
    for set_id, number, kept, name in c.execute(heads).all():
        now: list[str] = []
        if at == (set_id, number):
            now = list(_sums_of(rows, kept))
            at, rows = next(groups, (None, iter(())))
        yield Summed({"set_id": set_id, "number": number}, f"set {name}@{number}", kept, " ".join(now))


def _sums_of(rows: Iterator[Any], kept: str | None) -> Iterator[str]:
    """Yield the sums of states, cut where those that are kept are cut; else after every hundred."""
    firsts = [int(first) for first in _FIRST.findall(kept or "")]
    cut = (lambda row: bisect_right(firsts, row[1][2])) if firsts else (lambda row: row[0] // _TOGETHER)
    for _, group in groupby(enumerate(rows), key=cut):
        columns = list(zip(*(row[2:] for _, row in group), strict=True))
        yield f"{columns[0][0]}:{_sum(zip(_SUMMED, columns, strict=True))}"
