"""The files of one kind that several paths lead to: named, in folders, in zips; in order, one at a time in memory.

Knows suffixes and sizes, not what the files hold. A file that cannot be read is handed on with why; what is named on
its own and is not there is refused before anything is read.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from zipfile import ZipFile, ZipInfo

from taskdb.errors import InputError, TaskdbError
from taskdb.files import standing
from taskdb.files.reading import open_input
from taskdb.files.walking import files_below
from taskdb.files.zips import UNREADABLE, entry_bytes, opened_zip

_ZIP = ".zip"
MOST_FILES = 20_000
"""A season of a federation has fewer flights; a folder of more is rather another one."""


@dataclass(frozen=True, slots=True)
class Gathered:
    """A file: its own name without folders, the how-manyth of how many; its bytes, or why it cannot be read."""

    name: str
    number: int
    total: int
    content: bytes | None
    error: TaskdbError | None = None


@dataclass(frozen=True, slots=True)
class _Source:
    """A file, or a zip with the entries in it that are read; `error`: why it cannot be opened, told in its place."""

    path: Path
    entries: tuple[ZipInfo, ...] | None = None
    error: InputError | None = None

    @property
    def count(self) -> int:
        return 1 if self.entries is None else len(self.entries)


def gather(paths: Sequence[str], suffix: str, limit_bytes: int) -> Iterator[Gathered]:
    """Yield the files of a suffix (`.igc`) below folders and in zips, also those in folders, and whatever is named.

    In order of the paths, within one by path; hidden files are passed over; a zip in a zip is handed on as one that is
    not read. Raises NotFoundError for a path that is not there, InputError for a file or zip that is named and cannot
    be opened, where there is no file at all, and where there are more than `MOST_FILES`.
    """
    sources = [source for path in paths for source in _sources(Path(path), suffix, limit_bytes)]
    total = sum(source.count for source in sources)
    if not total:
        where = ", ".join(paths)
        raise InputError(
            "no-files",
            f"There is no {suffix} file in {where}.",
            hint="Name files, or folders or zips of them.",
        )
    if total > MOST_FILES:
        raise InputError(
            "too-many-files",
            f"These are {total:,} files, above the limit of {MOST_FILES:,}.",
            hint="Take them in parts.",
        )
    return _read(sources, total, limit_bytes)


def _sources(path: Path, suffix: str, limit_bytes: int) -> Iterator[_Source]:
    if not standing.is_folder(path):
        if path.suffix.lower() == _ZIP:
            yield _zip(path, suffix)
        else:
            open_input(path, limit_bytes).close()
            yield _Source(path)
        return
    for file in files_below(str(path), {suffix, _ZIP}):
        if file.suffix.lower() != _ZIP:
            yield _Source(file)
            continue
        try:
            yield _zip(file, suffix)
        except InputError:
            yield _Source(file, error=InputError("not-a-zip", "It cannot be opened as a zip.", hint="Pack it anew."))


def _zip(path: Path, suffix: str) -> _Source:
    try:
        with opened_zip(path) as archive:
            return _Source(path, tuple(entry for entry in archive.infolist() if _is_wanted(entry, suffix)))
    except UNREADABLE:
        raise InputError("not-a-zip", f"{path} is no zip that can be read.", hint="Pack it anew.") from None


def _is_wanted(entry: ZipInfo, suffix: str) -> bool:
    parts = [part for part in entry.filename.replace("\\", "/").split("/") if part]
    is_hidden = any(part.startswith((".", "__MACOSX")) and part not in (".", "..") for part in parts)
    return not entry.is_dir() and not is_hidden and bool(parts) and parts[-1].lower().endswith((suffix, _ZIP))


def _read(sources: Sequence[_Source], total: int, limit_bytes: int) -> Iterator[Gathered]:
    number = 0
    for source in sources:
        if source.entries is None:
            number += 1
            yield _of_file(source, number, total, limit_bytes)
            continue
        # The zip was opened before, and may have been replaced since.
        try:
            with opened_zip(source.path) as archive:
                for entry in source.entries:
                    number += 1
                    yield _of_entry(archive, entry, number, total, limit_bytes)
        except UNREADABLE:
            raise InputError("not-a-zip", f"{source.path} can no longer be read.", hint="Try again.") from None


def _of_file(source: _Source, number: int, total: int, limit_bytes: int) -> Gathered:
    file = source.path
    if source.error is not None:
        return Gathered(file.name, number, total, None, source.error)
    try:
        with open_input(file, limit_bytes) as stream:
            return Gathered(file.name, number, total, stream.read(limit_bytes + 1))
    except (TaskdbError, OSError) as error:
        is_large = isinstance(error, TaskdbError) and error.code == "file-too-large"
        why = f"It has more than {limit_bytes:,} bytes." if is_large else "It cannot be read."
        return Gathered(file.name, number, total, None, InputError("file-unreadable", why, hint="Check its rights."))


def _of_entry(archive: ZipFile, entry: ZipInfo, number: int, total: int, limit_bytes: int) -> Gathered:
    name = entry.filename.replace("\\", "/").rpartition("/")[2]
    if name.lower().endswith(_ZIP):
        inner = InputError("zip-in-zip", "It is a zip within a zip.", hint="Take it out and name it itself.")
        return Gathered(name, number, total, None, inner)
    try:
        return Gathered(name, number, total, entry_bytes(archive, entry, limit_bytes))
    except InputError as error:
        return Gathered(name, number, total, None, error)
