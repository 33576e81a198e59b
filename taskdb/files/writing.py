"""Writing files whole or not at all: beside the target under a private name, to the disk, then renamed over it.

`-` is standard output, where nothing can be taken back.
"""

from __future__ import annotations

import os
import secrets
import shutil
import stat
import sys
import time
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from taskdb.core.pasted import quoted
from taskdb.errors import RefusedError
from taskdb.files.standing import STREAM, is_there

FRESH = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0)


STRAY_AFTER_S = 3600.0
"""What has a private name of ours and was not touched for so long belongs to nobody who is still at work."""


def unwritable(path: Path | str, error: OSError) -> RefusedError:
    """Return the refusal for a file that the system does not let us write."""
    return RefusedError(
        "file-unwritable",
        f"{path} cannot be written: {error.strerror or error}.",
        hint="Check the folder's rights and free space, or choose another with --to.",
        details={"path": str(path)},
    )


def fresh_mode() -> int:
    """Return the rights that a new file of the user's has; while it is written it is private."""
    mask = os.umask(0o077)
    os.umask(mask)
    return 0o666 & ~mask


def _write_beside(target: Path, chunks: Iterable[bytes]) -> Path:
    beside = target.with_name(f".taskdb-{secrets.token_hex(8)}.part")
    descriptor = os.open(beside, FRESH, 0o600)
    try:
        with os.fdopen(descriptor, "wb") as stream:
            stream.writelines(chunks)
            stream.flush()
            os.fsync(stream.fileno())
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    return beside


def remove_strays(folder: Path) -> None:
    """Take away what writers that were killed left in a folder under private names; never fails."""
    limit = time.time() - STRAY_AFTER_S
    with suppress(OSError):
        for path in folder.glob(".taskdb-*"):
            with suppress(OSError):
                if path.lstat().st_mtime >= limit:
                    continue
                if path.is_dir() and not path.is_symlink():
                    shutil.rmtree(path, ignore_errors=True)
                else:
                    path.unlink()


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
        remove_strays(target.parent)
        beside = _write_beside(target, chunks)
    except OSError as error:
        raise unwritable(path, error) from None
    try:
        with suppress(OSError):  # a file system that has no rights to give
            beside.chmod(fresh_mode() if mode is None else stat.S_IMODE(mode))
        if not preview:
            beside.replace(target)
    except OSError as error:
        raise unwritable(path, error) from None
    finally:
        beside.unlink(missing_ok=True)
    sync_folder(target.parent)


def _write_out(chunks: Iterable[bytes], *, preview: bool) -> None:
    try:
        for chunk in chunks:
            if not preview:
                sys.stdout.buffer.write(chunk)
        sys.stdout.buffer.flush()
    except BrokenPipeError:
        return  # whoever reads has enough
    except OSError as error:
        raise unwritable("Standard output", error) from None
