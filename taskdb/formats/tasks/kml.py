"""A task as KML 2.2, to be looked at: its points, its legs along the geodesic, its zones as shapes.

The exact zone stands as text in the extended data of each point, what belongs to the task as a whole in that of the
document, under the names of the task's JSON; so it is read back whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import BinaryIO

from taskdb.core.course.plain import free_plain
from taskdb.core.course.zones import describe_zone
from taskdb.core.geodesy import densify
from taskdb.core.model import Place, TaskPoint
from taskdb.core.plain import canonical_json
from taskdb.formats.exported import ExportedTask, coordinate, place_label
from taskdb.formats.markup.antimeridian import Ring, cut_line
from taskdb.formats.markup.xml_text import document, element
from taskdb.formats.tasks.geojson import LEG_STEP_M, zone_geometry
from taskdb.formats.tasks.gpx import describe
from taskdb.formats.tasks.values import free_lost, limits_lost, whole_texts
from taskdb.formats.waypoints.csv import format_elevation
from taskdb.formats.waypoints.kml import KML_22, datum

LOST = "zones, for programs that do not know our extended data: they see shapes to look at"

# Colours are aabbggrr in KML: dark blue lines, zones in the same blue at a quarter.
_LINE, _FILL = "ff8b3a00", "408b3a00"


def write_kml_task(stream: BinaryIO, exported: ExportedTask) -> tuple[str, ...]:
    """Write a task as one document and return what the format could not hold."""
    points = exported.task.points
    children = [
        *element("name", exported.task.name),
        *element("description", describe(exported)),
        *_style(),
        *_data(_whole(exported)),
        *_folder("Points", [line for n, point in enumerate(points) for line in _point(point, n)]),
        *_folder("Legs", _legs(exported)),
        *_folder("Zones", [line for n, point in enumerate(points) for line in _zone(point, n)]),
        *_ends(exported),
    ]
    stream.write(document(element("kml", element("Document", children), {"xmlns": KML_22})))
    return (LOST, *free_lost(exported), *limits_lost(exported))


def _style() -> list[str]:
    line = element("LineStyle", [*element("color", _LINE), *element("width", "2")])
    return element("Style", [*line, *element("PolyStyle", element("color", _FILL))], {"id": "task"})


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


def _point(point: TaskPoint, number: int) -> list[str]:
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
        lines += _shaped(name, _several([_line(part) for part in parts]))
    return lines


def _coordinates(ring: Sequence[tuple[float, float]]) -> list[str]:
    return element("coordinates", " ".join(f"{coordinate(lon)},{coordinate(lat)}" for lon, lat in ring))


def _line(ring: Ring) -> list[str]:
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
    draw = _polygon if shape["type"].endswith("Polygon") else _line
    return _shaped(
        f"{number} {point.place.code}: {describe_zone(point.zone)}", _several([draw(part) for part in parts])
    )
