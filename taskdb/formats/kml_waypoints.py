"""Waypoints as KML: 2.2 is written, placemarks with a point of 2.2, 2.3 and older are read, also out of a KMZ.

A written placemark shows the name (else the code), and holds the other fields as extended data under the CSV's names,
so that reading back gives the same waypoints. No altitude is written: at KML's default it would be ignored anyway.
"""

from __future__ import annotations

import io
import lzma
import re
import zipfile
import zlib
from collections.abc import Iterable
from typing import Any, BinaryIO

from taskdb.core.model import Waypoint
from taskdb.core.notation import Notation
from taskdb.errors import InputError
from taskdb.formats.csv_waypoints import HEADER, plain_row
from taskdb.formats.decode import seekable
from taskdb.formats.exported import coordinate
from taskdb.formats.extras import extras_of, extras_text, node_plain, others_lost, plain_node
from taskdb.formats.gathered import Gathered, gathered_table
from taskdb.formats.headers import recognise
from taskdb.formats.intake import ReadOptions, SetReading
from taskdb.formats.interpret import interpret
from taskdb.formats.limits import require_small_directory
from taskdb.formats.xml_reading import Node, read_xml
from taskdb.formats.xml_text import document, element, escape, maybe, node_lines

KML_22 = "http://www.opengis.net/kml/2.2"
KML_NAMESPACE = re.compile(r"http://(www\.opengis\.net/kml/2\.[0-9]|earth\.google\.com/kml/2\.[0-9])|")
_OWN_FIELDS = tuple(n for n in HEADER if n not in ("name", "latitude_deg", "longitude_deg", "description"))
# What a placemark may hold besides, in the order of the schema (AbstractFeatureType).
_BEFORE = ("visibility", "open", "address", "phoneNumber", "Snippet")
_AFTER = ("Camera", "LookAt", "TimeStamp", "TimeSpan", "styleUrl", "Style", "StyleMap", "Region")

_UNREADABLE = (
    zipfile.BadZipFile, zlib.error, lzma.LZMAError, RuntimeError, NotImplementedError, ValueError, EOFError, OSError,
)  # fmt: skip
UNPACKED_LIMIT_BYTES = 512 << 20
"""A KMZ whose document unpacks to more is refused: small files can be made that fill a disk."""


def read_kmz(stream: BinaryIO, options: ReadOptions) -> SetReading:
    """Return the waypoints of the document in a KMZ: `doc.kml`, else its first KML file. InputError for no KMZ."""
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
        return _read(_Unpacked(archive, entries[0]), options, format="kmz")


def _not_kmz() -> InputError:
    return InputError("not-kmz", "The file is no zip that can be read.", hint="Save it anew as KML.")


class _Unpacked(io.RawIOBase):
    """A document as it is unpacked piece by piece: what unpacks without end is refused on the way."""

    def __init__(self, archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> None:
        self._left = UNPACKED_LIMIT_BYTES
        try:
            self._packed = archive.open(entry)
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


def read_kml(stream: BinaryIO, options: ReadOptions) -> SetReading:
    """Return the placemarks of a KML file that have one point. InputError for what is no KML."""
    return _read(stream, options, format="kml")


def _read(stream: BinaryIO | io.RawIOBase, options: ReadOptions, *, format: str) -> SetReading:
    rows: list[Gathered] = []
    other = [0]

    def take(node: Node) -> bool:
        if node.name != "Placemark" or not KML_NAMESPACE.fullmatch(node.namespace):
            return False
        points = list(node.each("Point"))
        if len(points) == 1:
            rows.append(_gather(node, points[0]))
        else:
            other[0] += 1
        return True

    root, encoding = read_xml(stream, take)
    if root.name != "kml" or not KML_NAMESPACE.fullmatch(root.namespace):
        raise InputError("not-kml", f"The file's root is {root.name!r} and not kml.", hint="Leave out --format kml.")
    if not rows:
        raise InputError("no-waypoints", "The KML file has no placemark with a point.", hint="Give a file with points.")
    notes = [f"{other[0]} placemarks without exactly one point left aside"] if other[0] else []
    lifted = sum(row.cells.pop("altitude", "") != "" for row in rows)
    if lifted:
        notes.append(f"the altitudes of {lifted} points are of no use (altitudeMode) and were left aside")
    table = gathered_table(rows, format=format, encoding=encoding, notes=tuple(notes), notation=Notation.DECIMAL)
    return interpret(table, options)


def _gather(node: Node, point: Node) -> Gathered:
    longitude, latitude, altitude = [*point.value("coordinates").split(","), "", ""][:3]
    cells = {"latitude_deg": latitude.strip(), "longitude_deg": longitude.strip()}
    cells["name"] = node.value("name")
    cells["description"] = node.value("description")
    if altitude.strip() and float_or_none(altitude) not in (None, 0.0):
        # Above mean sea level only where the mode says absolute; at the default, on the ground, it is ignored.
        mode = point.value("altitudeMode")
        cells["elevation_m" if mode == "absolute" else "altitude"] = altitude.strip()
    data = extended_data(node)
    unknown = {name: value for name, value in data if recognise(name) is None}
    known = {name: value for name, value in data if recognise(name) is not None and name != "altitude"}
    cells |= known
    kept: dict[str, Any] = {}
    elements = [node_plain(child) for child in node.children if child.name in (*_BEFORE, *_AFTER)]
    if elements:
        kept["elements"] = elements
    if unknown:
        kept["data"] = unknown
    return Gathered(node.line, cells, extras_text("kml", kept))


def float_or_none(text: str) -> float | None:
    """Return a number, None for any other text."""
    try:
        return float(text)
    except ValueError:
        return None


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
    return found


def write_kml(stream: BinaryIO, waypoints: Iterable[Waypoint], *, identity: bool = False) -> tuple[str, ...]:
    """Write waypoints in order of code and return what the format could not hold."""
    ordered = sorted(waypoints, key=lambda w: w.code)
    placemarks: list[str] = []
    for waypoint in ordered:
        placemarks += _placemark(waypoint, identity)
    stream.write(document(element("kml", element("Document", placemarks), {"xmlns": KML_22})))
    return others_lost(ordered, "kml")


def _placemark(waypoint: Waypoint, identity: bool) -> list[str]:
    row = dict(zip(HEADER, plain_row(waypoint), strict=True))
    held = extras_of(waypoint, "kml")
    kept = held if isinstance(held, dict) else {}
    raw = kept.get("elements")
    elements = [n for value in (raw if isinstance(raw, list) else []) if (n := plain_node(value)) is not None]
    data: list[str] = []
    if not waypoint.name:
        data += datum("name", "")
    # The empty ones too: they say that the file speaks of the field, so that taking it back in can clear it.
    for name in _OWN_FIELDS:
        data += datum(name, row[name])
    if identity and waypoint.identity:
        data += datum("identity", waypoint.identity)
    unknown = kept.get("data")
    for name, value in (unknown if isinstance(unknown, dict) else {}).items():
        data += datum(str(name), str(value))
    position = waypoint.position
    place = f"{coordinate(position.longitude_deg)},{coordinate(position.latitude_deg)}"
    lines = [
        *element("name", waypoint.name or waypoint.code),
        *_among(elements, _BEFORE),
        *maybe("description", waypoint.description),
        *_among(elements, _AFTER),
        *element("ExtendedData", data),
        *element("Point", element("coordinates", place)),
    ]
    return element("Placemark", lines)


def datum(name: str, value: str) -> list[str]:
    """Return the lines of one value of extended data."""
    return [f'<Data name="{escape(name)}"><value>{escape(value)}</value></Data>']


def _among(elements: list[Node], names: tuple[str, ...]) -> list[str]:
    lines: list[str] = []
    for name in names:
        for node in elements:
            if node.name == name and KML_NAMESPACE.fullmatch(node.namespace):
                lines += node_lines(_as_22(node), KML_22)
    return lines


def _as_22(node: Node) -> Node:
    namespace = KML_22 if KML_NAMESPACE.fullmatch(node.namespace) else node.namespace
    return Node(namespace, node.name, node.attributes, 0, node.text, [_as_22(child) for child in node.children])
