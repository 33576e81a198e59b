"""A task as GeoJSON (RFC 7946): its points, its legs along the geodesic, its zones as polygons.

Lines in GeoJSON are straight in longitude and latitude, so legs are given as many points; what crosses the
antimeridian is cut there. Elevations stand in the properties: a third coordinate would be above the ellipsoid.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from typing import Any, BinaryIO

from taskdb.core.course.outline import DISPLAY_RADIUS_M, line_ends, outline
from taskdb.core.course.plain import free_plain, leg_plain, point_plain
from taskdb.core.course.zones import describe_zone
from taskdb.core.geodesy import densify
from taskdb.core.model import Role, Shape, TaskPoint
from taskdb.core.plain import metres, place_plain
from taskdb.formats.exported import ExportedTask
from taskdb.formats.markup.antimeridian import cut_line, cut_polygon, pair
from taskdb.formats.markup.json_text import feature, feature_lines
from taskdb.formats.tasks.gpx import describe
from taskdb.formats.tasks.values import free_lost, limits_lost, whole_values

EDGE_WITHIN_M = 0.9
"""How far a written zone's edge may be from the true one, with room for rounding to 1e-7°."""
LEG_STEP_M = 5_000.0
"""A straight line in longitude and latitude over this length leaves the geodesic by less than 1 m at 60°."""


def write_geojson_task(stream: BinaryIO, exported: ExportedTask) -> tuple[str, ...]:
    """Write a task as one FeatureCollection and return what the format could not hold."""
    task = exported.task
    features = [_point(point, number) for number, point in enumerate(task.points)]
    features += _legs(exported)
    features += [_zone(point, number) for number, point in enumerate(task.points)]
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


def _point(point: TaskPoint, number: int) -> dict[str, Any]:
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


def _zone(point: TaskPoint, number: int) -> dict[str, Any]:
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
