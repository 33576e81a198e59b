"""Airspace from GeoJSON, KML and KMZ: what is read, what is said, what is refused; written and read back the same."""

from __future__ import annotations

import io
import json
import random
import zipfile
from pathlib import Path
from typing import Any

import geojson_validator
import pytest
import shapely
from lxml import etree

from taskdb.core.airspace.heights import parse_limit
from taskdb.core.airspace.volume import Kind, Volume, volume_plain
from taskdb.core.model import Position
from taskdb.errors import InputError, TaskdbError, UsageError
from taskdb.formats.known import AIRSPACE_WRITTEN
from taskdb.formats.registry import (
    AirspaceOptions,
    AirspaceReading,
    read_airspace,
    write_airspace,
)
from tests.building import volume_of_plain
from tests.reference.airspaces import as_shape, random_volume

SQUARE = [[10.0, 48.0], [11.0, 48.0], [11.0, 49.0], [10.0, 49.0], [10.0, 48.0]]
HOLE = [[10.2, 48.2], [10.2, 48.4], [10.4, 48.4], [10.4, 48.2], [10.2, 48.2]]


def area(name: str | None = "Moor", rings: Any = None, shape: str = "Polygon", **properties: Any) -> dict[str, Any]:
    own = {"floor": "GND", "ceiling": "FL95", "kind": "restricted", **properties}
    if name is not None:
        own["name"] = name
    geometry = {"type": shape, "coordinates": [SQUARE] if rings is None else rings}
    return {"type": "Feature", "geometry": geometry, "properties": {k: v for k, v in own.items() if v is not ...}}


def read(*features: Any, **options: Any) -> AirspaceReading:
    lines = ",\n".join(json.dumps(feature) for feature in features)
    text = f'{{"type":"FeatureCollection","features":[\n{lines}\n]}}'
    return read_airspace(io.BytesIO(text.encode()), options=AirspaceOptions(**options))


def codes(reading: AirspaceReading) -> list[tuple[int, str]]:
    return [(problem.line, problem.code) for problem in reading.problems]


def test_a_volume_is_read_with_its_limits_and_holes() -> None:
    reading = read(area(rings=[SQUARE, HOLE], times="H24", frequency="123.505"))
    (volume,) = reading.volumes
    assert (volume.name, volume.kind, volume.floor.text, volume.ceiling.text) == (
        "Moor", Kind.RESTRICTED, "GND", "FL095",
    )  # fmt: skip
    assert (volume.times, volume.frequency) == ("H24", "123.505")
    assert as_shape(volume).area == pytest.approx(1 - 0.04)
    assert reading.problems == () and reading.notes == () and reading.mended == ()


def test_multipolygons_collections_and_bare_geometries_are_read() -> None:
    far = [[[x + 5, y] for x, y in SQUARE]]
    many = area("Two", [[SQUARE], far], "MultiPolygon")
    gathered = area("All")
    gathered["geometry"] = {"type": "GeometryCollection", "geometries": [area()["geometry"], {"type": "Point"}]}
    reading = read(many, gathered)
    assert [(volume.name, len(volume.polygons)) for volume in reading.volumes] == [("All", 1), ("Two", 2)]


def test_missing_limits_and_kinds_are_taken_for_granted_and_said() -> None:
    reading = read(area("A", floor=..., ceiling="", kind=None), area("B", kind="military thing"), area("C", floor=None))
    a, b, _ = reading.volumes
    assert (a.floor.text, a.ceiling.text, a.kind, b.kind) == ("GND", "UNL", Kind.OTHER, Kind.OTHER)
    assert reading.notes == (
        "no floor: GND taken (A, C)",
        "no ceiling: UNL taken (A)",
        "no kind: other taken (A)",
        "the kind 'military thing' is not known: other taken (B)",
    )


@pytest.mark.parametrize(
    ("name", "text", "kind"),
    [
        ("kind", "keep-out", Kind.KEEP_OUT), ("kind", "Keep out", Kind.KEEP_OUT), ("type", "R", Kind.RESTRICTED),
        ("type", "D", Kind.DANGER), ("class", "D", Kind.CONTROLLED), ("class", "Class E", Kind.CONTROLLED),
        ("class", "G", Kind.OTHER), ("type", "CTR", Kind.CONTROLLED), ("kind", "class C", Kind.CONTROLLED),
        ("type", "P", Kind.PROHIBITED), ("class", "R", Kind.RESTRICTED),
    ],
)  # fmt: skip
def test_kinds_are_read_by_the_property_that_says_them(name: str, text: str, kind: Kind) -> None:
    (volume,) = read(area(**{"kind": ..., name: text})).volumes
    assert volume.kind is kind


def test_properties_are_named_by_the_user() -> None:
    feature = area(None, floor=..., ceiling=..., Titel="Heide", Unter="1500ft MSL", Ober="FL65")
    reading = read(feature, properties={"name": "Titel", "floor": "unter", "ceiling": "Ober"})
    assert [(v.name, v.floor.text, v.ceiling.text) for v in reading.volumes] == [("Heide", "1500ft MSL", "FL065")]
    assert dict(reading.properties) == {"name": "Titel", "kind": "kind", "floor": "Unter", "ceiling": "Ober"}
    with pytest.raises(InputError, match="No volume of the file has a property 'Name'") as refused:
        read(feature, properties={"name": "Name"})
    assert "Titel" in (refused.value.hint or "")
    with pytest.raises(UsageError, match="nothing that a volume has"):
        read(feature, properties={"colour": "x"})


def test_every_bad_volume_is_told_with_its_name_and_line() -> None:
    reading = read(
        area("Good"),
        area("Open", [SQUARE[:-1]]),
        area("Tie", [[[10, 48], [11, 49], [11, 48], [10, 49], [10, 48]]]),
        area("Axes", [[[y, x + 100] for x, y in SQUARE]]),
        area("Bare", floor=1500, ceiling="4500ft"),
        area(None),
        area("Good"),
        area("Down", floor="FL95", ceiling="FL65"),
        area("Words", [["a", "b"]]),
    )
    assert codes(reading) == [
        (3, "not-closed"), (4, "crosses-itself"), (5, "exchanged-axes"), (6, "missing-unit"), (6, "missing-reference"),
        (7, "no-name"), (8, "repeated-name"), (9, "upside-down"), (10, "bad-position"),
    ]  # fmt: skip
    named = ("Open:", "Tie:", "Axes:", "Bare:", "Bare:", "area 6 has no name", "Good:", "Down:", "Words:")
    for problem, begins in zip(reading.problems, named, strict=True):
        assert problem.message.startswith(begins), problem
    assert [volume.name for volume in reading.volumes] == ["Good"]


def test_repair_mends_and_says_what_it_mended() -> None:
    reading = read(
        area("Open", [SQUARE[:-1]]),
        area("Tie", [[[10, 48], [11, 49], [11, 48], [10, 49], [10, 48]]]),
        area("Open"),
        area("Bare", floor=1500),
        repair=True,
    )
    assert codes(reading) == [(5, "missing-unit")]
    assert [volume.name for volume in reading.volumes] == ["Open", "Open (2)", "Tie"]
    assert reading.mended == (
        "Open: its ring was closed",
        "Tie: its ring crossed or touched itself near latitude 48.50000, longitude 10.50000 "
        "and was parted into 2 polygon(s)",
        "Open: the name stands 2 times, this one became 'Open (2)'",
    )


def test_a_file_that_lies_far_from_the_club_until_it_is_turned_is_refused_or_turned() -> None:
    club = [Position.at(48.5, 10.5), Position.at(48.9, 10.2)]
    turned = area("Moor", [[[y, x] for x, y in SQUARE]])
    assert codes(read(turned)) == []
    assert codes(read(turned, region=club)) == [(2, "exchanged-axes")]
    mended = read(turned, region=club, repair=True)
    assert mended.volumes == read(area("Moor")).volumes
    assert "exchanged in all areas" in mended.mended[0]
    assert codes(read(area("Moor"), region=club)) == []
    # Far away and no nearer when turned: not for us to say.
    assert codes(read(area("Moor", [[[x + 60, y] for x, y in SQUARE]]), region=club)) == []


def test_a_ring_over_the_antimeridian_is_cut_there() -> None:
    over = [[179.5, 50], [-179.5, 50], [-179.5, 51], [179.5, 51], [179.5, 50]]
    assert codes(read(area(rings=[over]))) == [(2, "crosses-antimeridian")]
    (volume,) = read(area(rings=[over]), repair=True).volumes
    assert as_shape(volume).bounds == (-180.0, 50.0, 180.0, 51.0)
    assert as_shape(volume).area == pytest.approx(1.0)


def test_a_ring_round_a_pole_is_closed_at_the_edge_of_the_map() -> None:
    cap = [[-90, 80], [0, 80], [90, 80], [180, 80], [-90, 80]]
    (volume,) = read(area(rings=[cap]), repair=True).volumes
    ground = shapely.union_all(list(as_shape(volume).geoms))
    assert ground.is_valid and ground.area == pytest.approx(3600)
    assert ground.intersects(shapely.Point(33, 89.9))


def kml(body: str) -> bytes:
    return f'<kml xmlns="http://www.opengis.net/kml/2.2"><Document>{body}</Document></kml>'.encode()


def placemark(name: str, *rings: str, data: str = "") -> str:
    inner = "".join(
        f"<{b}BoundaryIs><LinearRing><coordinates>{ring}</coordinates></LinearRing></{b}BoundaryIs>"
        for ring, b in zip(rings, ["outer"] + ["inner"] * 9, strict=False)
    )
    return f"<Placemark><name>{name}</name>{data}<Polygon>{inner}</Polygon></Placemark>"


DATA = (
    '<ExtendedData><Data name="floor"><value>1500ft MSL</value></Data><SchemaData><SimpleData name="kind">danger'
    "</SimpleData></SchemaData></ExtendedData>"
)


def test_kml_polygons_are_read_with_their_extended_data_and_go_the_short_way() -> None:
    over = "179.5,50,0 -179.5,50,0 -179.5,51,0 179.5,51,0 179.5,50,0"
    point = "<Placemark><name>P</name><Point><coordinates>1,2</coordinates></Point></Placemark>"
    content = kml(placemark("Sea", over, data=DATA) + point)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("doc.kml", content)
    for stream in (io.BytesIO(content), packed):
        stream.seek(0)
        reading = read_airspace(stream)
        (volume,) = reading.volumes
        assert (volume.name, volume.kind, volume.floor.text) == ("Sea", Kind.DANGER, "1500ft MSL")
        assert as_shape(volume).bounds == (-180.0, 50.0, 180.0, 51.0)
        assert reading.mended == ()
        assert "1 placemark without a polygon left aside" in reading.notes


def test_a_kml_ring_that_is_no_ring_is_told() -> None:
    reading = read_airspace(io.BytesIO(kml(placemark("X", "10;48 11;48") + placemark("Y", "10,48 11,48"))))
    assert [problem.code for problem in reading.problems] == ["bad-position", "too-few-points"]


# There and back


def _volumes(seed: int) -> tuple[Volume, ...]:
    rng = random.Random(seed)
    limits = ["GND", "1500ft MSL", "800m AGL", "FL095", "9500ft STD", "123.4m MSL"]
    found = []
    for n in range(25):
        longitude = 180 + rng.uniform(-0.3, 0.3) if n % 5 == 0 else rng.uniform(-170, 170)
        ground = random_volume(rng, "x", longitude, rng.uniform(-70, 70), rng.uniform(0.01, 1))
        found.append(
            Volume.of(
                f"V {n:02} <ä&'>", rng.choice(list(Kind)), parse_limit(rng.choice(limits)), parse_limit("UNL"),
                ground.polygons, times=rng.choice([None, "H24"]), frequency=rng.choice([None, "123.505"]),
            )
        )  # fmt: skip
    return tuple(found)


@pytest.mark.parametrize("format", AIRSPACE_WRITTEN)
@pytest.mark.parametrize("seed", range(4))
def test_what_is_written_reads_back_to_the_same_volumes(format: str, seed: int) -> None:
    volumes = _volumes(seed)
    stream = io.BytesIO()
    assert write_airspace(stream, reversed(volumes), format) == ()
    again = read_airspace(io.BytesIO(stream.getvalue()))
    assert again.problems == () and again.mended == () and again.notes == ()
    assert again.volumes == volumes
    other = io.BytesIO()
    write_airspace(other, again.volumes, format)
    assert other.getvalue() == stream.getvalue()


def test_the_json_form_reads_back_to_the_same_volume() -> None:
    for volume in _volumes(9):
        assert volume_of_plain(json.loads(json.dumps(volume_plain(volume)))) == volume


def test_a_polygon_is_the_same_however_it_was_written_down() -> None:
    turned = [SQUARE[2], SQUARE[1], SQUARE[0], SQUARE[3], SQUARE[2]]
    assert read(area(rings=[turned, HOLE[::-1]])).volumes == read(area(rings=[SQUARE, HOLE])).volumes


def test_written_geojson_is_sound_by_an_independent_validator() -> None:
    # RFC 7946 as `geojson-validator` has it: structure, closed rings, winding.
    stream = io.BytesIO()
    write_airspace(stream, _volumes(2), "geojson")
    document = json.loads(stream.getvalue())
    assert geojson_validator.validate_structure(document) == {}
    for feature in document["features"]:
        polygons = feature["geometry"]["coordinates"]
        for polygon in polygons if feature["geometry"]["type"] == "MultiPolygon" else [polygons]:
            assert shapely.LinearRing(polygon[0]).is_ccw
            assert not any(shapely.LinearRing(hole).is_ccw for hole in polygon[1:])


def test_written_kml_is_valid_by_the_published_schema() -> None:
    schema = etree.XMLSchema(etree.parse(Path(__file__).parents[1] / "data" / "kml22-xsd" / "ogckml22.xsd"))
    stream = io.BytesIO()
    write_airspace(stream, _volumes(2), "kml")
    schema.assertValid(etree.fromstring(stream.getvalue()))


# Files made to harm, or by accident

MANY = "[" * 5_000
HOSTILE = {
    "empty": b"",
    "blank": b"  \n",
    "no json": b"{nothing}",
    "cut off": b'{"type":"FeatureCollection","features":[{"type":"Feature"',
    "nests deep": b'{"type":"Feature","geometry":{"type":"Polygon","coordinates":' + MANY.encode(),
    "nests deep and closed": b'{"type":"FeatureCollection","features":' + b"[" * 3_000 + b"]" * 3_000 + b"}",
    "nan": b'{"type":"Polygon","coordinates":[[[NaN,48],[11,48],[11,49],[NaN,48]]]}',
    "endless number": b'{"type":"Polygon","coordinates":[[[' + b"9" * 6_000 + b",48],[11,48],[11,49],[1,48]]]}",
    "infinite": b'{"type":"Polygon","coordinates":[[[1e999,48],[11,48],[11,49],[1e999,48]]]}',
    "another datum": b'{"type":"FeatureCollection","crs":{"properties":{"name":"EPSG:25832"}},"features":[]}',
    "metres": json.dumps(area(rings=[[[x * 60_000, y * 110_000] for x, y in SQUARE]])).encode(),
    "features are no list": b'{"type":"FeatureCollection","features":{"a":1}}',
    "features are numbers": b'{"type":"FeatureCollection","features":[1,2,null,"x"]}',
    "points only": b'{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Point",'
    b'"coordinates":[1,2]},"properties":{}}]}',
    "coordinates are text": json.dumps(area(rings="10,48 11,48")).encode(),
    "coordinates are null": json.dumps(area()).replace(json.dumps([SQUARE]), "null").encode(),
    "coordinates are an object": json.dumps(area(rings=[{"0": 1}])).encode(),
    "rings too flat": json.dumps(area(rings=SQUARE)).encode(),
    "rings too deep": json.dumps(area(rings=[[SQUARE]])).encode(),
    "booleans": json.dumps(area(rings=[[[True, False]] * 4])).encode(),
    "a name of a megabyte": json.dumps(area("x" * 1_000_000)).encode(),
    "half a letter": b'{"type":"Feature","geometry":{"type":"Polygon","coordinates":[]},'
    b'"properties":{"name":"\\ud800"}}',
    "nul bytes": b'{"type":\x00"FeatureCollection"}',
    "lists without end": b'{"type":"Polygon","coordinates":[' + b"[]," * 1_100_000 + b"[]]}",
    "tangled": json.dumps(area(rings=[[[0 if n % 2 else 100, n / 300] for n in range(19_000)]])).encode(),
    "too many points": json.dumps(area(rings=[[[n / 1e4, n % 7] for n in range(25_000)]])).encode(),
    "all on a line": json.dumps(area(rings=[[[n, n] for n in range(20)] + [[0, 0]]])).encode(),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_is_refused_in_words(name: str) -> None:
    try:
        reading = read_airspace(io.BytesIO(HOSTILE[name]), options=AirspaceOptions(format="geojson"))
    except TaskdbError as refused:
        assert refused.message and refused.hint
        assert len(refused.message) < 600
    else:
        assert reading.volumes == ()
        assert reading.problems
        assert all(problem.message and len(problem.message) < 600 for problem in reading.problems)


def test_an_unknown_format_is_refused_with_the_choices() -> None:
    with pytest.raises(UsageError, match="no format from which airspace is read"):
        read_airspace(io.BytesIO(b"a,b\n1,2\n"))
    with pytest.raises(UsageError, match="no format in which airspace is written"):
        write_airspace(io.BytesIO(), (), "gpx")
