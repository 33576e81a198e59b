"""Tasks as KML: our own document is read whole, any other (a KMZ too) as its lines, or its placemarks in order.

Written is KML 2.2, to be looked at: points, legs along the geodesic, zones as shapes. The exact zone stands as text in
the extended data of each point, what belongs to the task as a whole in that of the document, under the names of the
task's JSON; so it is read back whole.
"""

from __future__ import annotations

import io
import json
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, BinaryIO

from taskdb.core.course.plain import free_plain
from taskdb.core.course.zones import describe_zone
from taskdb.core.geodesy import densify
from taskdb.core.model import Place, TaskPoint
from taskdb.core.plain import canonical_json
from taskdb.errors import InputError
from taskdb.formats.exported import ExportedTask, coordinate, format_elevation, place_label
from taskdb.formats.limits import MOST_TASK_ELEMENTS, require_task_points
from taskdb.formats.markup.antimeridian import Ring, cut_line
from taskdb.formats.markup.kml import (
    KML_22,
    OWN_TASK_DATA,
    SHAPES,
    Placemarks,
    datum,
    extended_data,
    has_place,
    is_update,
    open_kmz,
    require_kml,
)
from taskdb.formats.markup.xml import Node, document, element, read_xml
from taskdb.formats.tasks.geojson import LEG_STEP_M, zone_geometry
from taskdb.formats.tasks.lines import Line, lines_or_points, read_line
from taskdb.formats.tasks.reading import MOST_POINTS, Problems, ReadPoint, TaskReading, read_label, read_point
from taskdb.formats.tasks.values import describe, free_choice, free_lost, limits_lost, read_whole, whole_texts

_ENDS = {"take-off": "take_off", "landing": "landing"}


def read_kmz_tasks(stream: BinaryIO) -> tuple[TaskReading, ...]:
    """Return the tasks of the document in a KMZ. InputError for no KMZ, or where it has none."""
    with open_kmz(stream) as document:
        return tuple(replace(task, notes=(*document.notes, *task.notes)) for task in read_kml_tasks(document))


def read_kml_tasks(stream: BinaryIO | io.RawIOBase) -> tuple[TaskReading, ...]:
    """Return the tasks of a KML file: our own, else each line, else its placemarks with one point in their order.

    InputError for what is no KML or has neither.
    """
    lines: list[Line] = []
    placeless = Counter[str]()
    is_placemark = Placemarks()
    placemarks: list[tuple[Node, Node]] = []

    def take(node: Node, around: Sequence[Node]) -> bool:
        if not is_placemark(node):
            return False
        if is_update(around):
            return True
        points, drawn = list(node.each("Point")), list(node.each("LineString"))
        if len(points) == 1 and has_place(points[0]):
            placemarks.append((node, points[0]))
        elif not points and len(drawn) == 1:
            lines.append(_line(node, drawn[0]))
        else:
            placeless["placemark"] += not any(node.each(*SHAPES))
        require_task_points(len(placemarks) + len(lines))
        return True

    root, _ = read_xml(stream, take, most_kept=MOST_TASK_ELEMENTS)
    require_kml(root)
    document = root if root.name == "Document" else root.find("Document")
    whole = dict(extended_data(document)) if document is not None else {}
    problems = Problems()
    points, ends = _points_and_ends(problems, placemarks)
    is_own = "type" in whole
    if not points and (is_own or not lines):
        raise InputError(
            "no-tasks",
            "The KML file has no placemark with a point, and no line.",
            hint="Give a file with its points as placemarks, in order, or a line through them.",
        )
    values: dict[str, Any] = {}
    if is_own and document is not None:
        values = {**read_whole(problems, document.line, whole), **_listed(problems, document.line, whole)}
    name = "" if document is None else read_label(document.value("name"))
    known = tuple(point for point in points if point is not None)
    reading = TaskReading("kml", name, known, problems=problems.sorted(), **ends, **values)
    return lines_or_points(reading, lines, is_own=is_own, placeless=placeless)


def _points_and_ends(
    problems: Problems, placemarks: Sequence[tuple[Node, Node]]
) -> tuple[list[ReadPoint | None], dict[str, Any]]:
    """Return the points of placemarks, each given with its point, and those that are take-off and landing by name."""
    points: list[ReadPoint | None] = []
    ends: dict[str, Any] = {}
    for placemark, at in placemarks:
        data = dict(extended_data(placemark))
        end = _ENDS.get(data.get("role", ""))
        if end is not None:
            ends[end] = _point(problems, placemark, at, {**data, "role": ""})
        else:
            points.append(_point(problems, placemark, at, data))
    return points, ends


def _line(node: Node, drawn: Node) -> Line:
    # Blanks after commas are none of the standard's, and written all the same.
    tuples = re.sub(r"\s*,\s*", ",", drawn.value("coordinates")).split()
    parts = [[*one.split(","), "", ""] for one in tuples[: MOST_POINTS + 1]]
    vertices = [(latitude, longitude) for longitude, latitude, *_ in parts]
    return read_line(node.line, read_label(node.value("name")), vertices, count=len(tuples))


def _point(problems: Problems, node: Node, at: Node, data: dict[str, str]) -> ReadPoint | None:
    longitude, latitude = [*map(str.strip, at.value("coordinates").split(",")), "", ""][:2]
    # The label of ours is for people, and the name itself stands beside it, also an empty one.
    name = data["name"] if data.keys() >= OWN_TASK_DATA else node.value("name") or data.get("name", "")
    told = {**data, "name": name, "latitude_deg": latitude, "longitude_deg": longitude}
    return read_point(problems, node.line, told)


def _listed(problems: Problems, line: int, whole: dict[str, str]) -> dict[str, Any]:
    values: dict[str, Any] = {}
    free, tags = _json(problems, line, "free", whole), _json(problems, line, "tags", whole)
    if isinstance(free, dict):
        values["free"] = free_choice(problems, line, free)
    if isinstance(tags, list):
        values["tags"] = tuple(tag for tag in tags if isinstance(tag, str))
    return values


def _json(problems: Problems, line: int, name: str, whole: dict[str, str]) -> Any:
    text = whole.get(name, "")
    try:
        return json.loads(text) if text else None
    except (ValueError, RecursionError):
        problems.tell(line, name, text, "bad-json", "it is no JSON")
        return None


# Writing


LOST = "zones, for programs that do not know our extended data: they see shapes to look at"

# Colours are aabbggrr in KML: dark blue lines, zones in the same blue at a quarter.
_LINE_COLOUR, _FILL_COLOUR = "ff8b3a00", "408b3a00"


def write_kml_task(stream: BinaryIO, exported: ExportedTask) -> tuple[str, ...]:
    """Write a task as one document and return what the format could not hold."""
    points = exported.task.points
    children = [
        *element("name", exported.task.name),
        *element("description", describe(exported)),
        *_style(),
        *_data(_whole(exported)),
        *_folder("Points", [line for n, point in enumerate(points) for line in _point_placemark(point, n)]),
        *_folder("Legs", _legs(exported)),
        *_folder("Zones", [line for n, point in enumerate(points) for line in _zone(point, n)]),
        *_ends(exported),
    ]
    stream.write(document(element("kml", element("Document", children), {"xmlns": KML_22})))
    return (LOST, *free_lost(exported), *limits_lost(exported))


def _style() -> list[str]:
    line = element("LineStyle", [*element("color", _LINE_COLOUR), *element("width", "2")])
    return element("Style", [*line, *element("PolyStyle", element("color", _FILL_COLOUR))], {"id": "task"})


def _folder(name: str, lines: list[str]) -> list[str]:
    return element("Folder", [*element("name", name), *lines])


def _data(values: dict[str, str | None]) -> list[str]:
    """Return extended data; values that are None are left out."""
    data = [line for name, value in values.items() if value is not None for line in datum(name, value)]
    return element("ExtendedData", data)


def _whole(exported: ExportedTask) -> dict[str, str | None]:
    task = exported.task
    free = None if task.free is None else canonical_json(free_plain(task.free))
    tags = canonical_json(list(task.tags)) if task.tags else None
    return {**whole_texts(exported), "free": free, "tags": tags}


def _point_placemark(point: TaskPoint, number: int) -> list[str]:
    values = {"number": str(number), "role": point.role.value}
    zone = {"zone": point.zone.text, "zone_from": point.zone_from.value}
    return _placed(point.place, f"{point.role.value}: {describe_zone(point.zone)}", values, zone)


def _placed(place: Place, words: str, before: dict[str, str], after: dict[str, str]) -> list[str]:
    elevation = format_elevation(place.elevation_m) or None
    values = {**before, "code": place.code, "name": place.name, "elevation_m": elevation, **after}
    at = f"{coordinate(place.position.longitude_deg)},{coordinate(place.position.latitude_deg)}"
    return element(
        "Placemark",
        [
            *element("name", place_label(place)),
            *element("description", words),
            *_data(values),
            *element("Point", element("coordinates", at)),
        ],
    )


def _ends(exported: ExportedTask) -> list[str]:
    """Return the declared take-off and landing in a folder of their own; nothing where none is declared."""
    lines: list[str] = []
    for role, place in (("take-off", exported.task.take_off), ("landing", exported.task.landing)):
        if place is not None:
            lines += _placed(place, role, {"role": role}, {})
    return _folder("Take-off and landing", lines) if lines else []


def _shaped(name: str, geometry: list[str]) -> list[str]:
    return element("Placemark", [*element("name", name), *element("styleUrl", "#task"), *geometry])


def _legs(exported: ExportedTask) -> list[str]:
    points = exported.task.points
    lines: list[str] = []
    for leg in exported.course.between_points:
        start, end = points[leg.from_number].place, points[leg.to_number].place
        parts = cut_line(densify(start.position, end.position, LEG_STEP_M))
        name = f"{start.code} to {end.code}, {leg.distance_m / 1000:.1f} km"
        lines += _shaped(name, _several([_line_string(part) for part in parts]))
    return lines


def _coordinates(ring: Sequence[tuple[float, float]]) -> list[str]:
    return element("coordinates", " ".join(f"{coordinate(lon)},{coordinate(lat)}" for lon, lat in ring))


def _line_string(ring: Ring) -> list[str]:
    return element("LineString", [*element("tessellate", "1"), *_coordinates(ring)])


def _polygon(rings: list[Ring]) -> list[str]:
    outer = element("outerBoundaryIs", element("LinearRing", _coordinates(rings[0])))
    inner = [
        line for ring in rings[1:] for line in element("innerBoundaryIs", element("LinearRing", _coordinates(ring)))
    ]
    return element("Polygon", [*element("tessellate", "1"), *outer, *inner])


def _several(geometries: list[list[str]]) -> list[str]:
    if len(geometries) == 1:
        return geometries[0]
    return element("MultiGeometry", [line for geometry in geometries for line in geometry])


def _zone(point: TaskPoint, number: int) -> list[str]:
    shape = zone_geometry(point)
    parts = shape["coordinates"] if shape["type"].startswith("Multi") else [shape["coordinates"]]
    draw = _polygon if shape["type"].endswith("Polygon") else _line_string
    return _shaped(
        f"{number} {point.place.code}: {describe_zone(point.zone)}", _several([draw(part) for part in parts])
    )
