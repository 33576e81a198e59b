"""Private folders beside what is being written, and clearing those whose owner is gone.

Whoever writes works in a folder of his own in the target's folder, so that the last step is a rename on one disk. He
holds a lock on a file in it, which the system lets go of when he ends, however he ends. So what a killed command left
behind is known without a clock and without numbers of processes, which are used again and differ between containers.
"""

from __future__ import annotations

import os
import secrets
import shutil
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from zlib import crc32

from taskdb.disk.putting_back import has_plan, put_back

try:
    import fcntl
except ImportError:  # Windows, where what is open cannot be taken away: that is the lock
    fcntl = None  # type: ignore[assignment]

FRESH = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0)
"""Opens a new file, never one that is there nor what a link leads to."""

PREFIX = ".taskdb-"
STRAY_AFTER_S = 3600.0
"""What another machine left, or an earlier run of this one, is dead when it was not touched for so long."""

_LOCK = "lock"
_TRIES = 10


@contextmanager
def private_folder(where: Path) -> Iterator[Path]:
    """Make a folder of our own in `where` that goes at the end, and clear what others left behind. Raises OSError.

    It stays for the next writer only where a swap could neither be done nor undone.
    """
    own, lock = _made(where)
    try:
        _clear_others(where, own)
        yield own
    finally:
        os.close(lock)
        if not has_plan(own):
            _remove(own)


def clear_left_behind(where: Path) -> None:
    """Take away what killed commands left in a folder, and put back what they had half swapped; never fails."""
    with suppress(OSError), private_folder(where):
        pass


def is_private(name: str) -> bool:
    """Say whether a file or folder bears a private name of ours."""
    return name.startswith(PREFIX)


def _made(where: Path) -> tuple[Path, int]:
    """Return a new folder and the descriptor that holds its lock."""
    for left in reversed(range(_TRIES)):
        own = where / f"{PREFIX}{_kernel()}-{secrets.token_hex(8)}"
        try:
            own.mkdir(mode=0o700)
            lock = _new_lock(own)
        except (FileExistsError, FileNotFoundError):  # somebody made it, or cleared it before it was locked
            if not left:
                raise
            continue
        _is_free(lock)
        if (own / _LOCK).exists():
            return own, lock
        os.close(lock)
    raise FileNotFoundError(f"no private folder could be made in {where}")


def _new_lock(own: Path) -> int:
    try:
        return os.open(own / _LOCK, FRESH, 0o600)
    except OSError:
        with suppress(OSError):
            own.rmdir()
        raise


def _kernel() -> str:
    """Return what names this run of this machine: who shares it shares its locks, on network folders too."""
    try:
        name = Path("/proc/sys/kernel/random/boot_id").read_text(encoding="utf-8")
    except (OSError, ValueError):
        import platform

        name = platform.node()
    return f"{crc32(name.strip().encode('utf-8', 'replace')):08x}"


def _is_free(descriptor: int) -> bool | None:
    """Take the lock of an open file; say whether it could be had, None where the file system has no locks."""
    if fcntl is None:
        return None
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return None
    return True


def _clear_others(where: Path, own: Path) -> None:
    with suppress(OSError):
        # The disk's own clock: ours may have been set, and a server's is another.
        now = own.stat().st_mtime
        for path in sorted(where.iterdir()):
            if is_private(path.name) and path != own:
                with suppress(OSError):
                    _clear(path, now)


def _clear(path: Path, now: float) -> None:
    status = path.lstat()
    if not stat.S_ISDIR(status.st_mode):  # earlier releases wrote files under such names
        if abs(now - status.st_mtime) >= STRAY_AFTER_S:
            path.unlink()
        return
    with suppress(OSError):  # not even its lock was made; who is just about to do that makes another folder
        path.rmdir()
        return
    is_free, descriptor = _looked_at(path / _LOCK)
    try:
        is_ours = path.name.startswith(f"{PREFIX}{_kernel()}-")
        if is_free is False or not ((is_ours and is_free) or _is_untouched(path, now)):
            return
        if put_back(path):
            _remove(path)
    finally:
        if descriptor is not None:
            os.close(descriptor)


def _remove(folder: Path) -> None:
    """Remove a private folder, its lock last: without one it would be known by its age alone."""
    with suppress(OSError):
        for path in sorted(folder.iterdir(), key=lambda path: path.name == _LOCK):
            with suppress(OSError):
                path.unlink()
        folder.rmdir()
        return
    shutil.rmtree(folder, ignore_errors=True)  # an earlier release may have had folders in it


def _looked_at(lock: Path) -> tuple[bool | None, int | None]:
    """Return whether a lock is free (None: nobody can say), and the descriptor that now holds it."""
    if fcntl is None:
        try:
            lock.unlink()
        except FileNotFoundError:
            return None, None
        except OSError:
            return False, None
        return True, None
    try:
        descriptor = os.open(lock, os.O_RDWR | os.O_NOFOLLOW | os.O_NONBLOCK)
    except FileNotFoundError:  # of an earlier release
        return None, None
    return _is_free(descriptor), descriptor


def _is_untouched(folder: Path, now: float) -> bool:
    """Say whether nothing in a folder was touched lately; a time that lies far ahead is none of a writer at work."""
    touched = [folder.lstat().st_mtime, *(path.lstat().st_mtime for path in folder.iterdir())]
    return min(abs(now - one) for one in touched) >= STRAY_AFTER_S
