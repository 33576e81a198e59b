"""What a store holds, in numbers: how many sets, waypoints, contests, tasks, operations, and how large it is."""

from __future__ import annotations

from sqlalchemy import Connection, and_, func, select, text

from taskdb.store.engine import Store
from taskdb.store.schema import contest, contest_revision, operation, task, task_revision, waypoint_set, waypoint_state
from taskdb.values import dataclass


@dataclass(frozen=True, slots=True)
class Counts:
    """What stands now: retired waypoints, contests and tasks are not counted."""

    sets: int
    waypoints: int
    contests: int
    tasks: int
    operations: int


def count_all(c: Connection) -> Counts:
    """Return what stands in the store; zeros for an empty one."""
    newest_contest = and_(contest_revision.c.contest_id == contest.c.id, contest_revision.c.number == contest.c.newest)
    newest_task = and_(task_revision.c.task_id == task.c.id, task_revision.c.number == task.c.newest)
    count = func.count()
    return Counts(
        sets=c.scalar(select(count).select_from(waypoint_set)) or 0,
        waypoints=c.scalar(select(count).select_from(waypoint_state).where(waypoint_state.c.valid_to.is_(None))) or 0,
        contests=c.scalar(
            select(count).select_from(contest.join(contest_revision, newest_contest)).where(~contest_revision.c.retired)
        )
        or 0,
        tasks=c.scalar(select(count).select_from(task.join(task_revision, newest_task)).where(~task_revision.c.retired))
        or 0,
        operations=c.scalar(select(count).select_from(operation)) or 0,
    )


def size_bytes(store: Store, c: Connection) -> int:
    """Return how much room the store takes: the file with its write-ahead log, or the database on its server."""
    if store.path is None:
        return int(c.scalar(text("SELECT pg_database_size(current_database())")) or 0)
    beside = [store.path, store.path.with_name(store.path.name + "-wal")]
    return sum(path.stat().st_size for path in beside if path.exists())
