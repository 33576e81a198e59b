"""What a store holds, in numbers: sets, waypoints, contests, tasks, operations, its size, and how far behind it is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC

from sqlalchemy import Connection, and_, func, select, text

from taskdb.store.engine import Store
from taskdb.store.schema import contest, contest_revision, operation, task, task_revision, waypoint_set, waypoint_state


@dataclass(frozen=True, slots=True)
class Counts:
    """What stands now: retired waypoints, contests and tasks are not counted."""

    sets: int
    waypoints: int
    contests: int
    tasks: int
    operations: int


@dataclass(frozen=True, slots=True)
class Replica:
    """How far a server that follows another one has come.

    `behind_s`: at most so many seconds behind, 0 where all that came is there and more would come; None where nothing
    came yet. `written_until`: when the newest write that is there was committed, UTC. `is_connected`: to the other one.
    """

    behind_s: float | None
    written_until: str | None
    is_connected: bool


# PostgreSQL documentation, "Recovery Information Functions" and pg_stat_wal_receiver (of which everybody sees the pid).
# Where nothing more comes, what was written last is all that is known: so far behind at most.
_REPLICA = text(
    "SELECT pg_last_xact_replay_timestamp(), EXISTS (SELECT pid FROM pg_stat_wal_receiver),"
    " pg_last_wal_receive_lsn() = pg_last_wal_replay_lsn(),"
    " EXTRACT(EPOCH FROM clock_timestamp() - pg_last_xact_replay_timestamp()) WHERE pg_is_in_recovery()"
)


def replica_state(c: Connection) -> Replica | None:
    """Return how far a replica has come; None on a server that follows none, and for a file."""
    row = c.execute(_REPLICA).one_or_none() if c.dialect.name == "postgresql" else None
    if row is None:
        return None
    until, is_connected, is_even, since_s = row
    behind_s = 0.0 if is_connected and is_even else None if since_s is None else max(float(since_s), 0.0)
    return Replica(behind_s, until and f"{until.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}", is_connected)


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
