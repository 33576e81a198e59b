"""Flown records: the days on which a task was flown, and how it went. The newest row of a task and day counts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from sqlalchemy import ColumnElement, Connection, and_, case, exists, func, insert, select

from taskdb.core.model import FlownRecord
from taskdb.store.bulk import among
from taskdb.store.engine import Writing
from taskdb.store.schema import flown_record

_FLOWN = flown_record.c
RECORD_COLUMNS = (
    "flown_on", "wind_from_deg", "wind_speed_kmh", "cloud_base_m", "starters", "finishers", "best_kmh", "median_kmh",
    "remarks",
)  # fmt: skip


class FlownFigures(NamedTuple):
    """On how many days a task was flown, on which last, and how many of all starters finished (None: not known)."""

    times: int
    last_flown: str
    rate_percent: float | None


def flown_figures(c: Connection) -> Mapping[int, FlownFigures]:
    """Return the figures of all tasks that were flown, by task id; the newest record of a day counts."""
    rated = and_(_FLOWN.starters > 0, _FLOWN.finishers.is_not(None))
    query = (
        select(
            _FLOWN.task_id,
            func.count(),
            func.max(_FLOWN.flown_on),
            func.sum(case((rated, _FLOWN.finishers))),
            func.sum(case((rated, _FLOWN.starters))),
        )
        .where(_FLOWN.withdrawn.is_(False), is_newest())
        .group_by(_FLOWN.task_id)
    )
    return {
        task_id: FlownFigures(times, last, int(finishers) * 100 / int(starters) if starters else None)
        for task_id, times, last, finishers, starters in c.execute(query).all()
    }


def is_newest() -> ColumnElement[bool]:
    """Return the condition that a record is the newest of its task and day."""
    later = flown_record.alias("later")
    return ~exists().where(
        later.c.task_id == _FLOWN.task_id, later.c.flown_on == _FLOWN.flown_on, later.c.id > _FLOWN.id
    )


def days_flown(c: Connection, ids: Sequence[int]) -> Mapping[int, int]:
    """Return on how many days tasks were flown, by task id; at least those asked for that were flown at all."""
    query = select(_FLOWN.task_id, func.count()).where(_FLOWN.withdrawn.is_(False), is_newest())
    return {
        task_id: count
        for wanted in among(_FLOWN.task_id, ids)
        for task_id, count in c.execute(query.where(wanted).group_by(_FLOWN.task_id)).all()
    }


def flown_of(c: Connection, ids: Sequence[int]) -> Mapping[int, tuple[FlownRecord, ...]]:
    """Return the flown records of tasks, oldest first, by task id; withdrawn ones are left out."""
    query = select(_FLOWN.task_id, *(_FLOWN[name] for name in RECORD_COLUMNS)).where(
        _FLOWN.withdrawn.is_(False), is_newest()
    )
    found: dict[int, list[FlownRecord]] = {}
    for wanted in among(_FLOWN.task_id, ids):
        for task_id, *values in c.execute(query.where(wanted).order_by(_FLOWN.task_id, _FLOWN.flown_on)).all():
            found.setdefault(task_id, []).append(FlownRecord(*values))
    return {task_id: tuple(records) for task_id, records in found.items()}


def flown_records(c: Connection, task_id: int) -> tuple[FlownRecord, ...]:
    """Return the days on which a task was flown, oldest first; withdrawn ones are left out."""
    return flown_of(c, [task_id]).get(task_id, ())


def write_flown(w: Writing, task_id: int, record: FlownRecord, *, withdrawn: bool = False) -> None:
    """Keep a flown record, or withdraw that of its day; earlier rows stay on record."""
    values = {name: getattr(record, name) for name in RECORD_COLUMNS}
    w.connection.execute(
        insert(flown_record), {**values, "task_id": task_id, "withdrawn": withdrawn, "operation_id": w.operation_id}
    )
