"""Waypoints out of GPX, KML, KMZ and GeoJSON that others made; what is dangerous is refused by name."""

from __future__ import annotations

import io
import json
import zipfile
from dataclasses import replace

import pytest

import taskdb.formats.markup.kml as kmz_module
from taskdb.core.model import Position, Waypoint
from taskdb.errors import InputError, TaskdbError
from taskdb.formats.registry import SetReading, write_set
from tests.formats.reading import read


def codes(reading: SetReading) -> list[str]:
    return [record.waypoint.code for record in reading.records]


GPX_11 = """<?xml version="1.0"?>
<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x">
<wpt lat="47.26" lon="11.34"><ele>512.34</ele><name>FALK</name><desc>the castle</desc><sym>Flag</sym>
  <extensions><q:note xmlns:q="urn:example">keep me</q:note></extensions></wpt>
<wpt lat="47.3" lon="200"><name>FAR</name></wpt>
</gpx>"""


def test_gpx_11_way_points_with_codes_for_names() -> None:
    reading = read(GPX_11)
    (record,) = reading.records
    assert (record.waypoint.code, record.waypoint.elevation_m, record.waypoint.description) == (
        "FALK",
        512.3,
        "the castle",
    )
    assert reading.decided.columns["code"] == "name"
    assert [(p.line, p.field, p.code) for p in reading.problems] == [(5, "longitude_deg", "out-of-range")]
    assert "country" not in record.given


def test_what_gpx_holds_beyond_our_fields_comes_out_again() -> None:
    waypoint = read(GPX_11).records[0].waypoint
    stream = io.BytesIO()
    assert write_set(stream, [waypoint], "gpx") == ()
    text = stream.getvalue().decode()
    assert "<sym>Flag</sym>" in text and "keep me" in text and "urn:example" in text
    again = read(text).records[0].waypoint
    assert again == replace(waypoint, typed=None) and again.extras == waypoint.extras
    assert write_set(io.BytesIO(), [waypoint], "kml") == ("what other formats held beyond our fields",)


def test_gpx_10_with_its_own_namespace_and_links() -> None:
    text = """<gpx xmlns="http://www.topografix.com/GPX/1/0" version="1.0" creator="x">
    <wpt lat="47.26" lon="11.34"><name>A1</name><url>http://example.org/a</url><urlname>more</urlname></wpt></gpx>"""
    reading = read(text)
    assert codes(reading) == ["A1"]
    assert "GPX 1.0" in reading.decided.notes
    stream = io.BytesIO()
    write_set(stream, [r.waypoint for r in reading.records], "gpx")
    assert '<link href="http://example.org/a">' in stream.getvalue().decode()


def test_route_points_are_taken_where_there_are_no_way_points_each_once() -> None:
    point = '<rtept lat="{}" lon="11"><name>{}</name></rtept>'
    route = "".join(point.format(lat, name) for lat, name in [(47, "A"), (48, "B"), (47, "A")])
    reading = read(f'<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1"><rte>{route}</rte></gpx>')
    assert codes(reading) == ["A", "B"]
    assert any("taken once" in note for note in reading.decided.notes)


def test_names_that_are_no_codes_are_refused_with_the_line_to_paste() -> None:
    text = GPX_11.replace("FALK", "Burg Falken")
    with pytest.raises(InputError) as refused:
        read(text)
    assert refused.value.code == "no-codes" and "--codes name" in (refused.value.hint or "")
    assert codes(read(text, codes="name")) == ["Burg_Falken"]


@pytest.mark.parametrize(
    "evil",
    [
        '<!DOCTYPE gpx [<!ENTITY a "b">]><gpx>&a;</gpx>',
        '<!DOCTYPE gpx [<!ENTITY a "b"><!ENTITY c "&a;&a;&a;">]><gpx>&c;</gpx>',
        '<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/passwd">]><gpx>&x;</gpx>',
        '<!DOCTYPE gpx SYSTEM "http://example.org/gpx.dtd"><gpx/>',
        '<!DOCTYPE gpx [<!ENTITY % p SYSTEM "http://example.org/p">%p;]><gpx/>',
    ],
)
def test_entities_and_external_references_are_refused_by_name(evil: str) -> None:
    with pytest.raises(InputError) as refused:
        read(evil, format="gpx")
    assert refused.value.code == "forbidden-xml"
    assert "entity" in refused.value.message or "external reference" in refused.value.message


def test_xml_that_nests_without_end_is_refused() -> None:
    with pytest.raises(InputError) as refused:
        read("<gpx>" + "<a>" * 50_000, format="gpx")
    assert refused.value.code == "forbidden-xml"


KML = """<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.3"><Document><Folder>
<Placemark><name>FALK</name><description><![CDATA[old <b>castle</b>]]></description>
  <ExtendedData><Data name="Elevation (ft)"><value>1680</value></Data>
  <Data name="mood"><value>calm</value></Data></ExtendedData>
  <Point><coordinates> 11.34,47.26,0 </coordinates></Point></Placemark>
<Placemark><name>LIFT</name><Point><altitudeMode>absolute</altitudeMode>
  <coordinates>11.4,47.3,900</coordinates></Point></Placemark>
<Placemark><name>LINE</name><LineString><coordinates>1,2 3,4</coordinates></LineString></Placemark>
</Folder></Document></kml>"""


def test_kml_placemarks_with_their_extended_data() -> None:
    reading = read(KML.replace("<Placemark><name>LIFT", "<Placemark><name>UP"))
    falk = reading.records[0].waypoint
    assert codes(reading) == ["FALK", "UP"]
    assert falk.description == "old <b>castle</b>"
    assert "1 placemark without a point left aside" in reading.decided.notes
    stream = io.BytesIO()
    write_set(stream, [falk], "kml")
    assert '<Data name="mood"><value>calm</value></Data>' in stream.getvalue().decode()


def test_a_kml_altitude_counts_only_where_it_is_above_the_sea() -> None:
    # OGC 07-147r2: altitudeMode clampToGround, the default, ignores the altitude; absolute is above mean sea level.
    plain = KML.replace('<Data name="Elevation (ft)"><value>1680</value></Data>', "").replace("47.26,0", "47.26,700")
    reading = read(plain)
    assert [r.waypoint.elevation_m for r in reading.records] == [None, 900.0]
    assert any("altitude" in note for note in reading.decided.notes)


def kmz(text: str, name: str = "doc.kml") -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("files/readme.txt", "x")
        archive.writestr(name, text)
    return stream.getvalue()


def test_a_kmz_is_unpacked_and_one_that_unpacks_past_the_limit_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    content = kmz(KML)
    assert codes(read(content)) == ["FALK", "LIFT"]
    monkeypatch.setattr(kmz_module, "UNPACKED_LIMIT_BYTES", 100)
    with pytest.raises(InputError) as refused:
        read(content)
    assert refused.value.code == "unpacks-too-large"
    with pytest.raises(InputError):
        read(kmz("x", "letter.txt"))


def feature(code: str | None, place: object, **more: object) -> dict[str, object]:
    properties = {"name": "x", **more} if code is None else {"code": code, "name": "x", **more}
    return {"type": "Feature", "geometry": {"type": "Point", "coordinates": place}, "properties": properties}


def collection(*features: object) -> str:
    return '{"type": "FeatureCollection",\n"features": [\n' + ",\n".join(json.dumps(f) for f in features) + "\n]}\n"


def test_geojson_features_with_the_line_on_which_each_stands() -> None:
    reading = read(collection(feature("A", [11.34, 47.26]), feature("B", [11.34, 97]), feature("A", [1, 2])))
    assert codes(reading) == ["A"]
    assert [(p.line, p.field, p.code) for p in reading.problems] == [
        (4, "latitude_deg", "out-of-range"),
        (5, "code", "repeated-code"),
    ]


@pytest.mark.parametrize("joint", ["\n", "\n\x1e"])
def test_geojson_line_by_line(joint: str) -> None:
    text = joint.join(json.dumps(feature(c, [11, 47])) for c in "ABC")
    reading = read(joint.strip("\n") + text + "\n")
    assert codes(reading) == ["A", "B", "C"]
    assert [r.line for r in reading.records] == [1, 2, 3]


def test_a_third_coordinate_is_kept_aside_and_not_taken_for_an_elevation() -> None:
    # RFC 7946 4: metres above the WGS84 ellipsoid, up to 100 m from those above sea.
    reading = read(collection(feature("A", [11.34, 47.26, 560.0], elevation_m=512.0, mood="calm")))
    waypoint = reading.records[0].waypoint
    assert waypoint.elevation_m == 512.0
    stream = io.BytesIO()
    write_set(stream, [waypoint], "geojson")
    (out,) = json.loads(stream.getvalue())["features"]
    assert out["geometry"]["coordinates"] == [11.34, 47.26, 560.0]
    assert out["properties"]["mood"] == "calm"


def test_features_without_a_place_are_told_and_other_shapes_counted() -> None:
    line = {"type": "Feature", "geometry": {"type": "LineString", "coordinates": [[1, 2], [3, 4]]}, "properties": {}}
    nowhere = {"type": "Feature", "geometry": None, "properties": {"code": "N"}}
    reading = read(collection(feature("A", [1, 2]), line, nowhere, feature("B", [True, 2]), 7))
    assert [(p.line, p.code) for p in reading.problems] == [(6, "bad-position"), (7, "not-a-feature")]
    assert "1 LineString, 1 feature without a place left aside" in reading.decided.notes


def test_another_datum_is_refused() -> None:
    text = collection(feature("A", [1, 2]))
    swiss = text.replace('"features"', '"crs": {"type": "name", "properties": {"name": "EPSG:21781"}},\n"features"')
    with pytest.raises(InputError) as refused:
        read(swiss)
    assert refused.value.code == "other-datum"
    assert codes(read(swiss.replace("EPSG:21781", "urn:ogc:def:crs:OGC:1.3:CRS84"))) == ["A"]


@pytest.mark.parametrize(
    "text",
    [
        '{"type": "FeatureCollection", "features": [',
        "[" * 5000,
        '{"a": NaN}',
        '{"type":"Topology"}',
        "[1,2",
        '{"features"',
    ],
)
def test_json_that_is_none_or_no_geojson_is_refused(text: str) -> None:
    with pytest.raises(TaskdbError) as refused:
        read(text)
    assert refused.value.code in ("bad-json", "no-waypoints")


def test_half_a_surrogate_pair_does_no_harm() -> None:
    reading = read(
        '{"type":"Feature","geometry":{"type":"Point","coordinates":[1,2]},"properties":{"code":"A","name":"\\ud800x"}}'
    )
    assert reading.records[0].waypoint.name.encode("utf-8").endswith(b"x")


@pytest.mark.parametrize("text", ["<html><body/></html>", "<a>", "<"])
def test_other_xml_is_refused(text: str) -> None:
    with pytest.raises(InputError) as refused:
        read(text)
    assert refused.value.code in ("unknown-format", "bad-xml")


def test_each_format_is_told_by_its_content() -> None:
    waypoints = [Waypoint("A", "a", Position.at(47, 11))]
    for name in ("csv", "gpx", "kml", "geojson"):
        stream = io.BytesIO()
        write_set(stream, waypoints, name)
        assert read(stream.getvalue()).decided.format == name
