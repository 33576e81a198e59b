"""Opening files that people name: only regular files, only up to a stated size, and a refusal that says which and why.

`-` is standard input, up to the same size.

A folder, a pipe or a device is refused before a byte is read, so that no command hangs on one.
"""

from __future__ import annotations

import os
import stat
import sys
import tempfile
from pathlib import Path
from typing import BinaryIO, TextIO

from taskdb.errors import InputError, NotFoundError
from taskdb.files.standing import STREAM, is_folder

READ_LIMIT_BYTES = 1 << 30
"""A waypoint file of ten million rows stays below this."""


def open_input(path: str | Path, limit_bytes: int = READ_LIMIT_BYTES) -> BinaryIO:
    """Open a regular file for reading bytes; the caller closes it.

    Raises NotFoundError where there is no such file, InputError for a folder, pipe or device, for a file that may
    not be read, and for one above `limit_bytes`.
    """
    name = str(path)
    if name == STREAM:
        return _standard_input(limit_bytes)
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


_taken: list[tuple[TextIO | None, int]] = []
"""The standard input that was read, and the file of what it held: who asks in between opens its file a second time."""

_AT_ONCE = 1 << 20


def _standard_input(limit_bytes: int) -> BinaryIO:
    if not _taken or _taken[0][0] is not sys.stdin:
        held = _copied(limit_bytes)
        for _, before in _taken:
            os.close(before)
        _taken[:] = [(sys.stdin, held)]
    stream = os.fdopen(os.dup(_taken[0][1]), "rb")
    stream.seek(0)
    return stream


def _copied(limit_bytes: int) -> int:
    """Return a descriptor of a nameless file of what standard input holds: readers go back and forth in it."""
    size = 0
    try:
        with tempfile.TemporaryFile() as held:
            while sys.stdin is not None and (chunk := sys.stdin.buffer.read(_AT_ONCE)):
                size += len(chunk)
                if size > limit_bytes:
                    raise InputError(
                        "file-too-large", f"Standard input holds more than {limit_bytes:,} bytes.", hint="Split it up."
                    )
                held.write(chunk)
            held.flush()
            return os.dup(held.fileno())
    except OSError as error:
        raise InputError(
            "file-unreadable", f"Standard input cannot be read: {error.strerror}.", hint="Name a file."
        ) from None


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
