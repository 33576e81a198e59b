"""Looks at a file and its disk after something failed: what is the matter there? Changes nothing that stays.

Databases say only that reading or writing failed, or that a page is not as it should be. Whether the disk is full,
the right is missing, or the device fails, has to be looked up before anybody says "damaged".
"""

from __future__ import annotations

import errno
import os
from pathlib import Path

from taskdb.disk.private import FRESH, private_folder

_PROBE = bytes(1 << 16)
_PIECE = 1 << 20


def why_not_written(path: Path) -> OSError | None:
    """Return why a file, or one beside it, cannot be written; None where nothing is in the way now."""
    if _is_read_only(path.parent):
        return _error(errno.EROFS, path)
    if path.exists() and not os.access(path, os.W_OK):
        return _error(errno.EPERM if os.access(path, os.R_OK) and _may_all() else errno.EACCES, path)
    try:
        with private_folder(path.parent) as own, os.fdopen(os.open(own / "new", FRESH, 0o600), "wb") as stream:
            stream.write(_PROBE)
            stream.flush()
            os.fsync(stream.fileno())
    except OSError as error:
        return error
    return None


def has_room(folder: Path, size: int) -> bool:
    """Say whether a disk has so many bytes left for us; True where nobody can say."""
    try:
        status = os.statvfs(folder)
    except (OSError, AttributeError):
        return True
    return status.f_bavail * status.f_frsize >= size


def why_not_read(path: Path) -> OSError | None:
    """Return why a file cannot be read to its end; None where it can."""
    try:
        with path.open("rb") as stream:
            while stream.read(_PIECE):
                pass
    except OSError as error:
        return error
    return None


def _is_read_only(folder: Path) -> bool:
    try:
        return bool(os.statvfs(folder).f_flag & os.ST_RDONLY)
    except (OSError, AttributeError):  # not there, or a system without it
        return False


def _may_all() -> bool:
    """Say whether we are who may do everything: then a file that cannot be written is protected against changes."""
    return hasattr(os, "geteuid") and os.geteuid() == 0


def _error(number: int, path: Path) -> OSError:
    return OSError(number, os.strerror(number), str(path))
