"""Writers of one SQLite file wait in turn: SQLite itself lets whoever asks at the right moment go first.

Whoever waits holds the byte of a file beside the store that the moment of its coming numbers, and goes on when nobody
holds an earlier one. The system takes such locks back when a process ends, however it ends. Nobody's data hangs on
it: SQLite's own lock is what keeps writers apart, and where a system or disk has no such locks, its own waiting counts.
"""

from __future__ import annotations

import contextlib
import os
import stat
import time
from collections.abc import Callable, Iterator
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

SUFFIX = "-queue"
_ALL = 1 << 62
_TRIES = 10


def is_anybody_waiting(path: Path) -> bool:
    """Say whether others wait for the store at `path`; a killed one too, until the next has waited."""
    return fcntl is not None and _queue(path).exists()


@contextlib.contextmanager
def waiting(path: Path) -> Iterator[Callable[[], bool]]:
    """Yield the question whether it is our turn; always, where there is no queue to be had. We leave it at the end."""
    opened = _take_place(path) if fcntl is not None else None
    if opened is None:
        yield lambda: True
        return
    descriptor, place = opened
    try:
        yield lambda: _is_free(descriptor, place)
    finally:
        _leave(descriptor, path)


def _queue(path: Path) -> Path:
    return path.with_name(path.name + SUFFIX)


def _take_place(path: Path) -> tuple[int, int] | None:
    for _ in range(_TRIES):
        try:
            descriptor = os.open(_queue(path), os.O_RDWR | os.O_CREAT, stat.S_IMODE(path.stat().st_mode))
        except OSError:
            return None
        with contextlib.suppress(OSError):
            place = time.time_ns()
            fcntl.lockf(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB, 1, place)
            if os.fstat(descriptor).st_nlink:  # else the last of those before us has taken the file away
                return descriptor, place
        os.close(descriptor)
    return None


def _is_free(descriptor: int, place: int) -> bool:
    """Say whether nobody holds a byte before ours."""
    try:
        fcntl.lockf(descriptor, fcntl.LOCK_SH | fcntl.LOCK_NB, place, 0)
        fcntl.lockf(descriptor, fcntl.LOCK_UN, place, 0)
    except OSError:
        return False
    return True


def _leave(descriptor: int, path: Path) -> None:
    with contextlib.suppress(OSError):
        fcntl.lockf(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB, _ALL, 0)  # had by the last one alone
        _queue(path).unlink()
    os.close(descriptor)
