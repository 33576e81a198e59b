"""What SQLite's errors about a file mean: the disk full, a right missing, the device failing, or the store damaged.

SQLite says `disk I/O error`, `unable to open database file` and `database disk image is malformed` of all of these; so
the file and its disk are looked at first. Knows no transactions.
"""

from __future__ import annotations

import errno
import os
import sqlite3
from pathlib import Path

from taskdb.disk.looking import why_not_read, why_not_written
from taskdb.disk.words import reason, told
from taskdb.errors import StoreUnusableError

_LOOK = "Look at the rights and free space of the file and its folder, or name another with --store."
_CANNOT_OPEN = (
    f"{_LOOK} Some network and removable disks cannot take the store's write-ahead log: copy the store there by"
    " `taskdb store backup FILE` on its own machine; such a copy opens anywhere."
)
_NOT_AS_A_FILE = "A store in use is copied by `taskdb store backup FILE`, never as a file."
_RESTORE = (
    "Move it aside with its -wal and -shm and copy the newest backup into its place, or name another file with --store."
    f" {_NOT_AS_A_FILE}"
)
_SPOILT = ("SQLITE_CORRUPT", "SQLITE_NOTADB", "SQLITE_IOERR_SHORT_READ", "SQLITE_IOERR_DATA")
_WRITING = ("SQLITE_IOERR", "SQLITE_FULL", "SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_AUTH")
_WORDS = {
    "SQLITE_FULL": "the disk is full",
    "SQLITE_READONLY": "it is read-only for you",
    "SQLITE_CANTOPEN": "it, or a file beside it, cannot be opened",
    "SQLITE_PERM": "you may not open it",
    "SQLITE_AUTH": "you may not open it",
    "SQLITE_IOERR": "reading or writing the disk failed",
}
_PAGE_SIZE_AT, _CHANGES_AT, _PAGES_AT, _VALID_FOR_AT = 16, 24, 28, 92
"""Where an SQLite file says how long it is (SQLite, "Database File Format", 1.3 The Database Header)."""


def is_busy(error: sqlite3.Error) -> bool:
    """Say whether SQLite gave up only because another connection holds a lock."""
    return _name(error).startswith(("SQLITE_BUSY", "SQLITE_LOCKED"))


def file_trouble(error: sqlite3.Error, shown: str, path: Path | None) -> StoreUnusableError | None:
    """Return what is the matter with the file of a store; None for an error that is none of files."""
    name = _name(error)
    if name == "SQLITE_READONLY_DBMOVED":
        return StoreUnusableError(
            "store-gone",
            f"{shown} was deleted or replaced while the command ran; what it did is not kept.",
            hint="Restore the newest backup there if it was not meant to go, and give the command again.",
            details={"store": shown},
        )
    if name.startswith(_SPOILT):
        found = why_not_read(path) if path is not None else None
        return _unusable(found, error, shown) if found is not None else _damaged(error, shown, path)
    if not name.startswith(_WRITING):
        return None
    found = _why(name, path)
    if found is not None:
        return _unusable(found, error, shown)
    words = next(words for prefix, words in _WORDS.items() if name.startswith(prefix))
    return StoreUnusableError(
        "store-not-writable" if name.startswith("SQLITE_READONLY") else "store-not-usable",
        f"{shown}: {words} ({error}).",
        hint=_CANNOT_OPEN if name.startswith("SQLITE_CANTOPEN") else _LOOK,
        details={"store": shown},
    )


def _name(error: sqlite3.Error) -> str:
    return getattr(error, "sqlite_errorname", None) or ""


def _why(name: str, path: Path | None) -> OSError | None:
    """Return what the disk says now; what was in the way may be gone, since nothing was kept."""
    found = None
    if path is not None and name.startswith("SQLITE_IOERR_READ"):
        return why_not_read(path)
    if path is not None:
        if path.exists() and not os.access(path, os.R_OK):
            return OSError(errno.EACCES, os.strerror(errno.EACCES), str(path))
        found = why_not_written(path)
    if found is None and name.startswith("SQLITE_FULL"):
        found = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
    return found


def _unusable(found: OSError, error: sqlite3.Error, shown: str) -> StoreUnusableError:
    fault = told(found)
    is_of_rights = found.errno in (errno.EACCES, errno.EPERM, errno.EROFS)
    return StoreUnusableError(
        "store-not-writable" if is_of_rights else "store-not-usable",
        f"{shown} cannot be used: {fault.words}; nothing was kept.",
        hint=f"{fault.hint} Another store is named with --store.",
        details={"store": shown, "reason": reason(found), "sqlite": _name(error)},
    )


def _damaged(error: sqlite3.Error, shown: str, path: Path | None) -> StoreUnusableError:
    if _name(error) == "SQLITE_NOTADB":
        return StoreUnusableError(
            "not-a-store", f"{shown} is not a taskdb store: it is no SQLite file.", hint=_RESTORE,
            details={"store": shown},
        )  # fmt: skip
    missing = _missing_bytes(path) if path is not None else 0
    what = f"it ends {missing:,} bytes too early, as a copy does that was cut short" if missing else str(error)
    return StoreUnusableError(
        "damaged-store", f"{shown} is damaged: {what}.", hint=_RESTORE, details={"store": shown}
    )  # fmt: skip


def _missing_bytes(path: Path) -> int:
    """Return how many bytes a file is shorter than its header says; 0 where it is not, or does not say it."""
    try:
        with path.open("rb") as stream:
            head, size = stream.read(100), path.stat().st_size
    except OSError:
        return 0
    if len(head) < 100 or _number(head, _CHANGES_AT) != _number(head, _VALID_FOR_AT):
        return 0
    page = int.from_bytes(head[_PAGE_SIZE_AT : _PAGE_SIZE_AT + 2], "big")
    return max(0, _number(head, _PAGES_AT) * (65_536 if page == 1 else page) - size)


def _number(head: bytes, at: int) -> int:
    return int.from_bytes(head[at : at + 4], "big")
