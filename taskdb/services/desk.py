"""What a service needs from outside the core: the store, who is writing, the time, and new identities.

The clock and the randomness of the whole tool come in here and nowhere else, so tests can hand in their own.
"""

from __future__ import annotations

import datetime
import secrets
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from taskdb.errors import RefusedError

if TYPE_CHECKING:
    from taskdb.store.engine import Store, Writing

T = TypeVar("T")


def utc_now() -> datetime.datetime:
    """Return the present moment in UTC, to the second."""
    return datetime.datetime.now(datetime.UTC).replace(microsecond=0)


def random_identity() -> str:
    """Return a new random identity: 128 bits as 32 hexadecimal digits."""
    return next(_IDENTITIES)


def _identities() -> Iterator[str]:
    # A thousand at a time: asking the system once for each would be a tenth of the time of a large import.
    while True:
        digits = secrets.token_hex(16 * 1000)
        for start in range(0, len(digits), 32):
            yield digits[start : start + 32]


_IDENTITIES = _identities()


Progress = Callable[[str], None]
"""Told what a long command has come to."""


def do_nothing(*_: object) -> None:
    """Do nothing."""


@dataclass(frozen=True)
class Write:
    """How a writing service is to be carried out.

    `command` goes into the journal; `preview` does everything and keeps nothing; `confirmed` answers its questions
    with yes.
    """

    command: str
    note: str | None = None
    preview: bool = False
    confirmed: bool = False


@dataclass(frozen=True)
class Desk:
    """A place to work at: a store, an author, a clock. The store is opened on first use."""

    store_url: str = field(repr=False)  # it may hold a password
    author: str
    now: Callable[[], datetime.datetime] = utc_now
    new_identity: Callable[[], str] = random_identity
    wait_s: float = 30.0
    makes_folder: bool = False
    """Whether the first write may make the store's folder: only where the store is the default one."""
    before_keeping: Callable[[], None] = do_nothing
    """Called when a write is complete and is about to be committed: from here on an interrupt comes too late."""
    after_keeping: Callable[[int | None], None] = do_nothing
    """Told, once it is committed, the number of the operation that was kept; None for what is no operation."""

    @cached_property
    def store(self) -> Store:
        from taskdb.store.engine import open_store

        return open_store(self.store_url, wait_s=self.wait_s, make_folder=self.makes_folder)

    def write(self, write: Write, work: Callable[[Writing], T]) -> T:
        """Carry out the one transaction and the one operation of a writing service; return what `work` returns.

        `work` reads and computes while others may write, and holds the lock from the first row that it writes. Where
        somebody wrote meanwhile it is called a second time, under the lock: it keeps nothing outside the store before
        its first row, and what takes long it leaves to `Writing.once`.
        """
        return self.write_with_backup(write, work, backup=False)[0]

    def write_with_backup(
        self, write: Write, work: Callable[[Writing], T], *, backup: bool = True
    ) -> tuple[T, Path | None]:
        """Carry out a write like `write`; return what it returns, and where the store was kept as it was before.

        `backup` keeps an SQLite store beside it, once the write is complete and is going to be kept. No backup, no
        change.
        """
        from taskdb.store.engine import NewOperation

        at = self.stamp()
        operation = NewOperation(at=at, author=self.author, command=write.command, note=write.note)
        with self.store.writing(operation, preview=write.preview, looks_first=True) as writing:
            if backup:
                self._let_backup_read(writing)
            done = writing.carried_out(work)
            if not (write.preview or writing.is_abandoned):
                if backup:
                    from taskdb.store.backup import back_up_before

                    writing.backup = back_up_before(self.store, write.command, at)
                self.before_keeping()
        if not (write.preview or writing.is_abandoned):
            self.after_keeping(writing.operation_id)
        return done, writing.backup

    def stamp(self) -> str:
        """Return the present moment as the store keeps times: UTC to the second, `2027-05-14T08:30:00Z`."""
        return self.now().strftime("%Y-%m-%dT%H:%M:%SZ")

    def _let_backup_read(self, writing: Writing) -> None:
        from taskdb.store.backup import let_others_read

        let_others_read(writing.connection)


class NeedsConfirmation(RefusedError):
    """A question that only a person can answer; the command asks it or names the option that answers it."""

    def __init__(self, question: str, *, details: dict[str, object] | None = None, option: str = "--yes") -> None:
        super().__init__(
            "needs-confirmation",
            question,
            hint=f"Give {option} to go ahead.",
            details={"option": option, **(details or {})},
        )


def require_confirmed(write: Write, question: str, **details: object) -> None:
    """Raise NeedsConfirmation unless the write was confirmed."""
    if not write.confirmed:
        raise NeedsConfirmation(question, details=dict(details))
