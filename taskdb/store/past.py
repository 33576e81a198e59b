"""What a set held once: retired waypoints, former holders of a code, which revisions touched what. Reads only."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sqlalchemy import ColumnElement, Connection, and_, exists, func, select

from taskdb.core.model import Waypoint
from taskdb.core.names import fold
from taskdb.store.bulk import IN_LIST, batches
from taskdb.store.operation_log import operation_of
from taskdb.store.rows import waypoint_of
from taskdb.store.schema import waypoint_state
from taskdb.store.sets import READ

_state = waypoint_state.c


@dataclass(frozen=True, slots=True)
class Former:
    """A state of a waypoint that has ended, and the last revision at which it stood."""

    waypoint: Waypoint
    last_revision: int


def _ended(c: Connection, set_id: int, condition: ColumnElement[bool]) -> list[Former]:
    query = (
        select(_state.valid_to, *READ)
        .where(_state.set_id == set_id, _state.valid_to.is_not(None), condition)
        .order_by(_state.valid_to.desc(), _state.code)
    )
    return [Former(waypoint_of(row[1:]), row[0] - 1) for row in c.execute(query)]


def former_holders(c: Connection, set_id: int, code: str) -> list[Former]:
    """Return the waypoints that had a code once, each with the last such state, the latest first."""
    found: dict[str | None, Former] = {}
    for former in _ended(c, set_id, and_(_state.code_folded == fold(code), _state.code == code)):
        found.setdefault(former.waypoint.identity, former)
    return list(found.values())


def retired_waypoints(c: Connection, set_id: int, text: str) -> list[Former]:
    """Return the retired waypoints that `text` names by code or name (exactly, else folded), the latest first."""
    open_one = waypoint_state.alias()
    is_retired = ~exists().where(
        open_one.c.identity == _state.identity, open_one.c.set_id == set_id, open_one.c.valid_to.is_(None)
    )
    key = fold(text)
    named: list[ColumnElement[bool]] = [
        and_(_state.code_folded == key, _state.code == text),
        _state.code_folded == key,
        _state.name == text,
        _state.name_folded == key,
    ]
    for condition in named[: 4 if key else 1]:
        last: dict[str | None, Former] = {}
        for former in _ended(c, set_id, and_(is_retired, condition)):
            last.setdefault(former.waypoint.identity, former)
        if last:
            return list(last.values())
    return []


def ever_here(c: Connection, set_id: int, identities: Iterable[str]) -> frozenset[str]:
    """Return those of the identities that stand in a set or ever stood there."""
    found: set[str] = set()
    for batch in batches(dict.fromkeys(identities), IN_LIST):
        query = select(_state.identity).where(_state.identity.in_(batch), _state.set_id == set_id).distinct()
        found.update(c.scalars(query))
    return frozenset(found)


def revisions_touching(c: Connection, set_id: int, low: int, high: int) -> Mapping[str, tuple[int, ...]]:
    """Return for each waypoint touched after revision `low` up to `high` the revisions that touched it, in order."""
    found: dict[str, set[int]] = {}
    for column in (_state.valid_from, _state.valid_to):
        query = select(_state.identity, column).where(_state.set_id == set_id, column > low, column <= high)
        for identity, number in c.execute(query):
            found.setdefault(identity, set()).add(number)
    return {identity: tuple(sorted(numbers)) for identity, numbers in found.items()}


def last_touched_by(c: Connection, set_id: int, identity: str) -> int | None:
    """Return the operation that last added, changed or retired a waypoint; None where it never stood."""
    query = select(func.max(_state.valid_from), func.max(_state.valid_to)).where(
        _state.identity == identity, _state.set_id == set_id
    )
    began, ended = c.execute(query).one()
    if began is None:
        return None
    return operation_of(c, "set", set_id, max(began, ended or 0))
