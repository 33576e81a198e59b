"""Tasks as GeoJSON (RFC 7946): our own collection is read whole, any other as its points in order, or its lines.

Written are points, legs along the geodesic, zones as polygons. Lines in GeoJSON are straight in longitude and
latitude, so legs are given as many points; what crosses the antimeridian is cut there. Elevations stand in the
properties: a third coordinate would be above the ellipsoid.
"""

from __future__ import annotations

import json
from collections import Counter
from functools import lru_cache
from itertools import pairwise
from typing import Any, BinaryIO

from taskdb.core.course.outline import DISPLAY_RADIUS_M, line_ends, outline
from taskdb.core.course.plain import free_plain, leg_plain, point_plain
from taskdb.core.course.zones import describe_zone
from taskdb.core.geodesy import densify
from taskdb.core.model import Role, Shape, TaskPoint
from taskdb.core.plain import metres, place_plain
from taskdb.errors import InputError
from taskdb.formats.exported import ExportedTask
from taskdb.formats.limits import require_few_lists, require_task_points
from taskdb.formats.markup.antimeridian import cut_line, cut_polygon, pair
from taskdb.formats.markup.geojson import as_json, each_feature, feature, feature_lines, place_of, plain_text
from taskdb.formats.tasks.lines import Line, lines_or_points, read_line
from taskdb.formats.tasks.reading import MOST_POINTS, Problems, ReadPoint, TaskReading, read_label, read_point
from taskdb.formats.tasks.values import describe, free_choice, free_lost, limits_lost, read_whole, whole_values
from taskdb.formats.text.decode import decide_encoding

_MOST_LISTS = 200_000


def read_geojson_tasks(stream: BinaryIO) -> tuple[TaskReading, ...]:
    """Return the tasks of a GeoJSON file: one of its points, else one of each line, whose points have no names.

    InputError for what is no GeoJSON or has neither.
    """
    codec, _ = decide_encoding(stream, None)
    content = stream.read()
    require_few_lists(content, _MOST_LISTS)
    return as_json(content.decode(codec).removeprefix("\ufeff"), _tasks)


def _tasks(text: str) -> tuple[TaskReading, ...]:
    problems = Problems()
    found: list[ReadPoint | None] = []
    lines: list[Line] = []
    placeless = Counter[str]()
    features = []
    for read in each_feature(text):
        features.append(read)
        require_task_points(len(features))
    whole = _whole(text)
    for read in features:
        properties, geometry = _parts(read.value)
        at = place_of(geometry)
        if at is None or (whole is not None and properties.get("kind") != "point"):
            lines += [_line(read.line, properties, vertices) for vertices in _vertices(geometry)]
            placeless["feature"] += geometry is None
        else:
            found.append(_point(problems, read.line, properties, at))
    if not found and (whole is not None or not lines):
        raise InputError("no-tasks", "The GeoJSON file has no points.", hint="Give a file with points or a line.")
    values: dict[str, Any] = {"name": ""} if whole is None else _values(problems, whole)
    points = tuple(point for point in found if point is not None)
    reading = TaskReading("geojson", points=points, problems=problems.sorted(), **values)
    return lines_or_points(reading, lines, is_own=whole is not None, placeless=placeless)


def _whole(text: str) -> dict[str, Any] | None:
    """Return our own member of the task as a whole; None where the file has none."""
    try:
        document = json.loads(text)
    except ValueError:
        return None  # features line by line
    whole = document.get("task") if isinstance(document, dict) else None
    return whole if isinstance(whole, dict) else None


def _parts(value: Any) -> tuple[dict[str, Any], Any]:
    """Return a feature's properties and its geometry."""
    feature = value if isinstance(value, dict) else {}
    properties = feature.get("properties")
    return properties if isinstance(properties, dict) else {}, feature.get("geometry")


def _vertices(geometry: Any) -> list[list[Any]]:
    """Return the points of a geometry that is one line, also as a multiline of one; nothing for any other."""
    kind, at = (geometry.get("type"), geometry.get("coordinates")) if isinstance(geometry, dict) else (None, None)
    if not isinstance(at, list):
        return []
    if kind == "MultiLineString":
        return [at[0]] if len(at) == 1 and isinstance(at[0], list) else []
    return [at] if kind == "LineString" else []


def _line(line: int, properties: dict[str, Any], vertices: list[Any]) -> Line:
    """Return a line; which waypoints its points are only their positions can say."""
    pairs = [[*(vertex if isinstance(vertex, list) else []), None, None] for vertex in vertices[: MOST_POINTS + 1]]
    texts = [(_text(latitude), _text(longitude)) for longitude, latitude, *_ in pairs]
    return read_line(line, read_label(_text(properties.get("name"))), texts, count=len(vertices))


def _text(value: Any) -> str:
    """Return a single value as text: empty for null and for what is no single value."""
    if value is None or isinstance(value, dict | list):
        return ""
    return plain_text(value if isinstance(value, str) else json.dumps(value))


def _point(problems: Problems, line: int, properties: dict[str, Any], at: list[Any]) -> ReadPoint | None:
    zone = properties.get("zone")
    told = {**properties, "zone": zone.get("text") if isinstance(zone, dict) else zone}
    told |= zip(("longitude_deg", "latitude_deg"), [*at, None, None], strict=False)
    return read_point(problems, line, {name: _text(value) for name, value in told.items()})


def _values(problems: Problems, whole: dict[str, Any]) -> dict[str, Any]:
    values = read_whole(problems, 1, {key: _text(value) for key, value in whole.items()})
    values["name"] = read_label(_text(whole.get("name")))
    tags = whole.get("tags")
    values["tags"] = tuple(_text(tag) for tag in tags) if isinstance(tags, list) else ()
    if isinstance(whole.get("free"), dict):
        values["free"] = free_choice(problems, 1, whole["free"])
    for key in ("take_off", "landing"):
        values[key] = _place(problems, whole.get(key))
    return values


def _place(problems: Problems, value: Any) -> ReadPoint | None:
    if not isinstance(value, dict):
        return None
    return _point(problems, 1, value, [value.get("longitude_deg"), value.get("latitude_deg")])


# Writing


EDGE_WITHIN_M = 0.98
"""How far a written zone's edge may be from the true one, with room for rounding to 1e-7°."""
LEG_STEP_M = 5_000.0
"""A straight line in longitude and latitude over this length leaves the geodesic by less than 1 m at 60°."""


def write_geojson_task(stream: BinaryIO, exported: ExportedTask) -> tuple[str, ...]:
    """Write a task as one FeatureCollection and return what the format could not hold."""
    task = exported.task
    features = [_point_feature(point, number) for number, point in enumerate(task.points)]
    features += _legs(exported)
    features += [_zone_feature(point, number) for number, point in enumerate(task.points)]
    features += _extremes(exported)
    collection = {"type": "FeatureCollection", "task": _task(exported), "features": features}
    stream.write(feature_lines(collection))
    return (*free_lost(exported), *limits_lost(exported))


def _task(exported: ExportedTask) -> dict[str, Any]:
    task, distances = exported.task, exported.course.distances
    return {
        "name": task.name,
        **({"description": describe(exported)} if exported.mark else {}),
        **whole_values(exported),
        "task_m": metres(distances.task_m),
        "minimum_m": _maybe_metres(distances.minimum_m),
        "maximum_m": _maybe_metres(distances.maximum_m),
        "free": free_plain(task.free),
        "take_off": place_plain(task.take_off),
        "landing": place_plain(task.landing),
        "tags": list(task.tags),
    }


def _maybe_metres(value: float | None) -> float | None:
    return None if value is None else metres(value)


def _point_feature(point: TaskPoint, number: int) -> dict[str, Any]:
    properties = point_plain(point, number)
    for known in ("latitude_deg", "longitude_deg"):
        properties.pop(known)
    geometry = {"type": "Point", "coordinates": pair(point.place.position)}
    return feature(geometry, {"kind": "point", **properties})


def _legs(exported: ExportedTask) -> list[dict[str, Any]]:
    points = exported.task.points
    features = []
    for leg, drawn in zip(exported.course.legs, exported.course.between_points, strict=True):
        ends = points[leg.from_number].place.position, points[leg.to_number].place.position
        parts = cut_line(densify(*ends, LEG_STEP_M))
        features.append(feature(line_geometry(parts), {"kind": "leg", **leg_plain(leg, drawn)}))
    return features


def _extremes(exported: ExportedTask) -> list[dict[str, Any]]:
    """Return the shortest and the longest path through the areas, where a task has areas."""
    distances = exported.course.distances
    paths = (
        ("minimum", distances.minimum_m, distances.minimum_at),
        ("maximum", distances.maximum_m, distances.maximum_at),
    )
    features = []
    for name, length_m, path in paths:
        if length_m is None or path is None or not has_areas(exported):
            continue
        parts = [part for a, b in pairwise(path) for part in cut_line(densify(a, b, LEG_STEP_M))]
        features.append(feature(line_geometry(parts), {"kind": name, "distance_m": metres(length_m)}))
    return features


def has_areas(exported: ExportedTask) -> bool:
    """Say whether the length of a task is the pilot's choice within areas."""
    return any(point.role is Role.AREA for point in exported.task.points)


def line_geometry(parts: list[list[tuple[float, float]]]) -> dict[str, Any]:
    """Return a LineString, or a MultiLineString where the line was cut."""
    if len(parts) == 1:
        return {"type": "LineString", "coordinates": parts[0]}
    return {"type": "MultiLineString", "coordinates": parts}


@lru_cache(maxsize=256)  # two formats draw the same zone, and the tasks of a contest share their start and finish
def zone_geometry(point: TaskPoint) -> dict[str, Any]:
    """Return a point's zone as a line or polygon within 1 m; a sector without a radius is drawn 20 km far.

    What is returned is shared: not to be changed.
    """
    at = point.place.position
    if point.zone.shape is Shape.LINE:
        left, right = line_ends(point.zone, at)
        return line_geometry(cut_line(densify(left, right, LEG_STEP_M)))
    polygons = [
        part
        for shape in outline(point.zone, at, within_m=EDGE_WITHIN_M)
        for part in cut_polygon(shape.exterior, shape.holes)
    ]
    if len(polygons) == 1:
        return {"type": "Polygon", "coordinates": polygons[0]}
    return {"type": "MultiPolygon", "coordinates": polygons}


def _zone_feature(point: TaskPoint, number: int) -> dict[str, Any]:
    properties: dict[str, Any] = {
        "kind": "zone",
        "number": number,
        "role": point.role.value,
        "code": point.place.code,
        "zone": point.zone.text,
        "words": describe_zone(point.zone),
    }
    if point.zone.shape is Shape.SECTOR and point.zone.radius_m is None:
        properties["drawn_radius_m"] = DISPLAY_RADIUS_M
    return feature(zone_geometry(point), properties)
