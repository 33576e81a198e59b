"""Copies of an SQLite store that is in use: complete, checked, and either there whole or not there at all.

A file that is in use is never copied as a file: under a write-ahead log such a copy lacks what was committed last.
Knows files and SQLite's own backup; when one is taken is decided by the services.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import sqlite3
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection

from taskdb.core.pasted import quoted
from taskdb.disk.looking import why_not_written
from taskdb.disk.private import FRESH, private_folder
from taskdb.disk.words import Fault, reason, told
from taskdb.errors import NotFoundError, RefusedError, StoreUnusableError
from taskdb.store.connecting import connect, is_at_rest_for_us
from taskdb.store.engine import Store
from taskdb.store.opening import translate

KEPT = 10
"""How many automatic backups of a store are kept; the oldest go."""

_STEP_NS = 2_000_000_000  # some disks keep times to two seconds
_PAGES = 2_000  # copied between two looks at the keyboard: 8 MB


@dataclass(frozen=True, slots=True)
class Backup:
    """A backup that was taken: where it lies and how large it is."""

    path: Path
    size_bytes: int


def back_up(store: Store, target: Path, *, over: bool = False, preview: bool = False) -> Backup:
    """Copy an SQLite store as it was last committed into `target`, while others read and write it.

    The copy is made beside the target under a private name, checked (PRAGMA integrity_check), brought to the disk and
    renamed. `over` replaces an existing file; `preview` does all but the renaming. Raises RefusedError for a store on
    a server, a target that is there or cannot be written; NotFoundError for a store that is not there,
    StoreUnusableError for one that is not ours or is damaged.
    """
    source = _source(store)
    _require_place(source, target, over=over)
    with _copied(store, source, target, "integrity_check") as beside:
        size = beside.stat().st_size
        if not preview:
            _put(beside, target, over=over)
    return Backup(target, size)


def back_up_before(store: Store, what: str, at: str) -> Path | None:
    """Keep the last committed state in the folder `NAME.backups` beside an SQLite store; return the backup's path.

    `what` is the command that follows, `at` the time (UTC, `2027-05-14T08:30:00Z`). The last `KEPT` stay. None for a
    store on a server, and where nothing is there yet. Raises as `back_up`: no backup, no change.
    """
    if store.path is None or not store.path.exists() or store.path.stat().st_size == 0:
        return None
    folder = store.path.with_name(store.path.name + ".backups")
    try:
        folder.mkdir(mode=0o700, exist_ok=True)  # whoever may read the store reads it there, not its past here
    except OSError as error:
        raise _unwritable(folder, error) from None
    stamp = at.replace("-", "").replace(":", "")
    words = "-".join(what.split())
    target = _free_name(folder, f"{stamp}-before-{words}")
    with _copied(store, store.path, target, "quick_check") as beside:
        _put(beside, target, over=False)
    _drop_oldest(folder, target)
    return target


def let_others_read(c: Connection) -> None:
    """Hold what a write changes in memory until its commit, so that a backup can read what stood before.

    Only without a write-ahead log: there SQLite would shut readers out as soon as its cache is full.
    """
    if c.dialect.name == "sqlite" and c.exec_driver_sql("PRAGMA journal_mode").scalar() != "wal":
        # cache_spill would say it better, and is not heard once a transaction has begun (measured with SQLite 3.40).
        c.exec_driver_sql("PRAGMA cache_size = -1000000000")  # kB: no limit in practice


# -- how it is done ----------------------------------------------------------------------------------------------


def _source(store: Store) -> Path:
    if store.path is None:
        raise RefusedError(
            "backup-on-server",
            f"{store.shown_url} lies on a PostgreSQL server, whose own tools back it up.",
            hint="pg_dump -Fc DATABASE > FILE, or as text for either engine: taskdb store dump FILE",
            details={"store": store.shown_url},
        )
    if not store.exists():
        raise NotFoundError(
            "no-store",
            f"{store.shown_url} does not exist: there is nothing to back up.",
            hint="Name the store with --store.",
            details={"store": store.shown_url},
        )
    return store.path


def _require_place(source: Path, target: Path, *, over: bool) -> None:
    details = {"path": str(target)}
    if not os.path.isdir(target.parent):  # noqa: PTH112, a path that is too long is none, and pathlib fails
        raise RefusedError(
            "no-folder", f"The folder of {target} does not exist.",
            hint=f"Make it first: mkdir -p {quoted(str(target.parent))}", details=details,
        )  # fmt: skip
    own = [source, *(source.with_name(source.name + end) for end in ("-wal", "-shm", "-journal"))]
    if os.path.realpath(target) in {os.path.realpath(path) for path in own}:
        raise RefusedError("store-itself", f"{target} is the store itself.", hint="Name another file.", details=details)
    if not os.path.lexists(target):
        return
    if not target.is_file():
        raise RefusedError("not-a-file", f"{target} is no file.", hint="Name a file.", details=details)
    if not over:
        raise _exists(target)


def _exists(target: Path) -> RefusedError:
    return RefusedError(
        "file-exists",
        f"{target} exists already.",
        hint="Name another file, or give --yes to replace it.",
        details={"path": str(target)},
    )


@contextlib.contextmanager
def _copied(store: Store, source: Path, target: Path, check: str) -> Iterator[Path]:
    """Yield a checked copy in a private folder beside the target, on the disk; it goes if it was not renamed."""
    with contextlib.ExitStack() as stack:
        try:
            beside = stack.enter_context(private_folder(target.parent)) / "copy.db"
            os.close(os.open(beside, FRESH, 0o600))
            _copy(source, beside, store.wait_s)
            _check(beside, store.shown_url, check)
            beside.chmod(stat.S_IMODE(source.stat().st_mode) | stat.S_IWUSR)
            _to_disk(beside)
        except OSError as error:
            raise _unwritable(target, error) from None
        except sqlite3.Error as error:
            raise _in_words(error, store, target) from error
        yield beside


def _copy(source: Path, beside: Path, wait_s: float) -> None:
    options = "mode=ro&immutable=1" if is_at_rest_for_us(source) else "mode=ro"  # as for reading: see `engine`
    with (
        contextlib.closing(connect(source, wait_s, options)) as from_,
        contextlib.closing(connect(beside, 0)) as to,
    ):
        from_.execute("BEGIN")
        from_.execute("SELECT count(*) FROM sqlite_master").fetchone()  # the snapshot begins here, not at BEGIN
        to.execute("PRAGMA synchronous = OFF")  # brought to the disk once, at the end
        from_.backup(to, pages=_PAGES)
        to.execute("PRAGMA journal_mode = DELETE")  # one file, readable from a write-protected medium


def _check(path: Path, shown: str, check: str) -> None:
    with contextlib.closing(connect(path, 0, "mode=ro")) as copy:
        found = [row[0] for row in copy.execute(f"PRAGMA {check}(20)")]
    if found != ["ok"]:
        raise StoreUnusableError(
            "damaged-store",
            f"{shown} is damaged, so is every copy of it; none was kept: {found[0]}.",
            hint="Restore the newest good backup over it; `taskdb store verify` lists what is damaged.",
            details={"store": shown, "problems": found},
        )


def _put(beside: Path, target: Path, *, over: bool) -> None:
    try:
        if not over and os.path.lexists(target):  # made while we were copying
            raise _exists(target)
        beside.replace(target)
    except OSError as error:
        raise _unwritable(target, error) from None
    _to_disk(target.parent)


def _to_disk(path: Path) -> None:
    """Bring a file, or the names in a folder, to the disk; systems that cannot do that to a folder are left alone."""
    try:
        # Windows brings to the disk only what is open for writing, and opens no folder.
        descriptor = os.open(path, os.O_RDWR if path.is_file() else os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(descriptor)
    except OSError:
        if path.is_file():
            raise
    finally:
        os.close(descriptor)


def _in_words(error: sqlite3.Error, store: Store, target: Path) -> Exception:
    """Return what an error of a copy means: the fault is the copy's where its folder cannot be written."""
    name = getattr(error, "sqlite_errorname", None) or ""
    if name.startswith(("SQLITE_FULL", "SQLITE_IOERR", "SQLITE_READONLY", "SQLITE_CANTOPEN")):
        found = why_not_written(target.with_name("copy.db"))
        if found is None and name.startswith("SQLITE_FULL"):
            found = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        if found is not None or name.startswith("SQLITE_IOERR_WRITE"):
            return _unwritable(target, found or error)
    return translate(error, store.shown_url, store.wait_s, store.path) or error


def _unwritable(path: Path, error: Exception) -> RefusedError:
    fault = (
        told(error) if isinstance(error, OSError) else Fault(str(error), "Look at the folder's rights and free space.")
    )
    return RefusedError(
        "backup-not-written",
        f"The backup {path} cannot be written: {fault.words}; nothing was changed.",
        hint=fault.hint,
        details={"path": str(path), **({"reason": reason(error)} if isinstance(error, OSError) else {})},
    )


def _free_name(folder: Path, stem: str) -> Path:
    for number in range(1, 1_000):
        path = folder / f"{stem}{'' if number == 1 else f'-{number:03d}'}.db"
        if not path.exists():
            return path
    return folder / f"{stem}-{secrets.token_hex(8)}.db"


def _drop_oldest(folder: Path, newest: Path) -> None:
    """Keep the newest backups. What else a person put into the folder stays.

    They are in order of the time at which the file system says they were made. Where the clock was set back the new
    one would look older than those before it: then it is dated just after them. Its name says what the clock said.
    """
    others = {path: path.stat().st_mtime_ns for path in folder.glob("*-before-*.db") if path != newest}
    latest = max(others.values(), default=0)
    if newest.stat().st_mtime_ns <= latest:
        with contextlib.suppress(OSError):
            os.utime(newest, ns=(latest + _STEP_NS, latest + _STEP_NS))
    for path in sorted(others, key=lambda path: (others[path], path.name))[: 1 - KEPT]:
        with contextlib.suppress(OSError):
            path.unlink()
