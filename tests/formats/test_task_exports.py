"""Tasks as GPX, GeoJSON and CSV: against the published schema and RFC, cut at the antimeridian, the same every time."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from geojson_validator import validate_structure
from lxml import etree
from shapely.geometry import shape

from taskdb.core.course.axes import resolve_points
from taskdb.core.course.measure import measure_course
from taskdb.core.course.zones import parse_zone
from taskdb.core.geodesy import distance_m
from taskdb.core.model import Place, Position, Role, Task, TaskPoint, TaskType, ZoneFrom
from taskdb.errors import RefusedError, UsageError
from taskdb.formats.known import SUFFIX_OF, TASKS_WRITTEN
from taskdb.formats.registry import ExportedTask, write_task
from tests import building

DATA = Path(__file__).parent.parent / "data"
GPX = "{http://www.topografix.com/GPX/1/1}"


def exported(name: str, stops: list[tuple[Place, str]], kind: TaskType = TaskType.RACING) -> ExportedTask:
    return building.exported(building.task(*stops, type=kind, name=name, on=("region", 3), time_s=10_800))


RACING = exported(
    'Day 1 <A> & "B" \x07',
    [
        (building.place((47.26, 11.34), "HOME", "Übersee", elevation_m=120.0), "line 1km"),
        (building.place((47.9, 11.9), "QUARRY", "=Quarry", elevation_m=120.0), "sector 90deg"),
        (building.place((47.5, 12.6), "CASTLE", "", elevation_m=120.0), "keyhole 500m 90deg 10km"),
        (building.place((47.26, 11.34), "HOME", "Übersee", elevation_m=120.0), "cylinder 3km"),
    ],
)
AREAS = exported(
    "Over the date line",
    [
        (building.place((-17, 179.5), "A", "a", elevation_m=120.0), "line 1km"),
        (building.place((-17.5, 179.95), "B", "b", elevation_m=120.0), "area 5km..30km"),
        (building.place((-18, -179.9), "C", "c", elevation_m=120.0), "area 5km..30km 300..250"),
        (building.place((-17, 179.5), "D", "d", elevation_m=120.0), "line 2km"),
    ],
    TaskType.ASSIGNED_AREA,
)


def text(task: ExportedTask, format: str) -> str:
    stream = io.BytesIO()
    write_task(stream, task, format)
    return stream.getvalue().decode("utf-8")


@pytest.mark.parametrize("task", [RACING, AREAS])
def test_a_gpx_route_is_valid_against_the_published_schema(task: ExportedTask) -> None:
    # GPX 1.1 schema as published by TopoGrafix, kept beside these tests.
    schema = etree.XMLSchema(file=str(DATA / "gpx.xsd"))
    root = etree.fromstring(text(task, "gpx").encode())
    schema.assertValid(root)
    codes = [name.text for name in root.findall(f"{GPX}rte/{GPX}rtept/{GPX}name")]
    assert codes == [p.place.code for p in task.task.points]


def test_a_gpx_point_carries_its_zone_in_our_own_namespace() -> None:
    root = etree.fromstring(text(RACING, "gpx").encode())
    zones = root.findall(f".//{GPX}rtept/{GPX}extensions/{{urn:taskdb:task:1}}zone")
    assert [zone.get("text") for zone in zones] == [p.zone.text for p in RACING.task.points]
    assert zones[2].attrib["core_radius_m"] == "500"
    assert zones[1].get("radius_m") is None


def features(task: ExportedTask, kind: str) -> list[dict[str, Any]]:
    return [f for f in json.loads(text(task, "geojson"))["features"] if f["properties"]["kind"] == kind]


@pytest.mark.parametrize("task", [RACING, AREAS])
def test_geojson_holds_points_legs_and_zones_as_valid_shapes(task: ExportedTask) -> None:
    collection = json.loads(text(task, "geojson"))
    # The structure as geojson-validator, another implementation of RFC 7946, sees it.
    assert validate_structure(collection) == {}
    assert len(features(task, "point")) == len(features(task, "zone")) == len(features(task, "leg")) + 1
    assert all(shape(f["geometry"]).is_valid for f in collection["features"])


def rings(geometry: dict[str, Any]) -> list[list[list[list[float]]]]:
    if geometry["type"] == "Polygon":
        return [geometry["coordinates"]]
    return geometry["coordinates"] if geometry["type"] == "MultiPolygon" else []


@pytest.mark.parametrize("task", [RACING, AREAS])
def test_geojson_rings_are_closed_and_wound_as_the_rfc_asks(task: ExportedTask) -> None:
    # RFC 7946 3.1.6: first = last, at least four positions, exteriors counter-clockwise, holes clockwise.
    seen = 0
    for zone in features(task, "zone"):
        for polygon in rings(zone["geometry"]):
            for i, ring in enumerate(polygon):
                seen += 1
                area = sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(ring))
                assert ring[0] == ring[-1] and len(ring) >= 4
                assert area > 0 if i == 0 else area < 0
                assert all(-180 <= lon <= 180 and -90 <= lat <= 90 for lon, lat in ring)
    assert seen >= 3


def test_what_crosses_the_antimeridian_is_cut_there() -> None:
    # RFC 7946 3.1.9.
    legs = [leg["geometry"]["type"] for leg in features(AREAS, "leg")]
    assert legs == ["LineString", "MultiLineString", "MultiLineString"]
    ring_zone, segment = (zone["geometry"] for zone in features(AREAS, "zone")[1:3])
    assert ring_zone["type"] == segment["type"] == "MultiPolygon"
    # The ring's area is that of the same ring away from the date line: nothing was lost in cutting.
    elsewhere = exported(
        "elsewhere",
        [
            (building.place((-17, 9.5), "A", "a", elevation_m=120.0), "line 1km"),
            (building.place((-17.5, 9.95), "B", "b", elevation_m=120.0), "area 5km..30km"),
            (building.place((-18, 10.1), "C", "c", elevation_m=120.0), "area 5km..30km 300..250"),
            (building.place((-17, 9.5), "D", "d", elevation_m=120.0), "line 2km"),
        ],
        TaskType.ASSIGNED_AREA,
    )
    for here, there in zip(features(AREAS, "zone"), features(elsewhere, "zone"), strict=True):
        assert shape(here["geometry"]).area == pytest.approx(shape(there["geometry"]).area, rel=1e-6)


def test_a_long_leg_follows_the_geodesic_and_crosses_where_it_does() -> None:
    # RFC 7946 3.1.9 draws 45N 170E to 45N 170W as a straight line; the geodesic crosses 180° at 45.440019°N
    # (computed with pyproj and geographiclib alike).
    far = exported(
        "far",
        [
            (building.place((45, 170), "A", "", elevation_m=120.0), "line 1km"),
            (building.place((45, -170), "B", "", elevation_m=120.0), "line 1km"),
        ],
    )
    parts = features(far, "leg")[0]["geometry"]["coordinates"]
    assert len(parts) == 2
    assert parts[0][-1][0] == 180.0 and parts[1][0][0] == -180.0
    assert parts[0][-1][1] == parts[1][0][1] == pytest.approx(45.440019, abs=1e-5)


def test_the_csv_has_one_row_a_point_with_a_zone_that_reads_back() -> None:
    rows = list(csv.DictReader(io.StringIO(text(RACING, "csv"))))
    assert [row["role"] for row in rows] == ["start", "turn", "turn", "finish"]
    assert rows[1]["name"] == "'=Quarry"
    for row, expected in zip(rows, RACING.task.points, strict=True):
        assert parse_zone(row["zone"]).shape is expected.zone.shape
    a, b = RACING.task.points[0].place.position, RACING.task.points[1].place.position
    assert float(rows[1]["leg_m"]) == pytest.approx(distance_m(a, b), abs=0.001)
    assert rows[0]["leg_m"] == ""


@pytest.mark.parametrize("format", sorted(TASKS_WRITTEN))
def test_a_format_is_named_like_the_end_of_its_files(format: str) -> None:
    assert SUFFIX_OF[format] == f".{format}"


def test_an_unknown_format_is_refused_with_the_choices() -> None:
    with pytest.raises(UsageError) as refused:
        write_task(io.BytesIO(), RACING, "doc")
    assert "gpx" in (refused.value.hint or "")


@pytest.mark.parametrize("task", [RACING, AREAS])
def test_kml_is_valid_against_the_published_schema_and_holds_what_geojson_holds(task: ExportedTask) -> None:
    # OGC KML 2.2, 07-147r2, kept beside these tests.
    root = etree.fromstring(text(task, "kml").encode())
    etree.XMLSchema(file=str(DATA / "kml22-xsd" / "ogckml22.xsd")).assertValid(root)
    placemarks = root.findall(".//{http://www.opengis.net/kml/2.2}Placemark")
    assert len(placemarks) == len(features(task, "point")) + len(features(task, "leg")) + len(features(task, "zone"))


def declared() -> ExportedTask:
    """The task of the recorder specification's example, Appendix A (text of 2008), section 9."""

    def place(name: str, north: float, west: float) -> Place:
        return Place(name, name, Position.at(north, -west))

    club = place("Lasham Clubhouse", 51 + 11.359 / 60, 1 + 1.899 / 60)
    start = place("Lasham Start S", 51 + 10.179 / 60, 1 + 2.644 / 60)
    turns = [
        place("Sarnesfield", 52 + 9.092 / 60, 2 + 55.227 / 60),
        place("Norman Cross", 52 + 30.147 / 60, 17.612 / 60),
    ]
    points = resolve_points(
        [
            TaskPoint(start, Role.START, parse_zone("line 1km"), ZoneFrom.OWN),
            *(TaskPoint(turn, Role.TURN, parse_zone("sector 90deg"), ZoneFrom.OWN) for turn in turns),
            TaskPoint(start, Role.FINISH, parse_zone("line 1km"), ZoneFrom.OWN),
        ]
    )
    task = Task("500K Tri", TaskType.DECLARED, points, "region", 1, take_off=club, landing=club)
    return ExportedTask(task, measure_course(task), 1, "X", "2001-07-15T21:38:41Z", "2001-07-16")


def test_a_declaration_is_that_of_the_recorder_specification() -> None:
    # IGC Technical Specification for GNSS Flight Recorders, Appendix A (text of 2008), section 9: dates, times, number,
    # count and digits of the example; the kind of point stands before its name as the format illustration has it.
    lines = text(declared(), "igc").split("\r\n")
    assert lines[0].startswith("A") and lines[1] == "HFDTE160701"
    assert lines[2:] == [
        "C150701213841160701000102 500K Tri",
        "C5111359N00101899WTAKEOFF Lasham Clubhouse",
        "C5110179N00102644WSTART Lasham Start S",
        "C5209092N00255227WTURN Sarnesfield",
        "C5230147N00017612WTURN Norman Cross",
        "C5110179N00102644WFINISH Lasham Start S",
        "C5111359N00101899WLANDING Lasham Clubhouse",
        "",
    ]


def test_a_declaration_holds_its_areas_and_says_nothing_that_is_not_known() -> None:
    lines = text(AREAS, "igc").split("\r\n")
    assert lines[2][:25] == "C000000000000000000000102"
    # 3.6.3: a take-off that is not known is zeros; 3.6.5: kilometres and degrees with three decimals.
    assert lines[3] == "C0000000N00000000ETAKEOFF"
    assert lines[5] == "C1730000S17957000E00050000030000000000360000TURN AREA B b"
    assert lines[6] == "C1800000S17954000W00050000030000300000250000TURN AREA C c"


def test_a_declaration_keeps_to_the_letters_and_the_length_of_its_lines() -> None:
    # 2.1 and section 6: printable ASCII without $ * ! \ ^ ~, at most 76 letters, accents converted.
    long = replace(RACING.task, name="Übersee! *$" + "x" * 100)
    for line in text(replace(RACING, task=long), "igc").split("\r\n"):
        assert len(line) <= 76
        assert not set(line) & set("$*!\\^~") and line.isascii() and (line.isprintable() or not line)
    assert "HOME Ubersee" in text(RACING, "igc")


def test_a_task_of_one_point_cannot_be_declared() -> None:
    task = Task("alone", TaskType.DECLARED, RACING.task.points[:1], "region", 1)
    with pytest.raises(RefusedError):
        text(ExportedTask(task, measure_course(task), 1, "X"), "igc")
