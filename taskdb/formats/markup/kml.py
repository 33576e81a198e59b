"""What KML of sets and of tasks has in common: its placemarks, their extended data, and the document in a KMZ.

A KMZ is unpacked piece by piece as it is read; what unpacks without end is refused on the way.
"""

from __future__ import annotations

import io
import lzma
import re
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import BinaryIO

from taskdb.errors import InputError
from taskdb.formats.limits import require_small_directory
from taskdb.formats.markup.xml import Node, escape

KML_22 = "http://www.opengis.net/kml/2.2"
KML_NAMESPACE = re.compile(r"http://(www\.opengis\.net/kml/2\.[0-9]|earth\.google\.com/kml/2\.[0-9])|")
OWN_DATA = frozenset({"code", "elevation_m", "inspected_on"})
OWN_TASK_DATA = frozenset({"code", "name", "role"})
"""Extended data that our own placemarks have, all of them: of a set, of a task."""
_FEATURES = ("Placemark", "Document")
_ROOTS = ("kml", "Document", "Folder", "Placemark")
SHAPES = ("LineString", "LinearRing", "Polygon", "Model", "Track", "MultiTrack")
# What a placemark may hold besides, in the order of the schema (AbstractFeatureType).
BEFORE = ("visibility", "open", "address", "phoneNumber", "Snippet")
AFTER = ("Camera", "LookAt", "TimeStamp", "TimeSpan", "styleUrl", "Style", "StyleMap", "Region")


class Placemarks:
    """Knows a placemark, also under the name that a schema gave it, as KML had it before 2.2 and programs still do."""

    def __init__(self) -> None:
        self.names = {"Placemark"}

    def __call__(self, node: Node) -> bool:
        if node.name == "Schema" and node.attributes.get("parent") == "Placemark":
            self.names.add(node.attributes.get("name", "Placemark"))
        return node.name in self.names and KML_NAMESPACE.fullmatch(node.namespace) is not None


def require_kml(root: Node) -> None:
    """Raise InputError unless this is the root of KML, or of a piece of it that stands by itself."""
    if root.name not in _ROOTS or not KML_NAMESPACE.fullmatch(root.namespace):
        raise InputError("not-kml", f"The file's root is {root.name!r} and not kml.", hint="Give a KML file.")


def has_place(point: Node) -> bool:
    """Say whether a point has coordinates at all."""
    return point.value("coordinates").strip(" ,\t\r\n") != ""


def is_update(around: Sequence[Node]) -> bool:
    """Say whether an element changes another document, or this one while it is shown: it is no place of its own."""
    return any(node.name == "Update" for node in around)


def extended_data(node: Node) -> list[tuple[str, str]]:
    """Return the extended data of a placemark, typed or not, by name."""
    found = []
    for extended in node.children:
        if extended.name != "ExtendedData":
            continue
        for data in extended.each("Data", "SimpleData"):
            name = data.attributes.get("name", "")
            if name:
                found.append((name, data.value("value") if data.name == "Data" else data.text.strip()))
    if node.name not in _FEATURES:
        own = {*BEFORE, *AFTER, "name", "description", "ExtendedData", *SHAPES, "Point", "MultiGeometry"}
        found += [(child.name, child.text.strip()) for child in node.children if child.name not in own]
    return found


def float_or_none(text: str) -> float | None:
    """Return a number, None for any other text."""
    try:
        return float(text)
    except ValueError:
        return None


def datum(name: str, value: str) -> list[str]:
    """Return the lines of one value of extended data."""
    return [f'<Data name="{escape(name)}"><value>{escape(value)}</value></Data>']


# KMZ

_UNREADABLE = (
    zipfile.BadZipFile, zlib.error, lzma.LZMAError, RuntimeError, NotImplementedError, ValueError, EOFError, OSError,
)  # fmt: skip
UNPACKED_LIMIT_BYTES = 512 << 20
"""A KMZ whose document unpacks to more is refused: small files can be made that fill a disk."""


@contextmanager
def open_kmz(stream: BinaryIO) -> Iterator[Unpacked]:
    """Give the document of a KMZ to read: `doc.kml`, else its first KML file. InputError for no KMZ."""
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
