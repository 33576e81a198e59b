"""Opening a zip that somebody else may have made: its list of entries is bounded before it is taken into memory."""

from __future__ import annotations

import lzma
import os
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from taskdb.errors import InputError
from taskdb.files.reading import open_input
from taskdb.untrusted.zip_directory import TAIL_BYTES, directory_bytes

UNREADABLE = (
    zipfile.BadZipFile, zlib.error, lzma.LZMAError, RuntimeError, NotImplementedError, ValueError, EOFError, OSError,
)  # fmt: skip
"""What reading a zip or an entry of it may raise: it is damaged, packed in a way that is not known, or locked."""

_LARGEST_DIRECTORY_BYTES = 1 << 24


@contextmanager
def opened_zip(path: Path) -> Iterator[zipfile.ZipFile]:
    """Open a zip for reading; InputError for a pipe or device, and for one whose list of entries fills the memory."""
    with open_input(path) as stream:
        stream.seek(max(0, stream.seek(0, os.SEEK_END) - TAIL_BYTES))
        if directory_bytes(stream.read()) > _LARGEST_DIRECTORY_BYTES:
            raise InputError("too-many-entries", f"{path} is a zip of too many entries.", hint="Export it anew.")
        stream.seek(0)
        with zipfile.ZipFile(stream) as archive:
            yield archive


def entry_bytes(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, limit_bytes: int) -> bytes:
    """Return what an entry holds, counted while it is unpacked. InputError above the limit, or where it is unreadable.

    The message says nothing of the entry's name: it is the caller's to tell.
    """
    try:
        with archive.open(entry) as stream:
            content = stream.read(limit_bytes + 1)
    except UNREADABLE:
        raise InputError("zip-damaged", "It cannot be unpacked.", hint="Pack it anew, without a password.") from None
    if len(content) > limit_bytes:
        raise InputError("file-too-large", f"It has more than {limit_bytes:,} bytes.", hint="Take it out of the zip.")
    return content
