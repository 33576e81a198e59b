"""Our files in other programs' hands: published schemas, GDAL, gpxpy; counts, positions and names agree."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import gpxpy
import pyogrio
import pytest
import shapely
from geojson_validator import validate_structure
from lxml import etree

from taskdb.core.model import Feature, Landable, Position, Radio, Runway, Waypoint
from taskdb.formats.known import SUFFIX_OF
from taskdb.formats.registry import ReadOptions, read_set, read_tasks, write_set

DATA = Path(__file__).parent.parent / "data"
GDAL_READS = ("csv", "geojson", "gpx", "kml")

WAYPOINTS = [
    Waypoint(
        f"P{i:03d}",
        ("Übersee <Nord>", "=Quarry", 'O\'Hara "x" & y', "")[i % 4],
        Position.at(-80 + i * 1.6, -179.9999999 + i * 3.59),
        None if i % 3 else 512.5,
        (Landable.AERODROME, None)[i % 2],
        (None, Feature.WATER)[i % 2],
        radio=(Radio("123.505", "launch"),) if i % 2 else (),
        runways=(Runway("07/25", 71.0, 850.0, 30.0, "grass"),) if i % 2 else (),
        extras='{"gpx":{"elements":[["http://www.topografix.com/GPX/1/1","sym",{},"Flag",[]]]}}' if i == 3 else None,
    )
    for i in range(100)
]


def written(format: str) -> bytes:
    stream = io.BytesIO()
    write_set(stream, WAYPOINTS, format, identity=False)
    return stream.getvalue()


def test_gpx_is_valid_against_the_published_schema() -> None:
    # GPX 1.1 schema as published by TopoGrafix.
    etree.XMLSchema(file=str(DATA / "gpx.xsd")).assertValid(etree.fromstring(written("gpx")))


def test_kml_is_valid_against_the_published_schema() -> None:
    # OGC KML 2.2, 07-147r2.
    schema = etree.XMLSchema(file=str(DATA / "kml22-xsd" / "ogckml22.xsd"))
    schema.assertValid(etree.fromstring(written("kml")))


def test_geojson_is_valid_and_within_range() -> None:
    import json

    collection = json.loads(written("geojson"))
    assert validate_structure(collection) == {}
    for feature in collection["features"]:
        longitude, latitude = feature["geometry"]["coordinates"]
        assert -180 <= longitude <= 180 and -90 <= latitude <= 90


@pytest.mark.parametrize("format", GDAL_READS)
def test_gdal_finds_the_same_points(format: str, tmp_path: Path) -> None:
    path = tmp_path / f"set{SUFFIX_OF[format]}"
    path.write_bytes(written(format))
    options: dict[str, str] = {"layer": "waypoints"} if format == "gpx" else {}
    if format == "csv":
        # GDAL takes a CSV for points only where it is told the columns.
        options |= {"X_POSSIBLE_NAMES": "longitude_deg", "Y_POSSIBLE_NAMES": "latitude_deg"}
    meta, _, geometries, columns = pyogrio.raw.read(path, **options)
    points = [shapely.from_wkb(geometry) for geometry in geometries]
    assert len(points) == len(WAYPOINTS)
    for point, waypoint in zip(points, WAYPOINTS, strict=True):
        assert point.x == pytest.approx(waypoint.position.longitude_deg, abs=1e-9)
        assert point.y == pytest.approx(waypoint.position.latitude_deg, abs=1e-9)
    fields = dict(zip([name.lower() for name in meta["fields"]], columns, strict=True))
    codes = fields["name" if format == "gpx" else "code"]
    assert list(codes) == [waypoint.code for waypoint in WAYPOINTS]
    names = fields["desc" if format == "gpx" else "name"]
    shown = [name or "" for name in names]
    expected = [waypoint.name for waypoint in WAYPOINTS]
    if format == "csv":
        shown = [name.removeprefix("'") if name.startswith("'=") else name for name in shown]
    if format == "kml":
        # The label is never empty: where a waypoint has no name it shows its code.
        shown = [name if w.name else "" for name, w in zip(shown, WAYPOINTS, strict=True)]
    assert shown == expected


def test_gpxpy_finds_the_same_points() -> None:
    parsed = gpxpy.parse(written("gpx").decode())
    assert [(w.name, w.latitude, w.longitude, w.elevation) for w in parsed.waypoints] == [
        (w.code, w.position.latitude_deg, w.position.longitude_deg, w.elevation_m) for w in WAYPOINTS
    ]


def test_what_gpxpy_writes_is_read() -> None:
    gpx = gpxpy.gpx.GPX()
    for waypoint in WAYPOINTS:
        p = waypoint.position
        gpx.waypoints.append(
            gpxpy.gpx.GPXWaypoint(p.latitude_deg, p.longitude_deg, waypoint.elevation_m, name=waypoint.code)
        )
    for version in ("1.0", "1.1"):
        reading = read_set(io.BytesIO(gpx.to_xml(version).encode()))
        assert reading.problems == ()
        assert [(r.waypoint.code, r.waypoint.position) for r in reading.records] == [
            (w.code, w.position) for w in WAYPOINTS
        ]


def test_what_gdal_writes_is_read(tmp_path: Path) -> None:
    import numpy as np

    places = shapely.to_wkb(
        shapely.points([w.position.longitude_deg for w in WAYPOINTS], [w.position.latitude_deg for w in WAYPOINTS])
    )
    codes = np.array([w.code for w in WAYPOINTS], dtype=object)
    for driver, suffix, layer in (
        ("GPX", ".gpx", "waypoints"),
        ("KML", ".kml", "x"),
        ("GeoJSON", ".geojson", "x"),
        ("GeoJSONSeq", ".geojsonl", "x"),
    ):
        path = tmp_path / f"out{suffix}"
        pyogrio.raw.write(
            path, places, [codes], ["name"], driver=driver, layer=layer, geometry_type="Point", crs="EPSG:4326"
        )
        with path.open("rb") as stream:
            reading = read_set(stream, options=ReadOptions(codes="name"))
        assert reading.problems == ()
        assert [r.waypoint.code for r in reading.records] == [w.code for w in WAYPOINTS]
        for record, waypoint in zip(reading.records, WAYPOINTS, strict=True):
            assert record.waypoint.position.latitude_deg == pytest.approx(waypoint.position.latitude_deg, abs=1e-6)


@pytest.mark.parametrize(
    ("driver", "suffix", "options"),
    [
        ("GPX", ".gpx", {"layer": "routes"}),
        ("GPX", ".gpx", {"layer": "tracks", "FORCE_GPX_TRACK": "YES"}),
        ("KML", ".kml", {"layer": "x"}),
        ("GeoJSON", ".geojson", {"layer": "x", "promote_to_multi": True}),
        ("GeoJSONSeq", ".geojsonl", {"layer": "x"}),
    ],
)
def test_lines_that_gdal_writes_are_tasks(driver: str, suffix: str, options: dict[str, Any], tmp_path: Path) -> None:
    import numpy as np

    course = [(w.position.longitude_deg, w.position.latitude_deg) for w in (*WAYPOINTS[40:48], WAYPOINTS[40])]
    line: Any = shapely.linestrings(course)
    kind = "LineString"
    options = dict(options)
    if options.pop("promote_to_multi", False):
        line, kind = shapely.multilinestrings([line]), "MultiLineString"
    path = tmp_path / f"out{suffix}"
    names = np.array(["A1"], dtype=object)
    pyogrio.raw.write(
        path, shapely.to_wkb(np.array([line])), [names], ["name"], driver=driver, geometry_type=kind, crs="EPSG:4326",
        **options,
    )  # fmt: skip
    with path.open("rb") as stream:
        (task,) = read_tasks(stream)
    assert task.name == "A1" and task.problems == ()
    for point, (longitude, latitude) in zip(task.points, course, strict=True):
        assert point.position.latitude_deg == pytest.approx(latitude, abs=1e-6)
        assert point.position.longitude_deg == pytest.approx(longitude, abs=1e-6)
