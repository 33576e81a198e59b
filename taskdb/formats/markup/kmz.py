"""The document in a KMZ, unpacked piece by piece as it is read; what unpacks without end is refused on the way."""

from __future__ import annotations

import io
import lzma
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from typing import BinaryIO

from taskdb.errors import InputError
from taskdb.formats.limits import require_small_directory
from taskdb.formats.text.decode import seekable

_UNREADABLE = (
    zipfile.BadZipFile, zlib.error, lzma.LZMAError, RuntimeError, NotImplementedError, ValueError, EOFError, OSError,
)  # fmt: skip
UNPACKED_LIMIT_BYTES = 512 << 20
"""A KMZ whose document unpacks to more is refused: small files can be made that fill a disk."""


@contextmanager
def open_kmz(stream: BinaryIO) -> Iterator[Unpacked]:
    """Give the document of a KMZ to read: `doc.kml`, else its first KML file. InputError for no KMZ."""
    stream = seekable(stream)
    require_small_directory(stream)
    try:
        archive = zipfile.ZipFile(stream)
    except _UNREADABLE:
        raise _not_kmz() from None
    with archive:
        entries = [e for e in archive.infolist() if e.filename.lower().endswith(".kml")]
        entries.sort(key=lambda e: e.filename.lower() != "doc.kml")
        if not entries:
            raise InputError(
                "not-kmz",
                "The zip holds no KML document.",
                hint="Import what is in it; save a spreadsheet as CSV first.",
            )
        yield Unpacked(archive, entries)


def _not_kmz() -> InputError:
    return InputError("not-kmz", "The file is no zip that can be read.", hint="Save it anew as KML.")


class Unpacked(io.RawIOBase):
    """The first of a KMZ's documents as a stream, with a note on the others."""

    def __init__(self, archive: zipfile.ZipFile, entries: list[zipfile.ZipInfo]) -> None:
        self._left = UNPACKED_LIMIT_BYTES
        names = ", ".join(entry.filename for entry in entries[1:9])
        self.notes = (f"{len(entries) - 1} other KML files in the KMZ left aside: {names}",) if names else ()
        try:
            self._packed = archive.open(entries[0])
        except _UNREADABLE:
            raise _not_kmz() from None

    def read(self, size: int = -1) -> bytes:
        try:
            piece = self._packed.read(size)
        except _UNREADABLE:
            raise _not_kmz() from None
        self._left -= len(piece)
        if self._left < 0:
            raise InputError(
                "unpacks-too-large",
                f"The document of the KMZ unpacks to more than {UNPACKED_LIMIT_BYTES:,} bytes.",
                hint="Unpack it, split it, and import the KML files.",
                details={"limit": UNPACKED_LIMIT_BYTES},
            )
        return piece
