"""Exports of 500 random tasks with hostile names in other programs' hands: published schemas, GDAL, gpxpy, fastkml.

Everything is accepted, geometry comes back within 1e-7 degree, and zones lie within 1 m of shapes computed apart.
"""

from __future__ import annotations

import csv
import io
import json
import math
import re
from functools import cache
from pathlib import Path
from typing import Any

import fastkml
import gpxpy
import numpy as np
import pyogrio
import pytest
import shapely
from geojson_validator import validate_structure
from lxml import etree
from pyproj import Geod

from taskdb.core.model import Position, Role, Shape, TaskPoint, Zone
from taskdb.formats.exported import ExportedTask
from taskdb.formats.registry import write_task
from tests.formats.random_tasks import random_tasks

pytestmark = pytest.mark.slow

DATA = Path(__file__).parent.parent / "data"
AMOUNT = 500
CLOSE_DEG = 1e-7
# Half of the last digit that is written, and what arithmetic adds.
EXACT_DEG = 0.5e-7 + 1e-12
GEOD = Geod(ellps="WGS84")
KML = "{http://www.opengis.net/kml/2.2}"


@cache
def tasks() -> list[ExportedTask]:
    return random_tasks(AMOUNT, seed=2027)


@cache
def written(format: str) -> list[bytes]:
    found = []
    for exported in tasks():
        stream = io.BytesIO()
        write_task(stream, exported, format)
        found.append(stream.getvalue())
    return found


def points_of(exported: ExportedTask) -> list[tuple[float, float]]:
    return [(p.place.position.longitude_deg, p.place.position.latitude_deg) for p in exported.task.points]


def test_there_are_tasks_of_every_kind_to_look_at() -> None:
    shapes = {p.zone.shape for t in tasks() for p in t.task.points}
    assert shapes == set(Shape) and len(tasks()) == AMOUNT
    names = {p.place.name for t in tasks() for p in t.task.points}
    assert {"<script>alert(1)</script>", "CON", "x" * 300} <= names and any("\x00" in name for name in names)


def test_gpx_is_valid_and_gpxpy_reads_the_routes() -> None:
    # GPX 1.1 schema as published by TopoGrafix; gpxpy, another implementation.
    schema = etree.XMLSchema(file=str(DATA / "gpx.xsd"))
    for exported, content in zip(tasks(), written("gpx"), strict=True):
        schema.assertValid(etree.fromstring(content))
        (route,) = gpxpy.parse(content.decode()).routes
        found = [(p.longitude, p.latitude) for p in route.points]
        assert np.allclose(found, points_of(exported), rtol=0, atol=EXACT_DEG)
        for point, ours in zip(route.points, exported.task.points, strict=True):
            assert (point.elevation is None) == (ours.place.elevation_m is None)
            assert point.name == ours.place.code


def test_kml_is_valid_and_fastkml_reads_it() -> None:
    # OGC KML 2.2, 07-147r2; fastkml, another implementation.
    schema = etree.XMLSchema(file=str(DATA / "kml22-xsd" / "ogckml22.xsd"))
    for exported, content in zip(tasks(), written("kml"), strict=True):
        schema.assertValid(etree.fromstring(content))
        # It takes text, and text must not say again what its encoding is.
        (document,) = fastkml.KML.from_string(content.decode().partition("?>")[2]).features
        folders = {folder.name: folder.features for folder in document.features}
        found = [(mark.geometry.x, mark.geometry.y) for mark in folders["Points"]]
        assert np.allclose(found, points_of(exported), rtol=0, atol=EXACT_DEG)
        assert len(folders["Legs"]) == len(exported.course.legs)
        assert len(folders["Zones"]) == len(exported.task.points)


def test_geojson_is_valid_for_another_implementation() -> None:
    # geojson-validator, another implementation of RFC 7946.
    for exported, content in zip(tasks(), written("geojson"), strict=True):
        collection = json.loads(content)
        assert validate_structure(collection) == {}
        kinds = [f["properties"]["kind"] for f in collection["features"]]
        n = len(exported.task.points)
        assert (kinds.count("point"), kinds.count("leg"), kinds.count("zone")) == (n, n - 1, n)
        has_areas = any(p.role is Role.AREA for p in exported.task.points)
        assert kinds.count("minimum") == kinds.count("maximum") == has_areas


def layer(path: Path, name: str | None, **options: Any) -> tuple[list[Any], dict[str, Any]]:
    meta, _, geometries, columns = pyogrio.raw.read(path, layer=name, **options)
    return [shapely.from_wkb(g) for g in geometries], dict(zip(meta["fields"], columns, strict=True))


@pytest.mark.parametrize("format", ["gpx", "kml", "geojson", "csv"])
def test_gdal_reads_every_export(format: str, tmp_path: Path) -> None:
    for number, (exported, content) in enumerate(zip(tasks(), written(format), strict=True)):
        path = tmp_path / f"{number}.{format}"
        path.write_bytes(content)
        if format == "gpx":
            shapes, fields = layer(path, "route_points")
            assert list(fields["name"]) == [p.place.code for p in exported.task.points]
        elif format == "kml":
            shapes, _ = layer(path, "Points")
            assert len(layer(path, "Zones")[0]) == len(exported.task.points)
        elif format == "csv":
            shapes, fields = layer(path, None, X_POSSIBLE_NAMES="longitude_deg", Y_POSSIBLE_NAMES="latitude_deg")
            assert list(fields["role"]) == [p.role.value for p in exported.task.points]
        else:
            shapes, fields = layer(path, None)
            shapes = [s for s, kind in zip(shapes, fields["kind"], strict=True) if kind == "point"]
        found = [(s.x, s.y) for s in shapes]
        assert np.allclose(found, points_of(exported), rtol=0, atol=CLOSE_DEG)
        path.unlink()


def test_no_cell_of_a_table_is_a_formula() -> None:
    for content in written("csv"):
        for row in csv.reader(io.StringIO(content.decode("utf-8"))):
            for cell in row:
                assert not re.match(r"[=+\-@\t\r]", cell) or re.fullmatch(r"[+-]?[\d.]+", cell)


def test_declarations_keep_to_the_specification() -> None:
    # IGC Technical Specification, Appendix A (2008): 2.1 lines and letters, 3.6 fields, 3.6.1 TT + 5 lines.
    point = re.compile(r"C\d{2}[0-5]\d{4}[NS]\d{3}[0-5]\d{4}[EW](\d{26})?(TAKEOFF|START|TURN|FINISH|LANDING)( .*)?")
    for exported, content in zip(tasks(), written("igc"), strict=True):
        lines = content.decode("ascii").split("\r\n")
        assert lines.pop() == "" and all(len(line) <= 76 for line in lines)
        assert all(re.fullmatch(r"[\x20-\x7e]*", line) and not set(line) & set("$*!\\^~") for line in lines)
        declared = [line for line in lines if line.startswith("C")]
        turns = int(re.fullmatch(r"C\d{6}\d{6}\d{6}0001(\d\d)( .*)?", declared[0]).group(1))  # type: ignore[union-attr]
        assert turns == len(exported.task.points) - 2 and len(declared) == turns + 5
        assert all(point.fullmatch(line) for line in declared[1:])


# Zones, computed apart: on the plane that keeps distances and directions from the point, every shape is elementary.


def arc(radius_m: float, first_deg: float, turn_deg: float) -> list[tuple[float, float]]:
    """Return points so close together that what lies between two of them is at most 2 cm off the arc."""
    steps = max(8, math.ceil(math.radians(abs(turn_deg)) / math.sqrt(8 * 0.02 / radius_m)))
    bearings = [math.radians(first_deg + turn_deg * n / steps) for n in range(steps + 1)]
    return [(radius_m * math.sin(b), radius_m * math.cos(b)) for b in bearings]


def slice_of(inner_m: float, outer_m: float, first_deg: float, turn_deg: float) -> shapely.Polygon:
    if turn_deg >= 360:
        disc = shapely.Polygon(arc(outer_m, 0, 360))
        return disc.difference(shapely.Polygon(arc(inner_m, 0, 360))) if inner_m else disc
    inner = arc(inner_m, first_deg + turn_deg, -turn_deg) if inner_m else [(0.0, 0.0)]
    return shapely.Polygon([*arc(outer_m, first_deg, turn_deg), *inner])


def expected_shape(zone: Zone) -> shapely.Geometry:
    """Return a zone on the plane of its point, from its definition. A sector without a radius is drawn to 20 km."""
    if zone.shape is Shape.CYLINDER:
        return slice_of(0, zone.radius_m or 0, 0, 360)
    if zone.shape is Shape.AREA:
        first, last = zone.from_radial_deg, zone.to_radial_deg
        if first is None or last is None or first == last:
            return slice_of(zone.inner_radius_m or 0, zone.radius_m or 0, 0, 360)
        return slice_of(zone.inner_radius_m or 0, zone.radius_m or 0, first, (last - first) % 360)
    assert zone.axis_deg is not None and zone.opening_deg is not None
    first = zone.axis_deg - zone.opening_deg / 2
    sector = slice_of(0, zone.radius_m or 20_000.0, first, zone.opening_deg)
    if zone.shape is Shape.KEYHOLE:
        return sector.union(slice_of(0, zone.core_radius_m or 0, 0, 360))
    return sector


def on_the_plane(at: Position, ring: list[list[float]]) -> list[tuple[float, float]]:
    """Return a ring of longitudes and latitudes, with the middles of its straight edges, as metres east and north."""
    lon, lat = np.array(ring).T
    lon = np.where(lon - at.longitude_deg > 180, lon - 360, np.where(lon - at.longitude_deg < -180, lon + 360, lon))
    both = [np.insert(values, range(1, len(values)), (values[1:] + values[:-1]) / 2) for values in (lon, lat)]
    count = len(both[0])
    bearing, _, distance = GEOD.inv([at.longitude_deg] * count, [at.latitude_deg] * count, *both)
    return list(zip(distance * np.sin(np.radians(bearing)), distance * np.cos(np.radians(bearing)), strict=True))


def read_zone(point: TaskPoint, geometry: dict[str, Any]) -> shapely.Geometry:
    parts = geometry["coordinates"] if geometry["type"] == "MultiPolygon" else [geometry["coordinates"]]
    at = point.place.position
    return shapely.union_all(
        [shapely.Polygon(on_the_plane(at, part[0]), [on_the_plane(at, hole) for hole in part[1:]]) for part in parts],
        grid_size=0.001,
    )


def kml_polygons(content: bytes) -> list[dict[str, Any]]:
    """Return the zones of a KML as GeoJSON geometries; none for lines."""
    root = etree.fromstring(content)
    (folder,) = [f for f in root.iter(f"{KML}Folder") if f.findtext(f"{KML}name") == "Zones"]
    found = []
    for mark in folder.iter(f"{KML}Placemark"):
        polygons = []
        for polygon in mark.iter(f"{KML}Polygon"):
            rings = [
                [[float(x) for x in p.split(",")] for p in c.text.split()] for c in polygon.iter(f"{KML}coordinates")
            ]
            polygons.append(rings)
        found.append({"type": "MultiPolygon", "coordinates": polygons})
    return found


@pytest.mark.parametrize("format", ["geojson", "kml"])
def test_zones_are_within_a_metre_of_shapes_computed_apart(format: str) -> None:
    worst, seen = 0.0, 0
    for exported, content in list(zip(tasks(), written(format), strict=True))[::2]:
        if format == "kml":
            geometries = kml_polygons(content)
        else:
            features = json.loads(content)["features"]
            geometries = [f["geometry"] for f in features if f["properties"]["kind"] == "zone"]
        for point, geometry in zip(exported.task.points, geometries, strict=True):
            if point.zone.shape is Shape.LINE:
                continue
            ours, expected = read_zone(point, geometry), expected_shape(point.zone)
            off_m = shapely.hausdorff_distance(ours.boundary, expected.boundary)
            worst, seen = max(worst, off_m), seen + 1
            assert off_m < 1.0, (point.zone.text, point.place.position, off_m)
            assert abs(ours.area - expected.area) < 1.0 * expected.length  # a metre all along the edge
    # A bound that nothing comes near to would prove little.
    assert seen > 300 and worst > 0.3


def test_lines_lie_square_to_the_flight_with_half_their_length_on_each_side() -> None:
    for exported, content in list(zip(tasks(), written("geojson"), strict=True))[::2]:
        features = [f for f in json.loads(content)["features"] if f["properties"]["kind"] == "zone"]
        for point, feature in zip(exported.task.points, features, strict=True):
            if point.zone.shape is not Shape.LINE or feature["geometry"]["type"] != "LineString":
                continue
            at, line = point.place.position, feature["geometry"]["coordinates"]
            for (lon, lat), side in ((line[0], -90.0), (line[-1], 90.0)):
                bearing, _, distance = GEOD.inv(at.longitude_deg, at.latitude_deg, lon, lat)
                assert distance == pytest.approx((point.zone.length_m or 0) / 2, abs=0.02)
                turn = (bearing - (point.zone.axis_deg or 0) - side + 180) % 360 - 180
                assert abs(turn) < 0.01
