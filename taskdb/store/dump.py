"""A store as lines of text, and back: every row of every table, numbers and identities kept, the same on both engines.

The first line names the form and the schema, then each table's name and columns stand before its rows, the last line
holds the count of rows and a checksum. Search words are derived and made anew, checksums of rows only where the last
line's was taken out: whoever changed the dump vouches for it. The form is described in DEVELOPERS.md.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator
from typing import Any

from sqlalchemy import BigInteger, Boolean, Column, Connection, Float, Integer, Table, Text, func, insert, select, text
from sqlalchemy.exc import DataError, IntegrityError

from taskdb.errors import InputError, RefusedError
from taskdb.store import schema
from taskdb.store.bulk import batches, remake_words
from taskdb.store.checksums import seal_all
from taskdb.store.rows import to_json
from taskdb.store.version import NEWEST

FORM = "taskdb.dump/1"
TABLES = (
    "operation", "waypoint_set", "set_revision", "set_label", "waypoint_state", "waypoint_successor",
    "airspace", "airspace_revision", "airspace_volume",
    "contest", "contest_revision", "contest_zone", "contest_class", "contest_day", "contest_airspace",
    "task", "task_revision", "task_point", "accepted_finding", "flown_record", "handout", "handout_task",
)  # fmt: skip
"""The tables in the order of a dump: what a row refers to stands before it."""

LONGEST_LINE = 16_000_000
"""Bytes of a line that is still read; no row of a store comes near."""

_BATCH = 2_000


# -- dump --------------------------------------------------------------------------------------------------------


def dump_lines(c: Connection) -> Iterator[bytes]:
    """Yield a store's lines, each with its line end, without holding more than a batch of rows.

    Equal stores give equal bytes on every engine: rows in order of their keys, canonical JSON.
    """
    digest = hashlib.sha256()
    rows = 0
    for value in _values(c):
        line = (to_json(value) + "\n").encode()
        digest.update(line)
        rows += isinstance(value, list)
        yield line
    yield (to_json({"end": FORM, "rows": rows, "sha256": digest.hexdigest()}) + "\n").encode()


def _values(c: Connection) -> Iterator[dict[str, Any] | list[Any]]:
    yield {"dump": FORM, "schema": NEWEST}
    for name in TABLES:
        table = schema.metadata.tables[name]
        yield {"table": name, "columns": [column.name for column in table.columns]}
        # A whole number kept as a float is one on each engine, and SQLite has no negative zero.
        floats = [i for i, column in enumerate(table.columns) if isinstance(column.type, Float)]
        query = select(table).order_by(*(_in_order(column, c) for column in table.primary_key.columns))
        for row in c.execute(query, execution_options={"yield_per": _BATCH}):
            values = list(row)
            for i in floats:
                values[i] = None if values[i] is None else float(values[i]) + 0.0
            yield values


def _in_order(column: Column[Any], c: Connection) -> Any:
    return column.collate("C") if c.dialect.name != "sqlite" and isinstance(column.type, Text) else column


# -- load --------------------------------------------------------------------------------------------------------


def load_lines(c: Connection, lines: Iterable[bytes], *, name: str) -> int:
    """Fill an empty store from a dump's lines inside the caller's transaction; return the number of rows.

    Raises RefusedError where the store holds anything, InputError with the line's number for a dump that is cut off,
    altered, of another form or schema, or whose rows the store's rules do not allow.
    """
    _require_empty(c)
    reader = _Reader(name, lines)
    reader.header()
    total = 0
    for table_name in TABLES:
        table = schema.metadata.tables[table_name]
        reader.table(table)
        for batch in batches(reader.rows(table), _BATCH):
            _insert(c, table, batch, reader)
            total += len(batch)
    is_as_written = reader.end(total)
    remake_words(c)
    if not is_as_written:
        seal_all(c)
    _continue_numbers(c)
    return total


def _require_empty(c: Connection) -> None:
    if c.dialect.name != "sqlite":
        c.execute(text("LOCK TABLE operation IN EXCLUSIVE MODE"))
    held = [n for n in TABLES if c.execute(select(schema.metadata.tables[n]).limit(1)).first() is not None]
    if held:
        raise RefusedError(
            "store-not-empty",
            "A dump is loaded into an empty store only; this one holds something already.",
            hint="Name a new store: taskdb store load FILE --store NEW",
            details={"tables": held},
        )


class _Reader:
    """Reads a dump line by line, holding each to what must come; knows the number of the line for what is refused."""

    def __init__(self, name: str, lines: Iterable[bytes]) -> None:
        self.name = name
        self.number = 0
        self._lines = iter(lines)
        self._digest = hashlib.sha256()
        self._before = ""  # the checksum of all lines before the newest
        self._pending: Any = None

    def header(self) -> None:
        value = self._next("the first line")
        if not isinstance(value, dict) or "dump" not in value:
            raise self.bad("is no dump of a taskdb store", code="not-a-dump")
        if value["dump"] != FORM:
            raise self.bad(f"is of the form {value['dump']!r}, this taskdb reads {FORM!r}", code="other-dump")
        if value.get("schema") != NEWEST:
            raise self.bad(
                f"is of schema {value.get('schema')!r}, this taskdb has {NEWEST!r}",
                code="other-schema",
                hint="Load it with the taskdb that wrote it, then: taskdb store upgrade",
            )

    def table(self, table: Table) -> None:
        value = self._take(f"the table {table.name}")
        columns = [column.name for column in table.columns]
        if value != {"table": table.name, "columns": columns}:
            raise self.bad(f"should begin the table {table.name} with the columns {', '.join(columns)}")

    def rows(self, table: Table) -> Iterator[tuple[int, dict[str, Any]]]:
        """Yield each row with the number of its line, until a line that is no row."""
        columns = list(table.columns)
        while True:
            value = self._next(f"more of the table {table.name}, or what follows it")
            if not isinstance(value, list):
                self._pending = value
                return
            if len(value) != len(columns):
                raise self.bad(f"has {len(value)} values; a row of {table.name} has {len(columns)}")
            for column, one in zip(columns, value, strict=True):
                reason = _misfit(column, one)
                if reason is not None:
                    raise self.bad(f"{table.name}.{column.name}: {json.dumps(one)[:60]} {reason}")
            yield self.number, {column.name: one for column, one in zip(columns, value, strict=True)}

    def end(self, rows: int) -> bool:
        """Say whether the dump has its checksum; without one it was changed on purpose."""
        value = self._take("the last line")
        if not isinstance(value, dict) or value.get("end") != FORM:
            raise self.bad("should be the last line of a dump")
        if value.get("rows") != rows:
            raise self.bad(f"says that the dump has {value.get('rows')} rows; {rows} were read")
        if value.get("sha256", self._before) != self._before:
            raise self.bad(
                "holds a checksum that does not fit the lines before it: the dump was altered or damaged",
                hint='Take it from its source again; if you changed it on purpose, take "sha256" out of its last line.',
            )
        if next(self._lines, None) is not None:
            self.number += 1
            raise self.bad("comes after the end of the dump")
        return "sha256" in value

    def bad(
        self, reason: str, *, number: int | None = None, code: str = "bad-dump", hint: str | None = None
    ) -> InputError:
        """Return the refusal that names the line."""
        line = number or self.number
        return InputError(
            code,
            f"{self.name}: line {line} {reason}; nothing was loaded.",
            hint=hint or "Take the dump from its source again; `taskdb store dump FILE` writes one.",
            details={"path": self.name, "line": line},
        )

    def _take(self, what: str) -> Any:
        if self._pending is None:
            return self._next(what)
        value, self._pending = self._pending, None
        return value

    def _next(self, what: str) -> Any:
        line = next(self._lines, None)
        self.number += 1
        if line is None:
            raise self.bad(f"is missing: the dump is cut off before {what}")
        self._before = self._digest.hexdigest()
        self._digest.update(line)
        if len(line) > LONGEST_LINE:
            raise self.bad("is too long")
        try:
            return json.loads(line.decode("utf-8"), parse_constant=_no_number)
        except (ValueError, RecursionError):
            raise self.bad(
                "is no line of JSON in UTF-8", code="bad-dump" if self.number > 1 else "not-a-dump"
            ) from None


def _no_number(name: str) -> None:
    raise ValueError(name)


def _misfit(column: Column[Any], value: Any) -> str | None:
    """Return why a value cannot stand in a column, or None where it can."""
    kind = column.type
    if value is None:
        return None if column.nullable else "may not be empty"
    if isinstance(kind, Boolean):
        return None if isinstance(value, bool) else "is not true or false"
    if isinstance(kind, Text):
        if not isinstance(value, str):
            return "is no text"
        return "is no text that can be kept" if "\0" in value or not _is_unicode(value) else None
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return "is no number"
    if isinstance(kind, Float):
        return None if abs(value) < float("inf") else "is no number that can be kept"
    bits = 63 if isinstance(kind, BigInteger) else 31
    assert isinstance(kind, Integer)
    return None if isinstance(value, int) and -(2**bits) <= value < 2**bits else "is no whole number of that size"


def _is_unicode(value: str) -> bool:
    return value.isascii() or not any("\ud800" <= letter <= "\udfff" for letter in value)


def _insert(c: Connection, table: Table, batch: list[tuple[int, dict[str, Any]]], reader: _Reader) -> None:
    """Insert a batch; where the store's rules refuse it, find the line by inserting one row after the other."""
    try:
        with c.begin_nested():
            c.execute(insert(table), [row for _, row in batch])
    except (IntegrityError, DataError):
        for number, row in batch:
            try:
                c.execute(insert(table), row)
            except (IntegrityError, DataError) as error:
                reason = str(error.orig).strip().splitlines()[0]
                raise reader.bad(f"breaks a rule of the store ({table.name}: {reason})", number=number) from None
        raise


def _continue_numbers(c: Connection) -> None:
    """Let later rows be numbered on from the greatest loaded: PostgreSQL's sequences do not see given numbers."""
    if c.dialect.name == "sqlite":
        return  # AUTOINCREMENT has seen them
    for name in TABLES:
        table = schema.metadata.tables[name]
        if "id" in table.columns and (greatest := c.scalar(select(func.max(table.c.id)))) is not None:
            c.execute(
                text("SELECT setval(CAST(pg_get_serial_sequence(:name, 'id') AS regclass), :greatest)"),
                {"name": name, "greatest": greatest},
            )
