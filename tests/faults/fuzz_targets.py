"""Everything that reads what others wrote or typed, each with inputs that it takes well: what the fuzzer spoils."""

from __future__ import annotations

import contextlib
import io
import json
import random
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import taskdb
from taskdb.core import names, quantities
from taskdb.core.airspace.heights import parse_limit
from taskdb.core.airspace.volume import volume_plain
from taskdb.core.contests.setting_kinds import parse_glide
from taskdb.core.contests.settings import BY_KEY, read_values
from taskdb.core.course.zones import describe_zone, is_zone_text, parse_zone, zone_text
from taskdb.core.facilities import format_radio, format_runways, parse_radio, parse_runways, with_channels
from taskdb.core.flights.plain import flight_plain
from taskdb.core.flights.which_task import read_flown
from taskdb.core.history.patch_reading import read_patch
from taskdb.core.model import Position, Radio, Runway, TaskType, Typed, Waypoint
from taskdb.core.notation import Axis, Notation, looks_like_position, parse_position
from taskdb.core.notation.columns import decide, read_column
from taskdb.core.notation.pairs import format_position
from taskdb.core.waypoint_columns import WaypointColumns
from taskdb.errors import TaskdbError
from taskdb.files.safe_names import safe_name
from taskdb.formats.known import AIRSPACE_READ, AIRSPACE_WRITTEN, SETS_READ, SETS_WRITTEN, TASKS_READ, TASKS_WRITTEN
from taskdb.formats.registry import (
    AirspaceOptions,
    ReadOptions,
    parse_profile,
    read_airspace,
    read_flight,
    read_tasks,
    read_tasks_by_profile,
    write_airspace,
    write_set,
    write_task,
)
from taskdb.formats.waypoints.profile import read_set_by_profile
from taskdb.reference.presets import read_preset
from taskdb.services.references import split_revision
from taskdb.services.waypoints.reading import read_waypoints
from taskdb.store.address import parse_address
from taskdb.store.rows import state_columns, to_json
from tests.building import task, volume_of_plain
from tests.faults.fuzz_files import file_readers
from tests.faults.fuzz_pages import page_readers
from tests.faults.fuzz_store import ROWS, ground, store_readers
from tests.flying import away, log as flight_log, wander
from tests.formats.random_tasks import cleaned, random_tasks

DEMO = Path(__file__).resolve().parents[2] / "demo"
PACKAGE = Path(taskdb.__file__).parent


@dataclass(frozen=True)
class Target:
    """Something that reads: bytes that it takes well, what reads them, and how often it comes for one of the others."""

    name: str
    seeds: tuple[bytes, ...]
    read: Callable[[bytes], Any]
    weight: int = 1


WAYPOINTS = (
    Waypoint(
        "001", "Ormsau", Position.at(48.872, 11.8105), 389.0, radio=(Radio("123.505", "launch"), Radio("122.480")),
        runways=(Runway("07/25", 71.2, 850.0, 30.0, "grass"), Runway(one_way=True)), identity="a" * 32,
        typed=Typed("48 52.320N", "011 48.630E", "degree-minute", 3, "389", "m"), country="DE",
    ),
    Waypoint("-", "Große Linde, \"Süd\"", Position.at(-48.631, -12.326), description="=1+1", source="survey"),
    Waypoint("ß7", "Tannwöhr <b>&", Position.at(0, 179.9999999), -12.5, inspected_on="2026-04-01"),
)  # fmt: skip

TABLES = (
    b"code,name,latitude_deg,longitude_deg,elevation_m\r\n001,Ormsau,48.8720000,11.8105000,389\r\n"
    b"002,Kelmried,48.5610000,11.5220000,467\r\n",
    "Name;Code;Breite;Länge;Höhe (m)\nOrmsau;001;N 48°52,320';E 011°48,630';389\n\"Kel;mried\";002;48 33 39.6 N;11 31 "
    "19.2 E;467\n".encode(),
    b"id\tname\tlat\tlon\telev_ft\n7\tFoo\t4852.320N\t01148.630E\t1276ft\n8\tBar\t4833.660N\t01131.320E\t1532ft\n",
    b"code,name,position,radio,runways,inspected_on,landable\n1,A,32U 123456 5412345,123.505 launch,"
    b"07/25 071deg 850m x 30m grass,2026-04-01,field\n2,B,32U 223456 5312345,,,,no\n",
    "\ufeffcode,name,latitude,longitude\n1,Ä,48°52'19.2\"N,11°48'37.8\"E\n".encode("utf-16"),
    b"code,name,lat,lon,feature,landable,runway_designator,runway_heading_true,runway_length,runway_surface,country\n"
    b"1,x,48.1,11.2,relief,no,,,,,DE\n2,y,48.2,11.3,water,aerodrome,07/25,071,850m,grass,AT\n",
    b"sep=;\ncode;name;lat;lon\n1;x;48,872;11,8105\n",
    "# made by hand\nicao,city,cc,lat,lon\nEDXX,Örtlich,Österreich,5e-05,11.\n# gone\n#EDXY,x,UK,48.1,.5\n".encode(),
    "Kürzel;Breite;;;Länge;;\n;Grad;Min;N/S;Grad;Min;O/W\n1;48;52,32;N;11;48,63;O\n2;48;33,66;N;11;31,32;O\n".encode(),
    b"code,Lat D,Lat M,Lat S,N/S,Lon D,Lon M,Lon S,E/W\n1,48,52,19.2,N,11,48,37.8,E\n2,48,33,39.6,N,11,31,19.2,E\n",
)
KML = (
    b'<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>'
    b"001</name><description>x</description><Point><altitudeMode>absolute</altitudeMode><coordinates>11.8,48.8,"
    b"389</coordinates></Point></Placemark><Placemark><name>Leg</name><LineString><coordinates>1,2 3,4</coordinates>"
    b"</LineString></Placemark></Document></kml>"
)
GPX = (
    b'<?xml version="1.0"?><gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="48.872" '
    b'lon="11.8105"><ele>389</ele><name>001</name><desc>Ormsau</desc></wpt><rte><name>A1</name><rtept lat="48.872" '
    b'lon="11.8105"><name>001</name></rtept><rtept lat="48.561" lon="11.522"><name>002</name></rtept></rte></gpx>'
)
GEOJSON = (
    b'{"type":"FeatureCollection","features":[\n{"type":"Feature","geometry":{"type":"Point","coordinates":[11.8105,'
    b'48.872,1]},"properties":{"code":"001","name":"Ormsau","elevation_m":389,"radio":[{"channel":"123.505"}]}},\n'
    b'{"type":"Feature","geometry":{"type":"LineString","coordinates":[[11.8,48.8],[11.5,48.5]]},"properties":{}}]}'
)
DRAWN = (
    b'<kml xmlns="http://www.opengis.net/kml/2.2"><Folder><name>F</name><Placemark><name>L</name><LineString>'
    b"<coordinates>11.8,48.8,0 11.5,48.5,0 11.8,48.8,0</coordinates></LineString></Placemark><Folder><name>G</name>"
    b'<Placemark><name>Home</name><ExtendedData><Data name="name"><value>x</value></Data></ExtendedData><Point>'
    b"<coordinates>11.8,48.8</coordinates></Point></Placemark><Placemark><name>Q</name><Point><coordinates>11.5,48.5"
    b"</coordinates></Point></Placemark></Folder></Folder></kml>"
)
DRAWN_TRACK = (
    b'<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="5e-05" lon="0."><name>A</name>'
    b'</wpt><trk><name>T</name><trkseg><trkpt lat="5e-05" lon="0."/><trkpt lat="48.561" lon="11.522"><time>x</time>'
    b"</trkpt></trkseg></trk></gpx>"
)
DRAWN_LINES = (
    b'{"type":"GeometryCollection","geometries":[{"type":"MultiLineString","coordinates":[[[11.8,48.8],[11.5,48.5]]]},'
    b'{"type":"MultiPoint","coordinates":[[11.8,48.8]]}]}\n{"type":"Feature","geometry":null,"properties":null}'
    b'{"type":"LineString","coordinates":[[11.8,48.8],[11.5,48.5],[1e1,5e-5]]}'
)
DECLARATION = (
    b"AXXX001\r\nHFDTE140527\r\nC140527083000000000000102Day 1\r\nC0000000N00000000ETAKEOFF\r\n"
    b"C4852320N01148630E001 Ormsau\r\nC4833660N01131320E002 Kelmried\r\nC4903060N01228380E003\r\n"
    b"C4852320N01148630E001 Ormsau\r\nC0000000N00000000ELANDING\r\n"
)
PATCH = {
    "schema": "taskdb.patch/1", "from": "region@1", "to": "region@2",
    "reasons": [{"revision": 2, "at": "2027-05-14T08:30:00Z", "author": "Ann", "note": "x"}],
    "retire": [{"code": "002", "name": "Kelmried", "position": [48.561, 11.522]}],
    "change": [{"waypoint": {"code": "001", "name": "Ormsau", "position": [48.872, 11.8105]},
                "fields": {"name": {"from": "Ormsau", "to": "Ormsau W"}}, "typed": None}],
    "add": [{"code": "003", "name": "Neu", "position": [48.1, 11.1], "radio": [{"channel": "123.505"}]}],
}  # fmt: skip
TEXTS = (
    b"48 52.320N 011 48.630E", b"N48.872 E011.8105", b"-33.9,151.2", b"48\xc2\xb052'19.2\"N 11\xc2\xb048'37.8\"E",
    b"32U 123456 5412345", b"32UPU1234567890", b"4852320N01148630E", b"5km", b"1500ft MSL", b"FL95", b"2h45m", b"3:00",
    b"95km/h", b"240/15kt", b"2027-05-14", b"13:15", b"040deg", b"line 1km", b"sector 90deg 20km bisector",
    b"keyhole 500m 90deg 10km 235", b"area 5km..30km 040..110", b"cylinder 0.5nmi", b"123.505 launch; 122.480 gliders",
    b"07/25 071deg 850m x 30m grass; one-way", b"Z\xc3\xbcrich Stra\xc3\x9fe", b"region@3", b"postgresql://u:p@h/d",
    b"sqlite:////tmp/x.db", b"100%", b"_%'\";--", b"\x1b[31mred\x1b[0m", b"=HYPERLINK(\"x\")", b"<script>x</script>",
    b"../../etc/passwd", b"CON", "\u202eevil".encode(), "n\u0303".encode(), "１２".encode(),
)  # fmt: skip

ANGLES = (b"48 52.320N", b"011 48.630E", b"48\xc2\xb052'19.2\"N", b"E011 48 37.8", b"4852320N", b"48.872")

SETTINGS = (
    b"earth=wgs84", b"start_deduction=less-radius", b"closed_within_m=1km", b"large_from_m=750km",
    b"small_shortest_percent=28", b"start_closes=18:30", b"start_height=1500ft MSL", b"start_speed_kmh=150km/h",
    b"event_wait_s=0:10", b"event_most=3", b"legal_end=sunset", b"units_distance=nmi", b"least_area_ratio=0.5",
)  # fmt: skip


def _text(content: bytes) -> str:
    return content.decode("utf-8", "replace")


def _words(read: Callable[[str], Any]) -> Callable[[bytes], Any]:
    return lambda content: read(_text(content))


def _position(text: str) -> None:
    looks_like_position(text)
    at = parse_position(text)
    for notation in Notation:
        with contextlib.suppress(ValueError):  # UTM ends at 80°S and 84°N
            format_position(at, notation)


def _column(text: str) -> None:
    for axis in Axis:
        cells = [text, text, text]
        columns = (cells, []) if axis is Axis.LATITUDE else ([], cells)
        decision = decide(*columns)
        if read_column(cells, axis, decision, among_many=True) != read_column(cells, axis, decision):
            raise AssertionError("a cell among many is read otherwise than among few")


def _zone(text: str) -> None:
    is_zone_text(text)
    zone = parse_zone(text)
    describe_zone(zone)
    zone_text(zone)


def _quantities(text: str) -> None:
    read = False
    for parse in (
        quantities.parse_distance_m, quantities.parse_height, quantities.parse_duration_s, quantities.parse_speed_kmh,
        quantities.parse_bearing_deg, quantities.parse_wind, quantities.parse_date, quantities.parse_time_of_day,
        quantities.parse_count_or_any, quantities.parse_step, parse_glide,
    ):  # fmt: skip
        with contextlib.suppress(TaskdbError):
            parse(text)
            read = True
    if not read:
        quantities.parse_distance_m(text)


def _names(text: str) -> None:
    names.code_problem(names.clean_text(text))
    names.search_words(text, text)
    if len(safe_name(text).encode()) > 255:
        raise AssertionError("a file name that no file system takes")
    names.require_name(text, what="set")


def _facilities(text: str) -> None:
    format_radio(parse_radio(text))
    format_runways(parse_runways(text))
    if with_channels(with_channels(text)) != with_channels(text):
        raise AssertionError("a channel written anew is written anew again")


def _setting(text: str) -> None:
    key, _, value = text.partition("=")
    for name in (key, *sorted(BY_KEY)[:: max(1, len(BY_KEY) // 4)]):
        with contextlib.suppress(TaskdbError):
            read_values({name: value or text})
    read_values({key: value})


def _set(format: str | None) -> Callable[[bytes], None]:
    def read(content: bytes) -> None:
        reading = read_waypoints(io.BytesIO(content), options=ReadOptions(format=format))
        taken = [record.waypoint for record in reading.records]
        for waypoint in taken:
            reason = names.code_problem(waypoint.code)
            if reason is not None:
                raise AssertionError(f"a code was taken that is none: {reason}")
            for column in state_columns(WaypointColumns.of([waypoint]), ["identity"]):
                for value in column or ():
                    if not isinstance(value, str):
                        continue
                    value.encode()
                    if "\0" in value:
                        raise AssertionError("a NUL was taken, which PostgreSQL refuses")
        for problem in reading.problems:
            to_json([problem.field, problem.value, problem.message])
        if taken and len(taken) == len({one.code for one in taken}):
            for name in SETS_WRITTEN:
                write_set(io.BytesIO(), taken, name)

    return read


def _tasks(format: str | None) -> Callable[[bytes], None]:
    def read(content: bytes) -> None:
        for reading in read_tasks(io.BytesIO(content), format=format):
            repr(reading).encode()

    return read


PROFILE = parse_profile(
    "separator = 'semicolon'\nheader = true\ndecimal = 'comma'\n"
    "[[column]]\nfield = 'name'\n[[column]]\nfield = 'code'\n"
    "[[column]]\nfield = 'latitude'\n[[column]]\nfield = 'longitude'\n[[column]]\nfield = 'elevation'\nunit = 'ft'\n"
)


def _by_profile(content: bytes) -> None:
    read_set_by_profile(io.BytesIO(content), PROFILE, ReadOptions())


TASK_PROFILE = parse_profile(
    "rows = 'task-points'\nheader = false\n[[column]]\nfield = 'task'\n[[column]]\nfield = 'number'\n"
    "[[column]]\nfield = 'code'\n[[column]]\nfield = 'position'\n[[column]]\nfield = 'radius'\nunit = 'km'\n"
)


def _tasks_by_profile(content: bytes) -> None:
    for reading in read_tasks_by_profile(io.BytesIO(content), TASK_PROFILE):
        repr(reading).encode()


def _patch(content: bytes) -> None:
    try:
        document = json.loads(content)
    except (ValueError, RecursionError):
        return
    patch, problems = read_patch(document)
    if (patch is None) != bool(problems):
        raise AssertionError("neither a patch nor a problem")


AREAS = (
    b'{"type":"FeatureCollection","features":[\n{"type":"Feature","geometry":{"type":"Polygon","coordinates":[[[10,48],'
    b'[11,48],[11,49],[10,49],[10,48]],[[10.2,48.2],[10.2,48.4],[10.4,48.4],[10.2,48.2]]]},"properties":{"name":"Moor",'
    b'"class":"D","floor":"1500ft MSL","ceiling":"FL95","times":"H24"}},\n{"type":"Feature","geometry":{"type":'
    b'"MultiPolygon","coordinates":[[[[179.5,50],[-179.5,50],[-179.5,51],[179.5,51],[179.5,50]]]]},"properties":'
    b'{"name":"Sea","kind":"danger"}}]}'
)
DRAWN_AREAS = (
    b'<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>Moor</name><ExtendedData><Data '
    b'name="floor"><value>800m AGL</value></Data></ExtendedData><MultiGeometry><Polygon><outerBoundaryIs>'
    b"<LinearRing><coordinates>10,48,0 11,48,0 11,49,0 10,49,0 10,48,0</coordinates></LinearRing></outerBoundaryIs>"
    b"<innerBoundaryIs><LinearRing><coordinates>10.2,48.2 10.2,48.4 10.4,48.4 10.2,48.2</coordinates></LinearRing>"
    b"</innerBoundaryIs></Polygon></MultiGeometry></Placemark></Document></kml>"
)
AIXM = (
    b'<message:AIXMBasicMessage xmlns:message="http://www.aixm.aero/schema/5.1/message" xmlns:aixm="http://www.aixm.aero/'
    b'schema/5.1" xmlns:gml="http://www.opengis.net/gml/3.2"><message:hasMember><aixm:Airspace><aixm:timeSlice>'
    b"<aixm:AirspaceTimeSlice><aixm:interpretation>BASELINE</aixm:interpretation><aixm:type>D</aixm:type><aixm:name>M"
    b"</aixm:name><aixm:geometryComponent><aixm:AirspaceGeometryComponent><aixm:theAirspaceVolume><aixm:AirspaceVolume>"
    b'<aixm:upperLimit uom="FL">95</aixm:upperLimit><aixm:lowerLimit uom="FT">1500</aixm:lowerLimit>'
    b"<aixm:lowerLimitReference>MSL</aixm:lowerLimitReference><aixm:horizontalProjection><aixm:Surface srsName="
    b'"urn:ogc:def:crs:EPSG::4326"><gml:patches><gml:PolygonPatch><gml:exterior><gml:Ring><gml:curveMember><gml:Curve>'
    b"<gml:segments><gml:GeodesicString><gml:posList>48 10 48 11 49 11 48 10</gml:posList></gml:GeodesicString>"
    b"</gml:segments></gml:Curve></gml:curveMember></gml:Ring></gml:exterior><gml:interior><gml:CircleByCenterPoint>"
    b'<gml:pos>48.4 10.7</gml:pos><gml:radius uom="M">900</gml:radius></gml:CircleByCenterPoint></gml:interior>'
    b"</gml:PolygonPatch></gml:patches></aixm:Surface></aixm:horizontalProjection></aixm:AirspaceVolume>"
    b"</aixm:theAirspaceVolume></aixm:AirspaceGeometryComponent></aixm:geometryComponent></aixm:AirspaceTimeSlice>"
    b"</aixm:timeSlice></aixm:Airspace></message:hasMember></message:AIXMBasicMessage>"
)
LIMITS = (
    b"GND", b"SFC", b"UNL", b"1500ft MSL", b"800m AGL", b"FL95", b"9500ft STD", b"MSL 1500 ft", b"F085", b"A045",
    b"S1130", b"M0840", b"1500", b"1500ft", b"0m AGL",
)  # fmt: skip


def _airspace(format: str | None) -> Callable[[bytes], None]:
    def read(content: bytes) -> None:
        for repair in (False, True):
            options = AirspaceOptions(format=format, repair=repair, region=(Position.at(48.5, 10.5),))
            reading = read_airspace(io.BytesIO(content), options=options)
            for problem in reading.problems:
                to_json([problem.field, problem.value, problem.message])
            for volume in reading.volumes:
                if volume_of_plain(json.loads(json.dumps(volume_plain(volume)))) != volume:
                    raise AssertionError("the JSON form of a volume reads back to another one")
                to_json(volume_plain(volume)).encode()
            for name in AIRSPACE_WRITTEN if reading.volumes else ():
                write_airspace(io.BytesIO(), reading.volumes, name)

    return read


def _kmz(document: bytes) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("doc.kml", document)
    return packed.getvalue()


SET_SEEDS: dict[str, tuple[bytes, ...]] = {
    "csv": TABLES, "tsv": TABLES, "gpx": (GPX, DRAWN_TRACK), "kml": (KML, DRAWN), "kmz": (_kmz(KML), _kmz(DRAWN)),
    "geojson": (GEOJSON, DRAWN_LINES),
}  # fmt: skip
TASK_SEEDS: dict[str, tuple[bytes, ...]] = {
    "igc": (DECLARATION,), "kml": (DRAWN,), "gpx": (DRAWN_TRACK,), "geojson": (GEOJSON, DRAWN_LINES),
}  # fmt: skip
"""What others write. What is written here is added by itself; a format that is only read needs its own here."""


def _set_files(format: str) -> tuple[bytes, ...]:
    if format not in SETS_WRITTEN:
        return ()
    stream = io.BytesIO()
    write_set(stream, WAYPOINTS, format, identity=True)
    return (stream.getvalue(),)


def _task_files(format: str) -> tuple[bytes, ...]:
    found = []
    for exported in random_tasks(6, seed=3) if format in TASKS_WRITTEN else ():
        stream = io.BytesIO()
        write_task(stream, cleaned(exported), format)
        found.append(stream.getvalue())
    return tuple(found)


HOME, NORTH, EAST = (48.0, 11.0), (48.05, 11.0), (48.03, 11.06)
COURSES = (
    task((HOME, "line 1km"), (NORTH, "cylinder 500m"), (EAST, "keyhole 500m 90deg 10km"), (HOME, "cylinder 1km")),
    task(
        (HOME, "cylinder 1km"),
        (NORTH, "area 3km"),
        (EAST, "area 1km..4km 040..300"),
        (HOME, "sector 90deg 3km"),
        type=TaskType.ASSIGNED_AREA,
        time_s=600,
    ),
)
ROUND = wander(random.Random(4), [away(HOME, 210, 1_000), away(HOME, 30, 600), NORTH, EAST, HOME], 10.0)
FLIGHTS = (
    flight_log(ROUND, tail=("LXXXnothing", "G0123456789ABCDEF")),
    flight_log(
        ROUND[::3],
        head=("AXXX001", "HFDTEDATE:311227,01", "I033637LAD3839LOD4040TDS", *DECLARATION.decode().splitlines()[2:]),
    ),
    b"".join(line + b"25507\n" for line in flight_log(ROUND[::2], head=("HFDTE010100",)).splitlines()),
)


def _flight(content: bytes) -> None:
    """A log, held against two courses: what is told is JSON, and the fixes that count go on in time."""
    log = read_flight(io.BytesIO(content))
    if not (log.track.time_s[1:] > log.track.time_s[:-1]).all():
        raise AssertionError("the time of fixes that count does not grow")
    flight = read_flown(log, COURSES)
    to_json(flight_plain(flight, file="1", task=None, ended_near=None))
    if flight.flown is not None and flight.flown.time_s is not None and not flight.flown.time_s > 0:
        raise AssertionError("a finish that is not behind its start")


def targets() -> tuple[Target, ...]:
    """Return everything that reads what others wrote or typed."""
    profiles = tuple(path.read_bytes() for path in sorted((DEMO / "profiles").glob("*.toml")))
    presets = tuple(path.read_bytes() for path in sorted((PACKAGE / "reference" / "presets").glob("*.toml")))
    sets = {name: (*_set_files(name), *SET_SEEDS.get(name, ())) for name in SETS_READ}
    tasks = {name: (*_task_files(name), *TASK_SEEDS.get(name, ())) for name in TASKS_READ}
    tasks["kmz"] = tuple(map(_kmz, tasks["kml"]))
    anything = (*TABLES, KML, GPX, GEOJSON, _kmz(KML), DECLARATION)
    any_task = tuple(content for contents in tasks.values() for content in contents[:3])
    found = [
        Target("position", TEXTS, _words(_position), 60),
        Target("column", ANGLES, _words(_column), 40),
        Target("quantity", TEXTS, _words(_quantities), 60),
        Target("zone", TEXTS, _words(_zone), 60),
        Target("name", TEXTS, _words(_names), 40),
        Target("facilities", TEXTS, _words(_facilities), 40),
        Target("setting", (*SETTINGS, *TEXTS), _words(_setting), 20),
        Target("reference", TEXTS, _words(lambda text: split_revision(text, what="set")), 20),
        Target("address", TEXTS, _words(parse_address), 20),
        Target("patch", (json.dumps(PATCH).encode(),), _patch, 20),
        Target("profile", profiles, _words(parse_profile), 6),
        Target("preset", presets, lambda content: read_preset("x", content), 10),
        Target("set", anything, _set(None), 8),
        Target("tasks", any_task, _tasks(None), 8),
    ]
    found += [Target(f"set {name}", sets[name], _set(name), 8) for name in SETS_READ]
    found += [Target(f"tasks {name}", tasks[name], _tasks(name), 8) for name in TASKS_READ]
    areas = {"geojson": (AREAS, GEOJSON), "kml": (DRAWN_AREAS,), "kmz": (_kmz(DRAWN_AREAS),), "aixm": (AIXM,)}
    found += [
        Target(f"airspace {name}", areas[name], _airspace(name), 4 if name == "aixm" else 8) for name in AIRSPACE_READ
    ]
    found.append(Target("airspace", (AREAS, DRAWN_AREAS, AIXM), _airspace(None), 8))
    found.append(Target("limit", (*LIMITS, *TEXTS), _words(parse_limit), 20))
    found.append(Target("flight", FLIGHTS, _flight, 4))
    found.append(Target("by profile", (TABLES[1], TABLES[5]), _by_profile, 6))
    rows = (b'A,0,1,"48.5, 11.5",1\nB,0,1,"48, 11",5e-1\nA,1,2,"49, 11",\n', b'x,1,"7","48N, 11E",.5\n')
    found.append(Target("tasks by profile", rows, _tasks_by_profile, 6))
    found += [Target(*one) for one in store_readers(any_task, TEXTS)]
    found += [Target(*one) for one in file_readers(ground(), any_task, (ROWS.encode(), *TABLES[:2]), FLIGHTS)]
    found += [Target(*one) for one in page_readers(TEXTS)]
    return tuple(found)
