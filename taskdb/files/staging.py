"""Many files of a folder put in place together: staged beside them under a private name, then swapped, or none is.

Each file is swapped by one rename, so that whoever is killed on the way leaves every file whole: as it was, or as it
was to be. The next writer puts back what was swapped, by a plan that lies in the stage.
"""

from __future__ import annotations

import os
import shutil
import stat
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from taskdb.disk.private import FRESH, private_folder
from taskdb.disk.putting_back import Swap, drop_plan, kept_as, remove_empty, write_plan
from taskdb.files.held import Content, chunks_of, sha256_of
from taskdb.files.standing import is_there
from taskdb.files.writing import fresh_mode, sync_folder


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
    with private_folder(target) as stage:
        staged = [_stage(stage, i, content) for i, content in enumerate(contents.values())]
        write_plan(stage, _swaps(target, contents, gone))
        undo: list[Callable[[], None]] = []
        try:
            for i, (path, fresh) in enumerate(zip(contents, staged, strict=True)):
                place = target / path
                _make_parents(place.parent, target, undo)
                undo.append(_keep(place, kept_as(stage, i)))
                with suppress(OSError):  # a file system that has no rights to give
                    fresh.chmod(_rights(place))
                fresh.replace(place)
            for i, path in enumerate(gone, start=len(contents)):
                undo.append(_keep(target / path, kept_as(stage, i)))
                (target / path).unlink()
            sync_folder(target)
            drop_plan(stage)
        except BaseException:
            for step in reversed(undo):
                step()
            drop_plan(stage)  # where a step fails too, plan and stage stay for the next writer
            raise
    for path in gone:
        remove_empty((target / path).parent, target)


def _swaps(target: Path, contents: Mapping[str, Content], gone: Sequence[str]) -> list[Swap]:
    """Return what is about to be done, for whoever finds it half done."""
    new = [Swap(path, sha256_of(content), _stands(target, path)) for path, content in contents.items()]
    return [*new, *(Swap(path, None, _stands(target, path)) for path in gone)]


def _stands(target: Path, path: str) -> bool:
    return os.path.lexists(target / path)


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
