"""Flown records: the days on which a task was flown, and how it went. The newest row of a task and day counts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import ColumnElement, Connection, Subquery, and_, case, exists, func, insert, or_, select

from taskdb.core.flown import FLAT_NAMES_BY_LOGS
from taskdb.core.model import FlownByLogs, FlownRecord
from taskdb.store.bulk import among
from taskdb.store.engine import Writing
from taskdb.store.rows import from_json, to_json
from taskdb.store.schema import flown_record

_FLOWN = flown_record.c
RECORD_COLUMNS = (
    "flown_on", "wind_from_deg", "wind_speed_kmh", "cloud_base_m", "starters", "finishers", "best_kmh", "median_kmh",
    "remarks",
)  # fmt: skip


def flown_figures() -> Subquery:
    """Return, as SQL, a row for each task that was flown: `task_id`, on how many days (`times`), on which `last`.

    `rate_percent` is how many of all starters finished, None where that is not known of any day. The newest record of
    a day counts.
    """
    starters, finishers = who_finished()
    rated = and_(starters > 0, finishers.is_not(None))
    rate = func.sum(case((rated, finishers))) * 100.0 / func.sum(case((rated, starters)))
    return (
        select(
            _FLOWN.task_id,
            func.count().label("times"),
            func.max(_FLOWN.flown_on).label("last"),
            rate.label("rate_percent"),
        )
        .where(_FLOWN.withdrawn.is_(False), is_newest())
        .group_by(_FLOWN.task_id)
        .subquery()
    )


def who_finished() -> tuple[ColumnElement[int], ColumnElement[int]]:
    """Return starters and finishers of a day as SQL; `core/flown.py` says the same of a record."""
    by_hand = and_(_FLOWN.starters.is_not(None), _FLOWN.finishers.is_not(None))
    is_hand = or_(by_hand, _FLOWN.logs.is_(None))
    return (
        case((is_hand, _FLOWN.starters), else_=_FLOWN.log_starters),
        case((is_hand, _FLOWN.finishers), else_=_FLOWN.log_finishers),
    )


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
    names = (*RECORD_COLUMNS, *FLAT_NAMES_BY_LOGS.values())
    query = select(_FLOWN.task_id, *(_FLOWN[name] for name in names)).where(_FLOWN.withdrawn.is_(False), is_newest())
    found: dict[int, list[FlownRecord]] = {}
    for wanted in among(_FLOWN.task_id, ids):
        for row in c.execute(query.where(wanted).order_by(_FLOWN.task_id, _FLOWN.flown_on)).all():
            by_hand = dict(zip(RECORD_COLUMNS, row[1:], strict=False))
            found.setdefault(row[0], []).append(FlownRecord(**by_hand, by_logs=_by_logs(row)))
    return {task_id: tuple(records) for task_id, records in found.items()}


def _by_logs(row: Any) -> FlownByLogs | None:
    if row.logs is None:
        return None
    values = {name: getattr(row, column) for name, column in FLAT_NAMES_BY_LOGS.items()}
    values["ended_near"] = tuple((code, count) for code, count in from_json(values["ended_near"], []))
    return FlownByLogs(**{**values, "logs": tuple(from_json(values["logs"]))})


def flown_records(c: Connection, task_id: int) -> tuple[FlownRecord, ...]:
    """Return the days on which a task was flown, oldest first; withdrawn ones are left out."""
    return flown_of(c, [task_id]).get(task_id, ())


def write_flown(w: Writing, task_id: int, record: FlownRecord, *, withdrawn: bool = False) -> None:
    """Keep a flown record, or withdraw that of its day; earlier rows stay on record."""
    values = {name: getattr(record, name) for name in RECORD_COLUMNS}
    told = record.by_logs
    values |= {column: None if told is None else getattr(told, name) for name, column in FLAT_NAMES_BY_LOGS.items()}
    if told is not None:
        values |= {"ended_near": to_json(told.ended_near), "logs": to_json(told.logs)}
    w.connection.execute(
        insert(flown_record), {**values, "task_id": task_id, "withdrawn": withdrawn, "operation_id": w.operation_id}
    )
