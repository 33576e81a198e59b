"""Writing files whole or not at all: beside the target under a private name, to the disk, then renamed over it."""

from __future__ import annotations

import os
import secrets
import stat
from collections.abc import Iterable
from pathlib import Path

from taskdb.errors import RefusedError

_FRESH = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0)


def unwritable(path: Path | str, error: OSError) -> RefusedError:
    """Return the refusal for a file that the system does not let us write."""
    return RefusedError(
        "file-unwritable",
        f"{path} cannot be written: {error.strerror or error}.",
        hint="Check the folder's rights and free space, or choose another with --to.",
        details={"path": str(path)},
    )


def write_beside(target: Path, content: bytes) -> Path:
    """Write `content` into a new file beside `target`, down to the disk, and return its path; raises OSError."""
    return _write_beside(target, (content,))


def _write_beside(target: Path, chunks: Iterable[bytes]) -> Path:
    beside = target.with_name(f".taskdb-{secrets.token_hex(8)}.part")
    descriptor = os.open(beside, _FRESH, 0o666)
    try:
        with os.fdopen(descriptor, "wb") as stream:
            stream.writelines(chunks)
            stream.flush()
            os.fsync(stream.fileno())
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    return beside


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
                hint=f"Make it first: mkdir -p {str(target.parent)!r}.",
                details={"path": str(path)},
            )
        beside = _write_beside(target, chunks)
    except OSError as error:
        raise unwritable(path, error) from None
    try:
        if mode is not None:
            beside.chmod(stat.S_IMODE(mode))
        if not preview:
            beside.replace(target)
    except OSError as error:
        raise unwritable(path, error) from None
    finally:
        beside.unlink(missing_ok=True)
    sync_folder(target.parent)
