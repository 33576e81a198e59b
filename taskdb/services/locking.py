"""Looking a thing up and locking its set, so that what was found still stands when it is changed.

On SQLite a write holds the whole store and one look is enough. On a server others may give the set a revision between
the look and the lock; then it is looked up again under the lock, instead of refusing what nobody did wrong.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

from taskdb.store import sets as set_rows

if TYPE_CHECKING:
    from taskdb.services.references import SetAt
    from taskdb.store.engine import Writing
    from taskdb.store.sets import SetHead

T = TypeVar("T")


def look_and_lock(writing: Writing, look: Callable[[], tuple[SetAt, T]]) -> tuple[SetHead, SetAt, T]:
    """Return the locked set, where the thing was found in it, and the thing, all as they stand under the lock."""
    at, found = look()
    head = set_rows.lock_set(writing, at.head.id)
    while head != at.head:
        at, found = look()
        head = set_rows.lock_set(writing, at.head.id)
    return head, at, found
