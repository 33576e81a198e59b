"""Airspace as KML: placemarks with polygons; limits and kind as extended data. Read out of a KMZ too, written as 2.2.

KML draws an edge along the ground; it is taken as straight in longitude and latitude, as everywhere here, and goes
the short way round the earth. Altitudes of positions are no limits.
"""

from __future__ import annotations

import io
import math
from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import chain
from typing import BinaryIO

from taskdb.core.airspace.volume import Polygon, Ring, Volume
from taskdb.core.model import E7, RowProblem
from taskdb.formats.airspace.assembly import assemble
from taskdb.formats.airspace.reading import FIELDS, AirspaceOptions, AirspaceReading, RawVolume, require_volumes
from taskdb.formats.exported import coordinate
from taskdb.formats.limits import MOST_POINTS, too_large
from taskdb.formats.markup.kml import (
    KML_22,
    Placemarks,
    datum,
    extended_data,
    float_or_none,
    is_update,
    open_kmz,
    require_kml,
)
from taskdb.formats.markup.xml import Node, document, element, read_xml
from taskdb.formats.text.table import count_words

_STYLE = element("Style", [*element("LineStyle", element("width", "2")), *element("PolyStyle", element("fill", "0"))])


def read_kmz_airspace(stream: BinaryIO, options: AirspaceOptions) -> AirspaceReading:
    """Return the volumes of the document in a KMZ. InputError for no KMZ."""
    with open_kmz(stream) as packed:
        return _read(packed, options, format="kmz", notes=packed.notes)


def read_kml_airspace(stream: BinaryIO, options: AirspaceOptions) -> AirspaceReading:
    """Return the placemarks of a KML file that have polygons. InputError for what is no KML, or has none."""
    return _read(stream, options, format="kml")


def _read(
    stream: BinaryIO | io.RawIOBase, options: AirspaceOptions, *, format: str, notes: tuple[str, ...] = ()
) -> AirspaceReading:
    raws: list[RawVolume] = []
    left = Counter[str]()
    is_placemark = Placemarks()
    places = 0

    def take(node: Node, around: Sequence[Node]) -> bool:
        nonlocal places
        if node.name == "NetworkLink":
            left["network link(s)"] += 1
        if not is_placemark(node):
            return False
        polygons = list(node.each("Polygon"))
        if is_update(around) or not polygons:
            left["placemark(s) of an update" if is_update(around) else "placemark(s) without a polygon"] += 1
            require_volumes(len(raws), left.total())
            return True
        raws.append(_raw(node, polygons))
        require_volumes(len(raws), 0)
        places += sum(len(ring) for rings in raws[-1].polygons for ring in rings)
        if places > MOST_POINTS:
            raise too_large(f"has more than {MOST_POINTS:,} positions", "Split it into several files.")
        return True

    root, encoding = read_xml(stream, take)
    require_kml(root)
    aside = count_words(left)
    told = (*notes, f"{aside} left aside") if aside else notes
    return assemble(raws, options, format=format, encoding=encoding, notes=told)


def _raw(node: Node, polygons: Sequence[Node]) -> RawVolume:
    texts = dict(extended_data(node))
    texts["name"] = node.value("name") or texts.get("name", "")
    found = []
    for polygon in polygons:
        # The exterior first, wherever the file has it.
        boundaries = sorted(polygon.each("outerBoundaryIs", "innerBoundaryIs"), key=lambda b: b.name, reverse=True)
        found.append([_ring(ring) for boundary in boundaries for ring in boundary.each("LinearRing")])
    bad = next((ring for rings in found for ring in rings if isinstance(ring, str)), None)
    if bad is not None:
        why = "its coordinates are not longitude,latitude in degrees, parted by blanks"
        problem = RowProblem(node.line, "ground", bad, "bad-position", why)
        return RawVolume(node.line, texts, problem=problem)
    flat = [[ring for ring in rings if not isinstance(ring, str)] for rings in found]
    return RawVolume(node.line, texts, flat, short_way=True)


def _ring(node: Node) -> list[tuple[float, float]] | str:
    """Return the positions of a ring, or the text that is none."""
    places = []
    for text in node.value("coordinates").split():
        numbers = [float_or_none(part) for part in text.split(",")[:2]]
        if len(numbers) < 2 or any(n is None or not math.isfinite(n) or abs(n) >= 1e6 for n in numbers):
            return text[:100]
        places.append((numbers[0] or 0.0, numbers[1] or 0.0))
    return places


def write_kml_airspace(stream: BinaryIO, volumes: Iterable[Volume]) -> tuple[str, ...]:
    """Write volumes in order of name; nothing is lost."""
    ordered = sorted(volumes, key=lambda volume: volume.name)
    lines = list(chain.from_iterable(_placemark(volume) for volume in ordered))
    stream.write(document(element("kml", element("Document", lines), {"xmlns": KML_22})))
    return ()


def _placemark(volume: Volume) -> list[str]:
    texts = {
        "kind": volume.kind.value,
        "floor": volume.floor.text,
        "ceiling": volume.ceiling.text,
        "times": volume.times or "",
        "frequency": volume.frequency or "",
    }
    data = [line for name in FIELDS if name in texts for line in datum(name, texts[name])]
    drawn = [line for polygon in volume.polygons for line in _polygon(polygon)]
    if len(volume.polygons) > 1:
        drawn = element("MultiGeometry", drawn)
    return element("Placemark", [*element("name", volume.name), *_STYLE, *element("ExtendedData", data), *drawn])


def _polygon(polygon: Polygon) -> list[str]:
    lines = element("outerBoundaryIs", _linear_ring(polygon[0]))
    for hole in polygon[1:]:
        lines += element("innerBoundaryIs", _linear_ring(hole))
    return element("Polygon", lines)


def _linear_ring(ring: Ring) -> list[str]:
    places = " ".join(f"{coordinate(x / E7)},{coordinate(y / E7)}" for x, y in ring)
    return element("LinearRing", element("coordinates", places))
