"""Waypoints as KML: 2.2 is written, placemarks with a point of 2.2, 2.3 and older are read, also out of a KMZ.

A written placemark shows the name (else the code), and holds the other fields as extended data under the CSV's names,
so that reading back gives the same waypoints. No altitude is written: at KML's default it would be ignored anyway.
"""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import chain
from typing import Any, BinaryIO

from taskdb.core.model import Waypoint
from taskdb.core.notation import Notation
from taskdb.core.numbers import plain_number
from taskdb.errors import InputError
from taskdb.formats.exported import coordinate, in_order
from taskdb.formats.limits import require_found
from taskdb.formats.markup.kml import (
    AFTER,
    BEFORE,
    KML_22,
    KML_NAMESPACE,
    OWN_DATA,
    OWN_TASK_DATA,
    SHAPES,
    Placemarks,
    datum,
    extended_data,
    float_or_none,
    has_place,
    is_update,
    open_kmz,
    require_kml,
)
from taskdb.formats.markup.xml import Node, element, maybe, read_xml, write_document
from taskdb.formats.text.headers import recognise
from taskdb.formats.text.intake import ReadOptions, SetReading
from taskdb.formats.text.interpret import interpret
from taskdb.formats.text.table import Gathered, ToldHeaders, count_words, gathered_table
from taskdb.formats.waypoints.csv import HEADER, plain_row
from taskdb.formats.waypoints.extras import (
    DEEPEST_KEPT,
    extras_of,
    extras_text,
    kept_nodes,
    kept_values,
    lines_among,
    node_plain,
    noting_others,
)

_OWN_FIELDS = tuple(n for n in HEADER if n not in ("name", "latitude_deg", "longitude_deg", "description"))
_PLACE = ("latitude_deg", "longitude_deg", "position")
FOLDER = "folder"
"""The header under which a person can name the folders of a placemark: `--column feature=folder`."""


def read_kmz(stream: BinaryIO, options: ReadOptions) -> SetReading:
    """Return the waypoints of the document in a KMZ. InputError for no KMZ."""
    with open_kmz(stream) as document:
        return _read(document, options, format="kmz", notes=document.notes)


def read_kml(stream: BinaryIO, options: ReadOptions) -> SetReading:
    """Return the placemarks of a KML file that have one point. InputError for what is no KML."""
    return _read(stream, options, format="kml")


def _read(
    stream: BinaryIO | io.RawIOBase, options: ReadOptions, *, format: str, notes: tuple[str, ...] = ()
) -> SetReading:
    rows: list[Gathered] = []
    named = ToldHeaders(options)
    left = Counter[str]()
    is_placemark = Placemarks()

    def take(node: Node, around: Sequence[Node]) -> bool:
        if node.name == "NetworkLink":
            left["network link(s)"] += 1
        if not is_placemark(node):
            return False
        if is_update(around):
            left["placemark(s) of an update"] += 1
            return True
        points = list(node.each("Point"))
        if len(points) == 1 and has_place(points[0]):
            rows.append(_gather(node, points[0], folders_of(around), named))
        elif len(points) > 1:
            left["placemark(s) of several points"] += 1
        else:
            left["placemark(s) without a point" if any(node.each(*SHAPES)) else "placemark(s) without a place"] += 1
        require_found(len(rows), left.total(), "waypoints", "no-waypoints")
        return True

    root, encoding = read_xml(stream, take)
    require_kml(root)
    aside = count_words(left)
    if not rows:
        has = f", only {aside}" if aside else ""
        raise InputError("no-waypoints", f"The KML file has no placemark with a point{has}.", hint=_hint(left))
    told = [f"{aside} left aside"] if aside else []
    lifted = sum(row.cells.pop("altitude", "") != "" for row in rows)
    if lifted:
        told.append(f"the altitudes of {lifted} points are of no use (altitudeMode) and were left aside")
    table = gathered_table(
        rows, format=format, encoding=encoding, notes=(*notes, *told), notation=Notation.DECIMAL, named=named
    )
    return interpret(table, options)


def _hint(left: Counter[str]) -> str:
    if left["network link(s)"]:
        return "Its places are in the files that its network links name: give those."
    return "Give a file with points: a line or an area is no waypoint."


def folders_of(around: Sequence[Node]) -> list[str]:
    """Return the names of the folders around an element, the outermost first."""
    return [name for node in around if node.name == "Folder" and (name := node.value("name"))]


def _gather(node: Node, point: Node, folders: list[str], named: ToldHeaders) -> Gathered:
    longitude, latitude, altitude = _numbers(point)
    cells = {"latitude_deg": latitude, "longitude_deg": longitude}
    cells["name"] = node.value("name")
    cells["description"] = node.value("description")
    if float_or_none(altitude) not in (None, 0.0):
        # Above mean sea level only where the mode says absolute; at the default, on the ground, it is ignored.
        mode = point.value("altitudeMode")
        cells["elevation_m" if mode == "absolute" else "altitude"] = altitude
    known, unknown = _data(extended_data(node), cells, named)
    cells |= known
    if folders and FOLDER in named:
        cells[FOLDER] = " / ".join(folders)
    kept: dict[str, Any] = {}
    elements = [node_plain(child) for child in node.children if child.name in (*BEFORE, *AFTER)]
    if elements:
        kept["elements"] = elements
    if unknown:
        kept["data"] = unknown
    if folders:
        kept["folders"] = folders
    return Gathered(node.line, cells, extras_text("kml", kept))


def _data(
    data: list[tuple[str, str]], cells: dict[str, str], named: ToldHeaders
) -> tuple[dict[str, str], dict[str, str]]:
    """Return a placemark's extended data as cells, and what is kept of it: what it says itself goes before."""
    found: dict[str, str] = {}
    unknown: dict[str, str] = {}
    names = {name for name, _ in data}
    for name, value in data:
        field = known.field if (known := recognise(name)) is not None else None
        if name in named:
            found[name] = value
        elif name == "name" and ((names >= OWN_DATA and not value) or names >= OWN_TASK_DATA):
            # Ours: the label is the code where there is no name, and of a task both.
            found[name] = value
        elif field is None or name == "altitude" or field in _PLACE or cells.get(field):
            unknown[name] = value
        else:
            found[name] = value
    return found, unknown


def _numbers(point: Node) -> list[str]:
    """Return longitude, latitude and altitude as texts, empty where they are missing."""
    return [
        plain_number(text.strip(), only_numbers=True) for text in [*point.value("coordinates").split(","), "", ""][:3]
    ]


def write_kml(stream: BinaryIO, waypoints: Iterable[Waypoint], *, identity: bool = False) -> tuple[str, ...]:
    """Write waypoints in order of code and return what the format could not hold."""
    lost: set[str] = set()
    coming = noting_others(in_order(waypoints), "kml", lost)
    write_document(stream, [("kml", {"xmlns": KML_22}), ("Document", {})], _lines(coming, identity))
    return tuple(lost)


def _lines(waypoints: Iterable[Waypoint], identity: bool) -> Iterator[str]:
    """Yield the lines of placemarks as they come; those in folders stand behind all others, and are held till then."""
    top = _Folder()
    for waypoint in waypoints:
        folders = _folders(waypoint)
        if not folders:
            yield from _placemark(waypoint, identity)
            continue
        folder = top
        for name in folders:
            folder = folder.inner.setdefault(name, _Folder())
        folder.placemarks += _placemark(waypoint, identity)
    yield from top.lines()


@dataclass
class _Folder:
    """What stands in a folder: the lines of its placemarks, then the folders within it by name."""

    placemarks: list[str] = field(default_factory=list)
    inner: dict[str, _Folder] = field(default_factory=dict)

    def lines(self) -> list[str]:
        folders = (
            element("Folder", [*element("name", name), *folder.lines()]) for name, folder in sorted(self.inner.items())
        )
        return [*self.placemarks, *chain.from_iterable(folders)]


def _folders(waypoint: Waypoint) -> list[str]:
    """Return the folders that a waypoint came in, the outermost first."""
    names = extras_of(waypoint, "kml").get("folders")
    if not isinstance(names, list) or len(names) > DEEPEST_KEPT:
        return []
    return [name for name in names if isinstance(name, str) and name]


def _placemark(waypoint: Waypoint, identity: bool) -> list[str]:
    row = dict(zip(HEADER, plain_row(waypoint), strict=True))
    kept = extras_of(waypoint, "kml")
    elements = kept_nodes(kept, "elements")
    data: list[str] = []
    if not waypoint.name:
        data += datum("name", "")
    # The empty ones too: they say that the file speaks of the field, so that taking it back in can clear it.
    for name in _OWN_FIELDS:
        data += datum(name, row[name])
    if identity and waypoint.identity:
        data += datum("identity", waypoint.identity)
    for name, value in kept_values(kept, "data").items():
        data += datum(str(name), str(value))
    position = waypoint.position
    place = f"{coordinate(position.longitude_deg)},{coordinate(position.latitude_deg)}"
    lines = [
        *element("name", waypoint.name or waypoint.code),
        *_among(elements, BEFORE),
        *maybe("description", waypoint.description),
        *_among(elements, AFTER),
        *element("ExtendedData", data),
        *element("Point", element("coordinates", place)),
    ]
    return element("Placemark", lines)


def _among(nodes: Sequence[Node], names: Sequence[str]) -> list[str]:
    return lines_among(nodes, names, KML_NAMESPACE.fullmatch, KML_22)
