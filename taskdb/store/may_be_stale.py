"""Which of a contest's tasks may be stale, told by a few queries however many there are.

May be: every stale task is among them, and which of them is one is decided where its reasons are told. Held against
what was saved with each point, as the indexes have it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, and_, or_, select
from sqlalchemy.sql import Select

from taskdb.core.model import Role, ZoneFrom
from taskdb.store.schema import task, task_point, task_revision, waypoint_state
from taskdb.store.sets import standing
from taskdb.store.tasks import IS_NEWEST, ON_NEWEST

_POINT, _REVISION, _STATE = task_point.c, task_revision.c, waypoint_state.c

IsDefault = Callable[[Role, str, str | None, int | None], bool]
"""Says of a role and a zone's text whether it is what counts now as default for a class on a day."""


@dataclass(frozen=True, slots=True)
class Held:
    """What a contest's tasks are held against: the set revision that it pins, and its defaults as they are now."""

    set_id: int
    revision: int
    is_default: IsDefault


def may_be_stale(c: Connection, contest_id: int, held: Held) -> frozenset[int]:
    """Return the ids of the contest's tasks that may be stale; retired ones are left out.

    Those with places beside their points (take-off, landing, free points) are always among them.
    """
    beside = select(task.c.id).join_from(task, task_revision, IS_NEWEST).where(
        task.c.contest_id == contest_id,
        _REVISION.retired.is_(False),
        or_(
            _REVISION.set_id != held.set_id,
            _REVISION.free.is_not(None),
            _REVISION.take_off.is_not(None),
            _REVISION.landing.is_not(None),
        ),
    )  # fmt: skip
    found = {row[0] for row in c.execute(beside)} | {row[0] for row in c.execute(_moved(c, contest_id, held))}
    return frozenset(found | _other_defaults(c, contest_id, held))


def _of_contest(contest_id: int, *columns: Any) -> Select[Any]:
    return (
        select(*columns)
        .join_from(task, task_revision, IS_NEWEST)
        .join(task_point, ON_NEWEST)
        .where(task.c.contest_id == contest_id, _REVISION.retired.is_(False))
    )


def _moved(c: Connection, contest_id: int, held: Held) -> Select[Any]:
    """Return the query of tasks with a point that is retired or not as it was saved, in what staleness looks at."""
    is_same = and_(
        _STATE.latitude_e7 == _POINT.latitude_e7,
        _STATE.longitude_e7 == _POINT.longitude_e7,
        _STATE.code == _POINT.code,
        _STATE.name == _POINT.name,
        _STATE.elevation_dm.is_not_distinct_from(_POINT.elevation_dm),
    )
    stands = and_(_STATE.identity == _POINT.identity, standing(c, held.set_id, held.revision), is_same)
    return (
        _of_contest(contest_id, task.c.id)
        .join(waypoint_state, stands, isouter=True)
        .where(_POINT.identity.is_not(None), _STATE.id.is_(None))
        .distinct()
    )


def _other_defaults(c: Connection, contest_id: int, held: Held) -> set[int]:
    """Return the tasks with a point whose zone was a default and is none now, by the few zones that there are."""
    taken = (_POINT.role, _POINT.zone_text, _REVISION["class"], _REVISION.day)
    is_taken = _POINT.zone_from != ZoneFrom.OWN.value
    found: set[int] = set()
    for role, text, class_name, day in c.execute(_of_contest(contest_id, *taken).where(is_taken).distinct()).all():
        if held.is_default(Role(role), text, class_name, day):
            continue
        values = zip(taken, (role, text, class_name, day), strict=True)
        like = and_(is_taken, *(column.is_not_distinct_from(value) for column, value in values))
        found.update(row[0] for row in c.execute(_of_contest(contest_id, task.c.id).where(like)))
    return found
