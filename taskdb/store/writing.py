"""A write that is under way: what it reads it reads without the lock, and only its writing makes others wait.

Knows no engine: how a lock is had, and whether what was read still stands, `engine` says.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar, cast

from sqlalchemy import Connection, func, insert, select

from taskdb.store.schema import operation as table

T = TypeVar("T")


class MovedOnError(Exception):
    """Somebody wrote between our reading and our lock, which we hold now: what was read has to be read again."""


@dataclass(frozen=True, slots=True)
class NewOperation:
    """The row that a write leaves in the journal: when (UTC to the second), who, which command, why."""

    at: str
    author: str
    command: str
    note: str | None = None
    undoes: int | None = None


class Writing:
    """A write: its connection, and from its first written row on the lock and the number of its operation."""

    def __init__(self, connection: Connection, operation: NewOperation, lock: Callable[[], None] | None = None) -> None:
        """`lock` gets the lock when the first row is written; None where it is had already."""
        self.connection = connection
        self.operation = operation
        self.is_abandoned = False
        self.backup: Path | None = None
        """The backup of the store as it was before, where one was taken."""
        self._lock = lock
        self._number: int | None = None
        self._known: dict[Hashable, object] = {}

    @property
    def operation_id(self) -> int:
        """The number of the operation. Asking for it begins the writing."""
        self.begin()
        if self._number is None:
            self._number = _add_operation(self.connection, self.operation)
        return self._number

    def begin(self) -> None:
        """Get the lock, where it is not had yet: from here to the end nobody else writes.

        Before it nothing can be written. Raises MovedOnError, once, where what was read may no longer stand; then the
        lock is had, and everything is to be read again. StoreBusyError.
        """
        lock, self._lock = self._lock, None
        if lock is not None:
            lock()

    def abandon(self) -> None:
        """Say that nothing changed after all: everything is rolled back and no operation is kept."""
        self.is_abandoned = True

    def carried_out(self, work: Callable[[Writing], T]) -> T:
        """Return what `work` makes of this write: done over, under the lock, where others wrote while it was reading.

        It writes nothing outside the store before it has begun.
        """
        try:
            return self._complete(work)
        except MovedOnError:
            self.is_abandoned = False
        return self._complete(work)

    def once(self, key: Hashable, compute: Callable[[], T]) -> T:
        """Return what `compute` gives, kept by a key that holds all that it depends on: not computed under the lock.

        Such keys are values that were read, or a revision, which never changes.
        """
        if key not in self._known:
            self._known[key] = compute()
        return cast("T", self._known[key])

    def _complete(self, work: Callable[[Writing], T]) -> T:
        done = work(self)
        if not self.is_abandoned:
            _ = self.operation_id  # what writes no row of its own is an operation all the same
        return done


def newest_operation(c: Connection) -> int:
    """Return the number of the newest operation, 0 where there is none: it grows with everything that is written."""
    return c.scalar(select(func.max(table.c.id))) or 0


def _add_operation(c: Connection, new: NewOperation) -> int:
    """Add the row, numbered on under the writers' lock: a sequence would leave a gap at every write that fails."""
    number = newest_operation(c) + 1
    row = {
        "id": number, "at": new.at, "author": new.author, "command": new.command, "note": new.note, "undoes": new.undoes
    }  # fmt: skip
    c.execute(insert(table), row)
    return number
