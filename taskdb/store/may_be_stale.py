"""Which of a contest's tasks may be stale, told by a few queries however many there are.

May be: every stale task is among them, and which of them is one is decided where its reasons are told. Held against
what was saved with each point, as the indexes have it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, and_, case, or_, select
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
    may_be = or_(
        and_(_POINT.identity.is_not(None), _STATE.id.is_(None)),
        _REVISION.set_id != held.set_id,
        _REVISION.free.is_not(None),
        _REVISION.take_off.is_not(None),
        _REVISION.landing.is_not(None),
    )
    # Told in one look through the points: a task by its id, else a default zone, of which there are a few.
    default = (_POINT.role, _POINT.zone_text, _REVISION["class"], _REVISION.day)
    is_default = _POINT.zone_from != ZoneFrom.OWN.value
    query = _of_contest(contest_id, case((may_be, task.c.id)), *default).join(
        waypoint_state, _as_saved(c, held), isouter=True
    )
    found: set[int] = set()
    for task_id, role, text, class_name, day in c.execute(query.where(or_(may_be, is_default)).distinct()).all():
        if task_id is not None:
            found.add(task_id)
        elif not held.is_default(Role(role), text, class_name, day):
            values = zip(default, (role, text, class_name, day), strict=True)
            like = and_(is_default, *(column.is_not_distinct_from(value) for column, value in values))
            found.update(c.scalars(_of_contest(contest_id, task.c.id).where(like)))
    return frozenset(found)


def _of_contest(contest_id: int, *columns: Any) -> Select[Any]:
    return (
        select(*columns)
        .join_from(task, task_revision, IS_NEWEST)
        .join(task_point, ON_NEWEST)
        .where(task.c.contest_id == contest_id, _REVISION.retired.is_(False))
    )


def _as_saved(c: Connection, held: Held) -> ColumnElement[bool]:
    """Return the condition that a state is that of a point, stands, and is as it was saved in what staleness sees."""
    return and_(
        _STATE.identity == _POINT.identity,
        standing(c, held.set_id, held.revision),
        _STATE.latitude_e7 == _POINT.latitude_e7,
        _STATE.longitude_e7 == _POINT.longitude_e7,
        _STATE.code == _POINT.code,
        _STATE.name == _POINT.name,
        _STATE.elevation_dm.is_not_distinct_from(_POINT.elevation_dm),
    )
