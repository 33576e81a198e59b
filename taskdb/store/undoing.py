"""What an operation wrote, and how to set back the records of which the newest row counts.

Nothing is ever deleted: setting back means writing anew. Revisions of sets, contests and tasks are written by their
own modules; here stand only which ones an operation wrote, and the labels, accepted findings, flown records and
pointers of merged duplicates.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

from sqlalchemy import ColumnElement, Connection, Table, and_, exists, insert, or_, select, update

from taskdb.core.kept import OperationHead
from taskdb.store.engine import Writing
from taskdb.store.operation_log import undone_operations
from taskdb.store.schema import (
    accepted_finding,
    airspace_revision,
    contest_revision,
    flown_record,
    operation,
    set_label,
    set_revision,
    task_revision,
    waypoint_successor,
)

Values = Mapping[str, Any]


class Register(Enum):
    """The tables in which the newest row of a key counts: name, key columns."""

    LABEL = ("set_label", ("set_id", "number"))
    FINDING = ("accepted_finding", ("set_id", "finding"))
    FLOWN = ("flown_record", ("task_id", "flown_on"))
    SUCCESSOR = ("waypoint_successor", ("set_id", "dropped"))

    @property
    def key(self) -> tuple[str, ...]:
        return self.value[1]

    @property
    def table(self) -> Table:
        return _TABLES[self]


_TABLES = {
    Register.LABEL: set_label,
    Register.FINDING: accepted_finding,
    Register.FLOWN: flown_record,
    Register.SUCCESSOR: waypoint_successor,
}
# When a pointer begins to hold follows from the revision that it is written with, and is no value to compare.
_NOT_COMPARED = frozenset(["id", "operation_id", "from_revision", "checksum"])


@dataclass(frozen=True, slots=True)
class Span:
    """The revisions of one set, airspace, contest or task that an operation wrote, from the first to the last."""

    id: int
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class RowChange:
    """A record that an operation wrote: what it left, what stood before it (None: nothing), what stands now.

    `found_by` is the operation that wrote what stands now.
    """

    register: Register
    key: Values
    left: Values
    before: Values | None
    found: Values
    found_by: int

    @property
    def stands(self) -> bool:
        """Say whether the record is as the operation left it."""
        return self.left == self.found


@dataclass(frozen=True, slots=True)
class Written:
    """Everything that an operation wrote, in order of ids."""

    sets: tuple[Span, ...]
    airspaces: tuple[Span, ...]
    contests: tuple[Span, ...]
    tasks: tuple[Span, ...]
    rows: tuple[RowChange, ...]

    @property
    def is_nothing(self) -> bool:
        return not (self.sets or self.airspaces or self.contests or self.tasks or self.rows)


def _heads() -> Any:
    c = operation.c
    return select(c.id, c.at, c.author, c.command, c.note, c.undoes)


def operation_head(c: Connection, number: int) -> OperationHead | None:
    """Return the operation of a number, or None."""
    row = c.execute(_heads().where(operation.c.id == number)).one_or_none()
    return None if row is None else OperationHead(*row)


def undone_by(c: Connection, number: int) -> int | None:
    """Return the operation by which one stands undone now, None where it is not undone."""
    undone = undone_operations(c)
    query = select(operation.c.id).where(operation.c.undoes == number).order_by(operation.c.id.desc())
    return next((found for found in c.scalars(query) if found not in undone), None)


def newest_to_undo(c: Connection, author: str | None = None) -> OperationHead | None:
    """Return the newest operation that is no undo, is not undone and wrote something; None for none.

    `author` looks at that person's operations only.
    """
    undone = undone_operations(c)
    query = _heads().where(operation.c.undoes.is_(None), _wrote_something())
    if author is not None:
        query = query.where(operation.c.author == author)
    for row in c.execute(query.order_by(operation.c.id.desc())):
        if row[0] not in undone:
            return OperationHead(*row)
    return None


def _wrote_something() -> ColumnElement[bool]:
    tables: Iterable[Table] = (set_revision, airspace_revision, contest_revision, task_revision, *_TABLES.values())
    return or_(*(exists().where(table.c.operation_id == operation.c.id) for table in tables))


def written_by(c: Connection, number: int) -> Written:
    """Return everything that an operation wrote."""
    rows = [change for register in Register for change in _row_changes(c, register, number)]
    return Written(
        sets=_spans(c, set_revision, "set_id", number),
        airspaces=_spans(c, airspace_revision, "airspace_id", number),
        contests=_spans(c, contest_revision, "contest_id", number),
        tasks=_spans(c, task_revision, "task_id", number),
        rows=tuple(rows),
    )


def _spans(c: Connection, table: Table, owner: str, number: int) -> tuple[Span, ...]:
    query = select(table.c[owner], table.c.number).where(table.c.operation_id == number)
    numbers: dict[int, list[int]] = {}
    for row in c.execute(query.order_by(table.c[owner], table.c.number)):
        numbers.setdefault(row[0], []).append(row[1])
    return tuple(Span(owner_id, found[0], found[-1]) for owner_id, found in numbers.items())


def _row_changes(c: Connection, register: Register, number: int) -> list[RowChange]:
    table = register.table
    query = select(table).where(table.c.operation_id == number).order_by(table.c.id)
    written: dict[tuple[Any, ...], list[Mapping[str, Any]]] = {}
    for row in c.execute(query).mappings():
        written.setdefault(tuple(row[name] for name in register.key), []).append(dict(row))
    changes = []
    for values, rows in written.items():
        key = dict(zip(register.key, values, strict=True))
        mine = and_(*(table.c[name] == value for name, value in key.items()))
        newest = c.execute(select(table).where(mine).order_by(table.c.id.desc()).limit(1)).mappings().one()
        earlier = select(table).where(mine, table.c.id < rows[0]["id"]).order_by(table.c.id.desc()).limit(1)
        before = c.execute(earlier).mappings().one_or_none()
        changes.append(
            RowChange(
                register=register,
                key=key,
                left=_values(rows[-1]),
                before=None if before is None else _values(dict(before)),
                found=_values(dict(newest)),
                found_by=newest["operation_id"],
            )
        )
    return changes


def _values(row: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in row.items() if name not in _NOT_COMPARED}


def set_back(w: Writing, change: RowChange, revision: int) -> Values:
    """Write a record as it was before an operation, and return its values. A record that was new is taken away.

    `revision` is the set's revision from which a pointer of merged duplicates holds.
    """
    values = dict(change.before if change.before is not None else _taken_away(change))
    if change.register is Register.SUCCESSOR:
        values["from_revision"] = revision
    w.connection.execute(insert(change.register.table), {**values, "operation_id": w.operation_id})
    return values


def _taken_away(change: RowChange) -> Values:
    left = change.left
    if change.register is Register.LABEL:
        return {**left, "label": None, "valid_from": None}
    if change.register is Register.FINDING:
        return {**left, "accepted": False}
    if change.register is Register.FLOWN:
        return {**left, "withdrawn": True}
    return {**left, "kept": left["dropped"]}  # a pointer to itself leads nowhere


def mark_undoes(w: Writing, number: int) -> None:
    """Note on the operation under way which one it undoes."""
    w.connection.execute(update(operation).where(operation.c.id == w.operation_id).values(undoes=number))
