"""Many files of a folder put in place together: staged beside them under a private name, then swapped, or none is.

Each file is swapped by one rename, so that whoever is killed on the way leaves every file whole: as it was, or as it
was to be. What such an end leaves behind is taken away by a later writer.
"""

from __future__ import annotations

import os
import shutil
import stat
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from taskdb.files.held import Content, chunks_of
from taskdb.files.standing import is_there
from taskdb.files.writing import FRESH, fresh_mode, remove_strays, sync_folder


@contextmanager
def made(target: Path) -> Iterator[None]:
    """Make a folder, and take away again what was made of it if the work in it fails."""
    missing = [folder for folder in (target, *target.parents) if not is_there(folder)]
    target.mkdir(parents=True, exist_ok=True)
    try:
        yield
    except BaseException:
        for folder in missing:
            try:
                folder.rmdir()
            except OSError:
                break
        raise


def replace_all(target: Path, contents: Mapping[str, Content], gone: Sequence[str] = ()) -> None:
    """Put all files in place and take away those that are `gone`, or leave every one as it was.

    Staged on the same disk, swapped, and swapped back. A folder that is empty then goes with its last file.
    """
    remove_strays(target)
    stage = Path(tempfile.mkdtemp(prefix=".taskdb-", dir=target))
    undo: list[Callable[[], None]] = []
    try:
        staged = [_stage(stage, i, content) for i, content in enumerate(contents.values())]
        for i, (path, fresh) in enumerate(zip(contents, staged, strict=True)):
            place = target / path
            _make_parents(place.parent, target, undo)
            undo.append(_keep(place, stage / f"old-{i}"))
            with suppress(OSError):  # a file system that has no rights to give
                fresh.chmod(_rights(place))
            fresh.replace(place)
        for i, path in enumerate(gone, start=len(contents)):
            undo.append(_keep(target / path, stage / f"old-{i}"))
            (target / path).unlink()
        sync_folder(target)
    except BaseException:
        for step in reversed(undo):
            step()
        raise
    finally:
        shutil.rmtree(stage, ignore_errors=True)
    for path in gone:
        _remove_empty((target / path).parent, target)


def _remove_empty(folder: Path, target: Path) -> None:
    """Remove a folder that was left empty, and those above it, up to the target."""
    with suppress(OSError):
        while folder != target:
            folder.rmdir()
            folder = folder.parent


def _rights(place: Path) -> int:
    """Return the rights of the file that stands at a place, else those of a new one."""
    status = place.lstat() if os.path.lexists(place) else None
    return stat.S_IMODE(status.st_mode) if status is not None and stat.S_ISREG(status.st_mode) else fresh_mode()


def _keep(place: Path, old: Path) -> Callable[[], None]:
    """Keep what stands at a place, without taking it from there, and return how to put it back."""
    if not os.path.lexists(place):
        return lambda: place.unlink(missing_ok=True)
    try:
        os.link(place, old, follow_symlinks=False)
    except (OSError, NotImplementedError):  # a file system without hard links, as on sticks
        shutil.copy2(place, old, follow_symlinks=False)
    return lambda: (old.replace(place), None)[1]


def _make_parents(folder: Path, target: Path, undo: list[Callable[[], None]]) -> None:
    if folder == target or folder.is_dir():
        return
    _make_parents(folder.parent, target, undo)
    folder.mkdir()
    undo.append(folder.rmdir)


def _stage(stage: Path, number: int, content: Content) -> Path:
    path = stage / f"new-{number}"
    with os.fdopen(os.open(path, FRESH, 0o600), "wb") as stream:
        stream.writelines(chunks_of(content))
        stream.flush()
        os.fsync(stream.fileno())
    return path
