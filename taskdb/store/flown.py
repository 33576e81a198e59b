"""Flown records: the days on which a task was flown, and how it went. The newest row of a task and day counts."""

from __future__ import annotations

from sqlalchemy import Connection, func, insert, select

from taskdb.core.model import FlownRecord
from taskdb.store.engine import Writing
from taskdb.store.schema import flown_record

RECORD_COLUMNS = (
    "flown_on", "wind_from_deg", "wind_speed_kmh", "cloud_base_m", "starters", "finishers", "best_kmh", "median_kmh",
    "remarks",
)  # fmt: skip


def flown_records(c: Connection, task_id: int) -> tuple[FlownRecord, ...]:
    """Return the days on which a task was flown, oldest first; withdrawn ones are left out."""
    table = flown_record.c
    newest = select(func.max(table.id)).where(table.task_id == task_id).group_by(table.flown_on)
    query = (
        select(*(table[name] for name in RECORD_COLUMNS))
        .where(table.id.in_(newest), table.withdrawn.is_(False))
        .order_by(table.flown_on)
    )
    return tuple(FlownRecord(*row) for row in c.execute(query))


def write_flown(w: Writing, task_id: int, record: FlownRecord, *, withdrawn: bool = False) -> None:
    """Keep a flown record, or withdraw that of its day; earlier rows stay on record."""
    values = {name: getattr(record, name) for name in RECORD_COLUMNS}
    w.connection.execute(
        insert(flown_record), {**values, "task_id": task_id, "withdrawn": withdrawn, "operation_id": w.operation_id}
    )
