"""Waypoint sets: their revisions and labels, the waypoints that stand at one, and writing the next.

A writer locks the set first, then numbers on from its newest. Which waypoints change is decided by the caller.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from itertools import chain
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, and_, func, insert, or_, select, update

from taskdb.core.history.changes import Change, SetChanges
from taskdb.core.history.packed_changes import PackedChanges
from taskdb.core.kept import SetRevisionInfo, SetSummary
from taskdb.core.model import Waypoint
from taskdb.core.packed_waypoints import PackedWaypoints
from taskdb.core.waypoint_columns import WaypointColumns
from taskdb.store import schema
from taskdb.store.bulk import BATCH, IN_LIST, batches, close_states, in_columns, insert_states
from taskdb.store.engine import Writing
from taskdb.store.rows import READ_COLUMNS, columns_of, waypoint_of
from taskdb.store.schema import operation, set_revision, waypoint_set, waypoint_state, waypoint_successor

_ALWAYS_COMPARED = ("code", "name", "latitude_e7", "longitude_e7")
READ = tuple(waypoint_state.c[name] for name in READ_COLUMNS)


@dataclass(frozen=True, slots=True)
class SetHead:
    """A set and the number of its newest revision; 0 while its first one is being written."""

    id: int
    name: str
    newest: int


# -- reading -----------------------------------------------------------------------------------------------------


def _heads() -> Select[Any]:
    return select(waypoint_set.c.id, waypoint_set.c.name, waypoint_set.c.newest)


def find_set(c: Connection, name: str) -> SetHead | None:
    """Return the set of exactly this name, or None."""
    row = c.execute(_heads().where(waypoint_set.c.name == name)).one_or_none()
    return None if row is None else SetHead(*row)


def list_sets(c: Connection) -> tuple[SetSummary, ...]:
    """Return every set that has a revision, in code-point order of names."""
    query = (
        _infos()
        .where(set_revision.c.number == waypoint_set.c.newest)
        .order_by(waypoint_set.c.name)
    )  # fmt: skip
    infos = [SetRevisionInfo(*row) for row in c.execute(query)]
    return tuple(SetSummary(info.set_name, info.number, info.count, info.label, info.at, info.author) for info in infos)


def _newest_label(column: Any) -> Any:
    newest = (
        select(func.max(schema.set_label.c.id))
        .where(schema.set_label.c.set_id == set_revision.c.set_id, schema.set_label.c.number == set_revision.c.number)
        .correlate(set_revision)
        .scalar_subquery()
    )
    return select(column).where(schema.set_label.c.id == newest).correlate(set_revision).scalar_subquery()


def _infos() -> Select[Any]:
    return (
        select(
            waypoint_set.c.name,
            set_revision.c.number,
            set_revision.c.count,
            set_revision.c.added,
            set_revision.c.changed,
            set_revision.c.retired,
            _newest_label(schema.set_label.c.label),
            _newest_label(schema.set_label.c.valid_from),
            operation.c.author,
            operation.c.at,
            operation.c.note,
        )
        .join_from(set_revision, waypoint_set, waypoint_set.c.id == set_revision.c.set_id)
        .join(operation, operation.c.id == set_revision.c.operation_id)
    )


def revision_info(c: Connection, set_id: int, number: int) -> SetRevisionInfo | None:
    """Return one revision of a set, or None where it has no such number."""
    query = _infos().where(set_revision.c.set_id == set_id, set_revision.c.number == number)
    row = c.execute(query).one_or_none()
    return None if row is None else SetRevisionInfo(*row)


def set_log(c: Connection, set_id: int) -> tuple[SetRevisionInfo, ...]:
    """Return a set's revisions, newest first."""
    query = _infos().where(set_revision.c.set_id == set_id).order_by(set_revision.c.number.desc())
    return tuple(SetRevisionInfo(*row) for row in c.execute(query))


def standing(c: Connection, set_id: int, number: int) -> ColumnElement[bool]:
    """Return the condition that a state stands at a revision; at the newest one the index of open states serves."""
    newest = c.scalar(select(waypoint_set.c.newest).where(waypoint_set.c.id == set_id))
    state = waypoint_state.c
    if newest is not None and number >= newest:
        return and_(state.set_id == set_id, state.valid_to.is_(None))
    return and_(
        state.set_id == set_id, state.valid_from <= number, or_(state.valid_to.is_(None), state.valid_to > number)
    )


def waypoints_at(c: Connection, set_id: int, number: int) -> list[Waypoint]:
    """Return the waypoints that stand at a revision, in code-point order of code."""
    query = select(*READ).where(standing(c, set_id, number)).order_by(waypoint_state.c.code)
    return [waypoint_of(row) for row in c.execute(query, execution_options={"yield_per": BATCH})]


def each_waypoint_at(c: Connection, set_id: int, number: int) -> Iterator[Waypoint]:
    """Yield what `waypoints_at` returns, a batch at a time from the store."""
    return chain.from_iterable(columns.waypoints() for columns in columns_at(c, set_id, number))


def columns_at(c: Connection, set_id: int, number: int) -> Iterator[WaypointColumns]:
    """Yield what `waypoints_at` returns as columns, a batch at a time."""
    query = select(*READ).where(standing(c, set_id, number)).order_by(waypoint_state.c.code)
    with c.execute(query, execution_options={"yield_per": BATCH}) as result:
        for rows in result.partitions():
            yield columns_of(rows)


def compared_at(c: Connection, set_id: int, number: int, fields: Collection[str]) -> Iterator[WaypointColumns]:
    """Yield what `columns_at` does, of which only codes, names, positions and some of the model's fields were read.

    The rest is read of those batches of which a whole waypoint is asked for. Half the time where nothing differs.
    """
    condition, code = standing(c, set_id, number), waypoint_state.c.code
    wanted = {"elevation_dm" if name == "elevation_m" else name for name in fields}
    read = tuple(name for name in READ_COLUMNS if name in wanted.union(_ALWAYS_COMPARED))
    query = select(*(waypoint_state.c[name] for name in read)).where(condition).order_by(code)

    def whole(first: str, last: str) -> WaypointColumns:
        between = select(*READ).where(condition, code >= first, code <= last).order_by(code)
        return columns_of(c.execute(between).all())

    with c.execute(query, execution_options={"yield_per": BATCH}) as result:
        for rows in result.partitions():
            columns = columns_of(rows, read)
            later = cache(partial(whole, columns.codes[0], columns.codes[-1]))
            yield replace(columns, whole=later)


def packed_at(c: Connection, set_id: int, number: int, tell: Callable[[int], None] | None = None) -> PackedWaypoints:
    """Return what `waypoints_at` returns, kept small: for those who look through a set of any size.

    `tell` is told how many there are so far.
    """
    waypoints = PackedWaypoints()
    for columns in columns_at(c, set_id, number):
        waypoints.extend(columns)
        if tell is not None:
            tell(len(waypoints))
    return waypoints


def digest_at(c: Connection, set_id: int, number: int) -> str:
    """Return a digest of all that is kept of the waypoints that stand at a revision, what was typed included."""
    query = select(*READ).where(standing(c, set_id, number)).order_by(waypoint_state.c.code)
    digest = hashlib.sha256()
    with c.execute(query, execution_options={"yield_per": BATCH}) as result:
        for rows in result.partitions():
            digest.update(repr([*map(tuple, rows)]).encode("utf-8", "surrogatepass"))
    return digest.hexdigest()


def waypoint_at(c: Connection, set_id: int, number: int, code: str) -> Waypoint | None:
    """Return the waypoint with exactly this code at a revision, or None."""
    row = c.execute(
        select(*READ).where(standing(c, set_id, number), waypoint_state.c.code == code)
    ).one_or_none()  # fmt: skip
    return None if row is None else waypoint_of(row)


def waypoints_with_identities(
    c: Connection, set_id: int, number: int, identities: Iterable[str]
) -> Mapping[str, Waypoint]:
    """Return those of the identities that stand at a revision, each with its waypoint."""
    return _standing_by(c, set_id, number, waypoint_state.c.identity, identities)


def waypoints_with_codes(c: Connection, set_id: int, number: int, codes: Iterable[str]) -> Mapping[str, Waypoint]:
    """Return those of the codes that stand at a revision, each with its waypoint."""
    return _standing_by(c, set_id, number, waypoint_state.c.code, codes)


def _standing_by(
    c: Connection, set_id: int, number: int, column: ColumnElement[str], values: Iterable[str]
) -> Mapping[str, Waypoint]:
    condition = standing(c, set_id, number)
    found: dict[str, Waypoint] = {}
    for batch in batches(dict.fromkeys(values), IN_LIST):
        rows = c.execute(select(column, *READ).where(condition, column.in_(batch)))
        found.update((row[0], waypoint_of(row[1:])) for row in rows)
    return found


def waypoint_history(c: Connection, set_id: int, identity: str) -> tuple[tuple[int, int | None, Waypoint], ...]:
    """Return a waypoint's states, oldest first, with the revision each is valid from and ends before (None: stands)."""
    state = waypoint_state.c
    query = (
        select(state.valid_from, state.valid_to, *READ)
        .where(state.identity == identity, state.set_id == set_id)
        .order_by(state.valid_from)
    )
    return tuple((row[0], row[1], waypoint_of(row[2:])) for row in c.execute(query))


def touched_between(c: Connection, set_id: int, first: int, second: int) -> tuple[list[Waypoint], list[Waypoint]]:
    """Return the waypoints that any revision between two touched, as they stood at `first` and at `second`.

    Costs what changed, not what the set holds; either may be the older. A diff of both halves is the sets' diff.
    """
    low, high = min(first, second), max(first, second)
    state = waypoint_state.c
    mine = state.set_id == set_id
    before = select(*READ).where(mine, state.valid_to > low, state.valid_to <= high, state.valid_from <= low)
    after = select(*READ).where(
        mine, state.valid_from > low, state.valid_from <= high, or_(state.valid_to.is_(None), state.valid_to > high)
    )
    at_low, at_high = ([waypoint_of(row) for row in c.execute(query)] for query in (before, after))
    return (at_low, at_high) if first <= second else (at_high, at_low)


# -- writing -----------------------------------------------------------------------------------------------------


def set_head(c: Connection, set_id: int) -> SetHead:
    """Return a set as it is now."""
    return SetHead(*c.execute(_heads().where(waypoint_set.c.id == set_id)).one())


def create_set(w: Writing, name: str) -> SetHead:
    """Make a set without a revision; write one in the same operation. The name must be free and allowed."""
    values = {"name": name, "newest": 0, "operation_id": w.operation_id}
    number = w.connection.execute(insert(waypoint_set).returning(waypoint_set.c.id), values).scalar_one()
    return SetHead(number, name, 0)


def count_at(c: Connection, set_id: int, number: int) -> int:
    """Return how many waypoints stand at a revision; 0 for a set that has none yet."""
    query = select(set_revision.c.count).where(set_revision.c.set_id == set_id, set_revision.c.number == number)
    return c.scalar(query) or 0


def write_revision(
    w: Writing,
    head: SetHead,
    changes: SetChanges,
    *,
    columns: Iterable[WaypointColumns] = (),
    adding: int = 0,
    new_identity: Callable[[], str] | None = None,
) -> int:
    """Write the next revision of a set and return its number. An empty change writes an empty revision.

    All old states are closed before any new one opens, so that codes can be swapped. `columns` are further added
    waypoints, `adding` of them. Added waypoints without an identity get one from `new_identity`. Raises
    ValueError where a changed or retired waypoint does not stand, or has no identity: the caller's fault.
    """
    c = w.connection
    number = head.newest + 1
    standing_before = count_at(c, head.id, head.newest)
    key = {"set_id": head.id, "number": number}
    counts = {"count": 0, "added": 0, "changed": 0, "retired": 0}
    c.execute(insert(set_revision), {**key, **counts, "operation_id": w.operation_id})
    changed = changes.changed if isinstance(changes.changed, Sequence) else list(changes.changed)
    retired = [_identity(waypoint) for waypoint in changes.retired]
    closing = chain(_changing(changed), retired)
    if close_states(c, head.id, closing, number) != len(changed) + len(retired):
        raise ValueError(f"a changed or retired waypoint does not stand in {head.name}@{head.newest}")
    sums: list[str] = []
    common: dict[str, Any] = {"set_id": head.id, "number": number, "operation_id": w.operation_id, "sums": sums}
    opening = changed.columns() if isinstance(changed, PackedChanges) else in_columns(new for _, new in changed)
    insert_states(c, opening, **common, expected=len(changed))
    expected = len(changes.added) if isinstance(changes.added, Sequence) else None
    added = insert_states(c, in_columns(changes.added), **common, expected=expected, new_identity=new_identity)
    added += insert_states(c, columns, **common, expected=adding, new_identity=new_identity)
    c.execute(
        update(set_revision)
        .where(set_revision.c.set_id == head.id, set_revision.c.number == number)
        .values(
            count=standing_before + added - len(retired),
            added=added,
            changed=len(changed),
            retired=len(retired),
            checksum=" ".join(sums),
        )
    )
    c.execute(update(waypoint_set).where(waypoint_set.c.id == head.id).values(newest=number))
    return number


def _changing(changed: Sequence[Change]) -> Iterator[str]:
    """Yield the identities of what changes."""
    if isinstance(changed, PackedChanges):
        return changed.identities()
    return (_identity(old) for old, _ in changed)


def _identity(waypoint: Waypoint) -> str:
    if waypoint.identity is None:
        raise ValueError(f"the waypoint {waypoint.code} has no identity")
    return waypoint.identity


def set_label(w: Writing, set_id: int, number: int, label: str | None, valid_from: str | None = None) -> None:
    """Give a revision a label and the date from which it holds; None takes them away. Earlier labels stay on record."""
    values = {
        "set_id": set_id, "number": number, "label": label, "valid_from": valid_from, "operation_id": w.operation_id
    }  # fmt: skip
    w.connection.execute(insert(schema.set_label), values)


def add_successor(w: Writing, set_id: int, *, dropped: str, kept: str, from_revision: int) -> None:
    """Note that a waypoint was dropped for another when duplicates were merged, from a revision on."""
    values = {
        "set_id": set_id, "dropped": dropped, "kept": kept, "from_revision": from_revision,
        "operation_id": w.operation_id,
    }  # fmt: skip
    w.connection.execute(insert(waypoint_successor), values)


def successors(c: Connection, set_id: int, number: int) -> Mapping[str, str]:
    """Return for each identity that was dropped up to a revision the one that was kept, followed to the last."""
    query = (
        select(waypoint_successor.c.dropped, waypoint_successor.c.kept)
        .where(waypoint_successor.c.set_id == set_id, waypoint_successor.c.from_revision <= number)
        .order_by(waypoint_successor.c.id)
    )
    steps = {row[0]: row[1] for row in c.execute(query)}
    return {dropped: _last(steps, dropped) for dropped in steps}


def _last(steps: Mapping[str, str], start: str) -> str:
    seen = {start}
    at = start
    while (following := steps.get(at)) is not None and following not in seen:
        seen.add(following)
        at = following
    return at
