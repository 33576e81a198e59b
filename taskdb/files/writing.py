"""Writing files whole or not at all: in a private folder beside the target, to the disk, then renamed over it.

`-` is standard output, where nothing can be taken back.
"""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from taskdb.core.pasted import quoted
from taskdb.disk.private import FRESH, private_folder
from taskdb.disk.words import reason, told
from taskdb.errors import RefusedError
from taskdb.files.standing import STREAM, is_reader_gone, is_there


def unwritable(path: Path | str, error: OSError) -> RefusedError:
    """Return the refusal for a file that the system does not let us write."""
    fault = told(error)
    return RefusedError(
        "file-unwritable",
        f"{path} cannot be written: {fault.words}.",
        hint=fault.hint,
        details={"path": str(path), "reason": reason(error)},
    )


def fresh_mode() -> int:
    """Return the rights that a new file of the user's has; while it is written it is private."""
    mask = os.umask(0o077)
    os.umask(mask)
    return 0o666 & ~mask


def _write_private(own: Path, chunks: Iterable[bytes]) -> Path:
    path = own / "new"
    with os.fdopen(os.open(path, FRESH, 0o600), "wb") as stream:
        stream.writelines(chunks)
        stream.flush()
        os.fsync(stream.fileno())
    return path


def sync_folder(folder: Path) -> None:
    """Make a rename in a folder last; systems that cannot do that are left alone."""
    try:
        descriptor = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(descriptor)
    except OSError:
        pass
    finally:
        os.close(descriptor)


def require_new(path: str | Path, *, overwrite: bool, details: Mapping[str, Any] | None = None) -> None:
    """Raise RefusedError where something stands at a path and is not to be written over."""
    if str(path) != STREAM and is_there(path) and not overwrite:
        raise RefusedError(
            "file-exists", f"{path} exists already.", hint="Give --yes to write over it.", details=details
        )


def write_new(path: str, content: bytes, *, overwrite: bool) -> int:
    """Write a file as `write_file` does, and return its size in bytes. RefusedError where one stands there already."""
    require_new(path, overwrite=overwrite, details={"path": path})
    write_file(path, content)
    return len(content)


def write_file(path: str | Path, content: bytes) -> None:
    """Write a file atomically: afterwards it holds all of `content`, or what it held before.

    A link is followed; an existing file keeps its rights. Raises RefusedError where the folder is missing, the path
    is a folder, pipe or device, or the system says no. Whether an existing file may be replaced is asked before.
    """
    write_chunks(path, (content,))


def write_chunks(path: str | Path, chunks: Iterable[bytes], *, preview: bool = False) -> None:
    """Write a file as `write_file` does from chunks that come one after the other; what they raise passes through.

    `preview` does all but the renaming.
    """
    if str(path) == STREAM:
        _write_out(chunks, preview=preview)
        return
    target = Path(os.path.realpath(path))
    try:
        mode = target.stat().st_mode if target.exists() else None
        if mode is not None and not stat.S_ISREG(mode):
            raise RefusedError(
                "not-a-file",
                f"{path} is no file that can be written over.",
                hint="Name a file.",
                details={"path": str(path)},
            )
        if not target.parent.is_dir():
            raise RefusedError(
                "no-folder",
                f"The folder of {path} does not exist.",
                hint=f"Make it first: mkdir -p {quoted(str(target.parent))}",
                details={"path": str(path)},
            )
        with private_folder(target.parent) as own:
            fresh = _write_private(own, chunks)
            with suppress(OSError):  # a file system that has no rights to give
                fresh.chmod(fresh_mode() if mode is None else stat.S_IMODE(mode))
            if not preview:
                fresh.replace(target)
    except OSError as error:
        raise unwritable(path, error) from None
    sync_folder(target.parent)


def _write_out(chunks: Iterable[bytes], *, preview: bool) -> None:
    try:
        for chunk in chunks:
            if not preview:
                sys.stdout.buffer.write(chunk)
        sys.stdout.buffer.flush()
    except OSError as error:
        if not is_reader_gone(error):  # else whoever reads has enough
            raise unwritable("Standard output", error) from None
