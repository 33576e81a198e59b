"""Opening files that people name: only regular files, only up to a stated size, and a refusal that says which and why.

A folder, a pipe or a device is refused before a byte is read, so that no command hangs on one.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import BinaryIO

from taskdb.errors import InputError, NotFoundError
from taskdb.files.standing import is_folder

READ_LIMIT_BYTES = 1 << 30
"""A waypoint file of ten million rows stays below this."""


def open_input(path: str | Path, limit_bytes: int = READ_LIMIT_BYTES) -> BinaryIO:
    """Open a regular file for reading bytes; the caller closes it.

    Raises NotFoundError where there is no such file, InputError for a folder, pipe or device, for a file that may
    not be read, and for one above `limit_bytes`.
    """
    name = str(path)
    if "\x00" in name:
        raise NotFoundError("file-not-found", f"There is no file {name!r}.", hint="Check the path.")
    try:
        # Opened without waiting: a pipe that nobody writes to would hang here otherwise.
        descriptor = os.open(name, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except FileNotFoundError:
        raise _not_found(name) from None
    except IsADirectoryError:
        raise _folder(name) from None
    except OSError as error:
        if is_folder(name):
            raise _folder(name) from None
        raise InputError(
            "file-unreadable", f"{name} cannot be read: {error.strerror}.", hint="Check its rights and the path."
        ) from None
    try:
        _require_regular(name, os.fstat(descriptor), limit_bytes)
    except BaseException:
        os.close(descriptor)
        raise
    return os.fdopen(descriptor, "rb")


def _not_found(name: str) -> NotFoundError:
    there = (
        sorted(p.name for p in Path(name).parent.glob("*") if p.is_file())[:8] if is_folder(Path(name).parent) else []
    )
    hint = f"In that folder there are: {', '.join(there)}." if there else "Check the path."
    return NotFoundError("file-not-found", f"There is no file {name}.", hint=hint, details={"path": name})


def _folder(name: str) -> InputError:
    return InputError("not-a-file", f"{name} is a folder.", hint="Name one file in it.", details={"path": name})


def _require_regular(name: str, status: os.stat_result, limit_bytes: int) -> None:
    if stat.S_ISDIR(status.st_mode):
        raise _folder(name)
    if not stat.S_ISREG(status.st_mode):
        raise InputError(
            "not-a-file",
            f"{name} is a pipe or a device, not a file.",
            hint="Save what it holds into a file, and name that.",
            details={"path": name},
        )
    if status.st_size > limit_bytes:
        raise InputError(
            "file-too-large",
            f"{name} has {status.st_size:,} bytes, above the limit of {limit_bytes:,}.",
            hint="Split it into several files.",
            details={"path": name, "bytes": status.st_size, "limit": limit_bytes},
        )
