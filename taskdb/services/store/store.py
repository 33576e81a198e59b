"""The store itself: what it is and holds, bringing it to the newest schema, and its journal."""

from __future__ import annotations

import datetime
import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.store.operation_log import list_operations
from taskdb.store.summary import count_all, replica_state, size_bytes
from taskdb.store.version import NEWEST, current_revision

if TYPE_CHECKING:
    from taskdb.core.kept import LoggedOperation
    from taskdb.services.desk import Desk
    from taskdb.store.summary import Counts, Replica


@dataclass(frozen=True)
class StoreInfo:
    """What a store is: `store` is its address without a password, `schema` None where there is no store yet."""

    store: str
    kind: str
    exists: bool
    schema: str | None
    newest_schema: str
    size_bytes: int
    counts: Counts
    newest: LoggedOperation | None
    replica: Replica | None
    """Of a server that follows another one: how far it has come."""


@dataclass(frozen=True)
class Journal:
    operations: tuple[LoggedOperation, ...]
    total: int

    @property
    def back_in_time(self) -> tuple[int, ...]:
        """Return the operations that bear a time well before that of the one before them, by number.

        A time is that of a command's start, its number that of its end: what took long may lie behind by that.
        """
        pairs = itertools.pairwise(self.operations)
        found = (new.number for new, old in pairs if _moment(old.at) - _moment(new.at) > _LONGEST_COMMAND)
        return tuple(sorted(found))


_LONGEST_COMMAND = datetime.timedelta(hours=1)


def _moment(at: str) -> datetime.datetime:
    return datetime.datetime.fromisoformat(at)


def store_info(desk: Desk) -> StoreInfo:
    """Return what the store is and holds; a store that does not exist yet answers as an empty one.

    Raises StoreUnusableError for a file that is no store, is damaged, or has another schema.
    """
    store = desk.store
    exists = store.exists()
    with store.reading() as c:
        newest, _ = list_operations(c, 1)
        return StoreInfo(
            store=store.shown_url,
            kind="sqlite" if store.is_sqlite else "postgresql",
            exists=exists,
            schema=current_revision(c) if exists else None,
            newest_schema=NEWEST,
            size_bytes=size_bytes(store, c) if exists else 0,
            counts=count_all(c),
            newest=newest[0] if newest else None,
            replica=replica_state(c),
        )


@dataclass(frozen=True)
class StoreUpgraded:
    """What an upgrade did: `before` is None where there is no store yet, equal to `after` where nothing was to do."""

    store: str
    before: str | None
    after: str
    backup: str | None = None
    """Where an SQLite store was kept as it was before."""


def upgrade(desk: Desk, *, preview: bool = False) -> StoreUpgraded:
    """Bring the store to the newest schema, all of it or nothing; it is no operation and cannot be undone.

    Raises StoreUnusableError for a store that is damaged, newer, not ours, or whose rows would not survive.
    """
    from taskdb.store.upgrade import upgrade_store

    done = upgrade_store(
        desk.store_url, wait_s=desk.wait_s, preview=preview, before_keeping=desk.before_keeping, backup_at=desk.stamp()
    )
    if done.before != done.after and not preview and done.before is not None:
        desk.after_keeping(None)
    backup = str(done.backup) if done.backup is not None else None
    return StoreUpgraded(desk.store.shown_url, done.before, done.after, backup)


def read_journal(desk: Desk, limit: int | None = None) -> Journal:
    """Return the store's operations, newest first; at most `limit`, all for None."""
    with desk.store.reading() as c:
        return Journal(*list_operations(c, limit))
