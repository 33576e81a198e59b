"""The journal as it is read: operations newest first, what each wrote, and which stand undone. Reads only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Literal

from sqlalchemy import Connection, FromClause, Table, func, select

from taskdb.core.kept import LoggedOperation
from taskdb.store.schema import (
    accepted_finding,
    airspace,
    airspace_revision,
    contest,
    contest_revision,
    flown_record,
    operation,
    set_label,
    set_revision,
    task,
    task_revision,
    waypoint_set,
)


def list_operations(c: Connection, limit: int | None = None) -> tuple[tuple[LoggedOperation, ...], int]:
    """Return the newest operations (all for None), newest first, and how many there are."""
    total: int = c.scalar(select(func.count()).select_from(operation)) or 0
    rows = c.execute(select(operation).order_by(operation.c.id.desc()).limit(limit)).all()
    if not rows:
        return (), total
    undone = undone_operations(c)
    wrote = written_since(c, rows[-1].id)
    logged = tuple(
        LoggedOperation(
            number=row.id,
            at=row.at,
            author=row.author,
            command=row.command,
            note=row.note,
            undoes=row.undoes,
            is_undone=row.id in undone,
            wrote=tuple(wrote.get(row.id, ())),
        )
        for row in rows
    )
    return logged, total


def undone_operations(c: Connection) -> frozenset[int]:
    """Return the operations that are undone now; an undo that was itself undone does not count."""
    undos = c.execute(
        select(operation.c.id, operation.c.undoes)
        .where(operation.c.undoes.is_not(None))
        .order_by(operation.c.id.desc())
    )
    undone: set[int] = set()
    # Newest first: whether an undo still counts is known before what it undoes is looked at.
    for undo in undos:
        if undo.id not in undone:
            undone.add(undo.undoes)
    return frozenset(undone)


_REVISIONS = {
    "set": set_revision,
    "airspace": airspace_revision,
    "contest": contest_revision,
    "task": task_revision,
}


def operation_of(
    c: Connection, noun: Literal["set", "airspace", "contest", "task"], number_of: int, revision: int
) -> int | None:
    """Return the operation that wrote a revision of a thing; None where there is no such revision."""
    table = _REVISIONS[noun]
    query = select(table.c.operation_id).where(table.c[f"{noun}_id"] == number_of, table.c.number == revision)
    found: int | None = c.scalar(query)
    return found


def written_since(c: Connection, first: int) -> Mapping[int, Sequence[str]]:
    """Return what each operation from `first` on wrote, in words, sorted."""
    wrote: dict[int, set[str]] = defaultdict(set)
    in_set = waypoint_set.c.id
    sources: tuple[tuple[Table, FromClause, tuple[Any, ...], Callable[..., str]], ...] = (
        (
            set_revision,
            set_revision.join(waypoint_set, in_set == set_revision.c.set_id),
            (waypoint_set.c.name, set_revision.c.number),
            lambda name, revision: f"set {name}@{revision}",
        ),
        (
            set_label,
            set_label.join(waypoint_set, in_set == set_label.c.set_id),
            (waypoint_set.c.name, set_label.c.number),
            lambda name, revision: f"label of set {name}@{revision}",
        ),
        (
            airspace_revision,
            airspace_revision.join(airspace, airspace.c.id == airspace_revision.c.airspace_id),
            (airspace.c.name, airspace_revision.c.number),
            lambda name, revision: f"airspace {name}@{revision}",
        ),
        (
            contest_revision,
            contest_revision.join(contest, contest.c.id == contest_revision.c.contest_id),
            (contest.c.name, contest_revision.c.number),
            lambda name, revision: f"contest {name}@{revision}",
        ),
        (
            task_revision,
            task_revision.join(task, task.c.id == task_revision.c.task_id).outerjoin(
                contest, contest.c.id == task.c.contest_id
            ),
            (task_revision.c.name, task_revision.c.number, contest.c.name),
            lambda name, revision, of: f"task {of}:{name}@{revision}" if of else f"task {name}@{revision}",
        ),
        (
            accepted_finding,
            accepted_finding.join(waypoint_set, in_set == accepted_finding.c.set_id),
            (waypoint_set.c.name, accepted_finding.c.finding),
            lambda name, finding: f"finding {finding} of set {name}",
        ),
        (
            flown_record,
            flown_record.join(task, task.c.id == flown_record.c.task_id),
            (task.c.name, flown_record.c.flown_on),
            lambda name, day: f"flown record of task {name} on {day}",
        ),
    )
    for table, source, columns, words in sources:
        query = select(table.c.operation_id, *columns).select_from(source).where(table.c.operation_id >= first)
        for number, *values in c.execute(query):
            wrote[number].add(words(*values))
    return {number: sorted(texts) for number, texts in wrote.items()}
