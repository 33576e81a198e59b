"""Keeping a store safe by hand: a copy of its file, the whole of it as text, and a new store from that text."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from taskdb.errors import NotFoundError, RefusedError
from taskdb.files.reading import open_input
from taskdb.files.writing import write_chunks
from taskdb.store.dump import LONGEST_LINE, dump_lines, load_lines

if TYPE_CHECKING:
    from typing import BinaryIO

    from taskdb.services.desk import Desk, Write

_LARGEST_DUMP = 1 << 40


@dataclass(frozen=True)
class FileWritten:
    """A copy or a dump: of which store, into which file, how large, and a dump's lines."""

    store: str
    file: str
    size_bytes: int
    lines: int | None = None


@dataclass(frozen=True)
class Loaded:
    store: str
    file: str
    rows: int


def back_up_store(desk: Desk, path: str, write: Write) -> FileWritten:
    """Copy an SQLite store into a file while it is in use; the copy is a store of its own.

    Raises RefusedError on a server, for a file that is there and not confirmed, or that cannot be written;
    StoreUnusableError where the store is missing, damaged or not ours.
    """
    from taskdb.store.backup import back_up

    done = back_up(desk.store, Path(path), over=write.confirmed, preview=write.preview)
    return FileWritten(desk.store.shown_url, path, done.size_bytes)


def dump_store(desk: Desk, path: str, write: Write) -> FileWritten:
    """Write a store as text, whole or not at all. Raises NotFoundError where there is no store, RefusedError."""
    store = desk.store
    if not store.exists():
        raise NotFoundError(
            "no-store", f"{store.shown_url} does not exist: there is nothing to dump.", hint="Name it with --store."
        )
    if os.path.lexists(path) and not write.confirmed:
        raise RefusedError(
            "file-exists", f"{path} exists already.",
            hint="Name another file, or give --yes to replace it.", details={"path": path},
        )  # fmt: skip
    if store.path is not None and os.path.realpath(path) == os.path.realpath(store.path):
        raise RefusedError("store-itself", f"{path} is the store itself.", hint="Name another file.")
    lines = size = 0

    def counted() -> Iterator[bytes]:
        nonlocal lines, size
        for line in dump_lines(c):
            lines += 1
            size += len(line)
            yield line

    with store.reading() as c:
        write_chunks(path, counted(), preview=write.preview)
    return FileWritten(store.shown_url, path, size, lines)


def load_store(desk: Desk, path: str, write: Write) -> Loaded:
    """Fill a new, empty store from a dump in one transaction; it is no operation, the journal is the dump's.

    Raises NotFoundError for a missing file, InputError with the line for a bad dump (nothing is kept), RefusedError
    where the store holds anything.
    """
    with open_input(path, _LARGEST_DUMP) as stream, desk.store.filling(preview=write.preview) as c:
        rows = load_lines(c, _lines_of(stream), name=path)
        if not write.preview:
            desk.before_keeping()
    if not write.preview:
        desk.after_keeping(None)
    return Loaded(desk.store.shown_url, path, rows)


def _lines_of(stream: BinaryIO) -> Iterator[bytes]:
    while line := stream.readline(LONGEST_LINE + 1):
        yield line
