"""What people's spreadsheets look like: languages, delimiters, encodings, units, words; decided, said, or refused."""

from __future__ import annotations

import io

import pytest

from taskdb.core.model import Feature, Landable, Radio, Runway, Waypoint
from taskdb.errors import InputError
from taskdb.formats.registry import write_rejects
from tests.formats.reading import read


def one(text: str | bytes, **options: object) -> Waypoint:
    reading = read(text, **options)
    assert reading.problems == ()
    return reading.records[0].waypoint


GERMAN = "Kürzel;Name;Breite;Länge;Höhe (ft);Land\r\nFALK;Burg Falken;47,26;11,34;1680;AT\r\n"


@pytest.mark.parametrize(
    ("encoding", "said"),
    [
        ("utf-8", "UTF-8"),
        ("utf-8-sig", "UTF-8 with byte order mark"),
        ("utf-16", "UTF-16"),
        ("cp1252", "Windows-1252"),
    ],
)
def test_a_german_table_is_understood_and_what_was_decided_is_said(encoding: str, said: str) -> None:
    reading = read(GERMAN.encode(encoding))
    waypoint = reading.records[0].waypoint
    assert (waypoint.code, waypoint.name, waypoint.country) == ("FALK", "Burg Falken", "AT")
    assert (waypoint.position.latitude_deg, waypoint.position.longitude_deg) == (47.26, 11.34)
    assert waypoint.elevation_m == pytest.approx(1680 * 0.3048, abs=0.05)
    assert waypoint.typed is not None
    assert (waypoint.typed.latitude, waypoint.typed.elevation, waypoint.typed.elevation_unit) == ("47,26", "1680", "ft")
    decided = reading.decided
    assert (decided.encoding, decided.delimiter, decided.notation) == (said, "semicolon", "decimal-degrees")
    assert decided.columns == {
        "code": "Kürzel",
        "name": "Name",
        "latitude_deg": "Breite",
        "longitude_deg": "Länge",
        "elevation_m": "Höhe (ft)",
        "country": "Land",
    }


@pytest.mark.parametrize(
    "header",
    [
        "Sigle\tNom\tLatitude\tLongitude",
        "ident,title,lat,lng",
        "CODE|NAME|LAT|LON",
        "Codice;Nome;Latitudine;Longitudine",
        "code,name,Latitude (°),Longitude [deg]",
        "Längengrad;Breitengrad;Bezeichnung;Kennung",
    ],
)
def test_headers_in_other_languages_and_orders(header: str) -> None:
    delimiter = next(d for d in "\t,|;" if d in header)
    values = {"l": "11.34", "b": "47.26"}
    row = []
    for name in header.split(delimiter):
        key = name.lower()
        longitude = key.startswith(("lon", "lng", "läng"))
        latitude = key.startswith(("lat", "breit"))
        row.append(values["l"] if longitude else values["b"] if latitude else "X1")
    assert one(f"{header}\n{delimiter.join(row)}\n").position.latitude_deg == 47.26


def test_headers_are_overruled_by_what_a_person_says() -> None:
    text = "A,B,C,D\nHOME,Home,11.34,47.26\n"
    told = {"code": "A", "name": "B", "longitude": "C", "lat": "#4"}
    assert one(text, columns=told).position.latitude_deg == 47.26
    assert read(text, columns=told).decided.columns["latitude_deg"] == "D"
    with pytest.raises(InputError) as refused:
        read(text, columns={**told, "name": "E"})
    assert refused.value.code == "no-such-column" and "A, B, C, D" in (refused.value.hint or "")


def test_a_table_without_header_is_read_by_numbers() -> None:
    reading = read("HOME,47.26,11.34\nNEXT,47.3,11.4\n", columns={"code": "#1", "latitude": "#2", "longitude": "#3"})
    assert [r.waypoint.code for r in reading.records] == ["HOME", "NEXT"]
    assert [r.line for r in reading.records] == [1, 2]
    with pytest.raises(InputError) as refused:
        read("HOME,47.26,11.34\n")
    assert refused.value.code == "no-header" and "--column code=#1" in (refused.value.hint or "")


def test_titles_above_the_header_and_a_sep_line_are_left_aside() -> None:
    assert one("Club list 2027\n\ncode,lat,lon\nA,47,11\n").code == "A"
    reading = read("sep=;\ncode;lat;lon\nA;47,5;11\nB;91;11\n")
    assert reading.records[0].waypoint.position.latitude_deg == 47.5
    assert reading.problems[0].line == 4


def test_columns_that_are_not_known_are_named() -> None:
    assert read("code,lat,lon,favourite colour\nA,47,11,red\n").decided.ignored == ("favourite colour",)


@pytest.mark.parametrize(
    ("header", "cell", "metres"),
    [
        ("elevation_m", "512", 512.0),
        ("elev_ft", "1680", 512.1),
        ("Elevation (feet)", "1680", 512.1),
        ("Höhe ü. M. (m)", "512.34", 512.3),
        ("Höhe [m ü. M.]", "512", 512.0),
        ("elev", "512m", 512.0),
        ("elev", "1680 ft", 512.1),
        ("altitude", "1680ft MSL", 512.1),
        ("elevation_ft", "500m", 500.0),
    ],
)
def test_an_elevation_has_its_unit_in_header_or_cell(header: str, cell: str, metres: float) -> None:
    assert one(f"code,lat,lon,{header}\nA,47,11,{cell}\n").elevation_m == pytest.approx(metres, abs=1e-9)


@pytest.mark.parametrize("header", ["elev", "elevation", "Höhe", "Höhe ü. M.", "Altitude AMSL", "alt"])
def test_an_elevation_without_unit_is_refused_with_the_option(header: str) -> None:
    with pytest.raises(InputError) as refused:
        read(f"code,lat,lon,{header}\nA,47,11,500\n")
    assert refused.value.code == "missing-unit"
    assert "--elevation-unit m" in (refused.value.hint or "")


@pytest.mark.parametrize("cell", ["12000", "-600", "1,234", "5 hundred", "500 fathoms"])
def test_an_elevation_that_cannot_be_or_may_be_two_is_a_problem_of_its_row(cell: str) -> None:
    reading = read(f'code,lat,lon,elevation_m\nA,47.5,11.5,"{cell}"\n')
    assert [p.field for p in reading.problems] == ["elevation_m"]


def test_words_for_landability_and_feature_in_several_languages() -> None:
    rows = ["Flugplatz,", "Außenlandefeld,", "not landable,Kirche", "urgence,lac", ",Autobahnkreuz", "NEIN,sommet"]
    text = "code,lat,lon,landable,feature\n" + "".join(f"A{i},47,11,{row}\n" for i, row in enumerate(rows))
    found = [(r.waypoint.landable, r.waypoint.feature) for r in read(text).records]
    assert found == [
        (Landable.AERODROME, None),
        (Landable.FIELD, None),
        (Landable.NO, Feature.STRUCTURE),
        (Landable.EMERGENCY, Feature.WATER),
        (None, Feature.CROSSING),
        (Landable.NO, Feature.RELIEF),
    ]


def test_a_column_of_kinds_gives_both_and_unknown_words_are_kept_and_told() -> None:
    reading = read("code,lat,lon,type,comment\nA,47,11,airfield,\nB,47,11,church,old\nC,47,11,rocket base,new\n")
    a, b, c = (r.waypoint for r in reading.records)
    assert (a.landable, a.feature) == (Landable.AERODROME, None)
    assert (b.landable, b.feature, b.description) == (None, Feature.STRUCTURE, "old")
    assert (c.landable, c.feature, c.description) == (None, None, "new (kind: rocket base)")
    assert any("rocket base" in note for note in reading.decided.notes)


@pytest.mark.parametrize(
    ("cell", "radio"),
    [
        ("123.505 launch; 122.480", (Radio("123.505", "launch"), Radio("122.480"))),
        ("Launch 123.505", (Radio("123.505", "Launch"),)),
        ("123.505 MHz", (Radio("123.505"),)),
        ("123.505 / 122.480", (Radio("123.505"), Radio("122.480"))),
        ("123,505", (Radio("123.505"),)),
        ("ask on the ground", (Radio("ask", "on the ground"),)),
    ],
)
def test_radio_channels_stay_text_with_their_purpose(cell: str, radio: tuple[Radio, ...]) -> None:
    quoted = f'"{cell}"' if ";" in cell else cell
    assert one(f"code;lat;lon;radio\nA;47;11;{quoted}\n").radio == radio


@pytest.mark.parametrize(("cell", "suggested"), [("123.52", "123.525"), ("123.570", "123.575"), ("122.485", None)])
def test_a_channel_that_does_not_exist_is_suggested_and_not_assumed(cell: str, suggested: str | None) -> None:
    # Channel endings of 25 and 8.33 kHz spacing: ICAO Annex 10 Volume V, from memory.
    reading = read(f"code,lat,lon,frequency\nA,47,11,{cell}\n")
    if suggested is None:
        assert reading.problems == ()
    else:
        (problem,) = reading.problems
        assert (problem.code, problem.suggestion) == ("no-such-channel", suggested)


def test_runways_from_one_column_in_common_forms() -> None:
    text = "code;lat;lon;runways\nA;47;11;RWY 07/25, 850 x 30 m, grass\nB;47;11;850\n"
    reading = read(text)
    assert reading.records[0].waypoint.runways == (Runway("07/25", None, 850.0, 30.0, "grass"),)
    assert [(p.line, p.field) for p in reading.problems] == [(3, "runways")]


def test_runways_from_several_columns_keep_designator_and_true_heading_apart() -> None:
    header = "code,lat,lon,rwy_designator,runway heading true,rwy_length_m,surface"
    text = header + "\nA,47,11,7/25,71.5,2789ft,grass\nB,47,11,,,,\n"
    a, b = (r.waypoint for r in read(text).records)
    assert a.runways == (Runway("07/25", 71.5, pytest.approx(850.087, abs=0.001), None, "grass"),)
    assert b.runways == ()


def test_a_bare_heading_is_asked_for_and_a_magnetic_one_makes_no_true_heading() -> None:
    text = "code,lat,lon,rwy direction\nA,47,11,071\nB,47,11,3\n"
    with pytest.raises(InputError) as refused:
        read(text)
    assert refused.value.code == "heading-reference" and "--heading true" in (refused.value.hint or "")
    assert [r.waypoint.runways for r in read(text, heading="true").records] == [
        (Runway(None, 71.0),),
        (Runway(None, 3.0),),
    ]
    # The designator is a tenth of the magnetic azimuth, 0 written as 36: ICAO Annex 14 Volume I, 5.2.2.4.
    assert [r.waypoint.runways for r in read(text, heading="magnetic").records] == [(Runway("07"),), (Runway("36"),)]


def test_a_designator_whose_ends_do_not_fit_is_a_problem() -> None:
    # Opposite ends differ by 18: ICAO Annex 14 Volume I, 5.2.2.4.
    reading = read("code,lat,lon,runway_designator\nA,47,11,07/26\n")
    assert [p.code for p in reading.problems] == ["bad-designator"]


@pytest.mark.parametrize(
    ("cell", "iso"),
    [
        ("2027-05-14", "2027-05-14"),
        ("14.5.2027", "2027-05-14"),
        ("14/05/2027", "2027-05-14"),
        ("05/14/2027", "2027-05-14"),
        ("05/06/2027", None),
        ("31.02.2027", None),
    ],
)
def test_dates_are_read_where_they_can_be_one_day_only(cell: str, iso: str | None) -> None:
    reading = read(f"code,lat,lon,inspected_on\nA,47,11,{cell}\n")
    if iso is None:
        assert [p.field for p in reading.problems] == ["inspected_on"]
    else:
        assert reading.records[0].waypoint.inspected_on == iso


def test_both_coordinates_in_one_column() -> None:
    reading = read("code;coordinates\nA;471536N0112024E\nB;471536N0116024E\n")
    assert reading.decided.notation == "packed-seconds"
    assert reading.records[0].waypoint.position.longitude_deg == 11.34
    assert [(p.line, p.field, p.code) for p in reading.problems] == [(3, "position", "minutes-60")]


def test_a_row_with_its_own_signs_is_read_by_them_and_counted() -> None:
    reading = read(
        "code;lat;lon\nA;4715.6;01120.4\nB;47°15'36\"N;11°20.4'E\nC;4716.6;01121.4\n", notation="packed-minutes"
    )
    assert reading.problems == ()
    assert [r.waypoint.position.latitude_deg for r in reading.records] == [47.26, 47.26, 47.2766667]
    assert "1 row is in another notation than the others and read by their own signs" in reading.decided.notes


@pytest.mark.parametrize(
    ("latitude", "longitude"), [("2.7e-05", "-5e-05"), (".000027", "-.00005"), ("2,7E-05", "-5E-05")]
)
def test_numbers_as_programs_write_them_in_every_format(latitude: str, longitude: str) -> None:
    table = f"code;lat;lon;elevation_m\nA;{latitude};{longitude};5e+02\nB;0.;-.0;512.\n"
    point = latitude.replace(",", ".")
    gpx = (
        f'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="{point}" lon="{longitude}">'
        '<ele>5e+02</ele><name>A</name></wpt><wpt lat="0." lon="-.0"><ele>512.</ele><name>B</name></wpt></gpx>'
    )
    kml = (
        '<kml xmlns="http://www.opengis.net/kml/2.2"><Document>'
        f"<Placemark><name>A</name><Point><coordinates>{longitude},{point}</coordinates></Point></Placemark>"
        "<Placemark><name>B</name><Point><coordinates>-.0,0.</coordinates></Point></Placemark></Document></kml>"
    )
    number = point if point[0] != "." else "0" + point
    other = longitude.replace("-.", "-0.")
    geojson = (
        '{"type":"FeatureCollection","features":['
        f'{{"type":"Feature","geometry":{{"type":"Point","coordinates":[{other},{number}]}},"properties":{{"code":"A"}}}},'
        '{"type":"Feature","geometry":{"type":"Point","coordinates":[-0.0,0]},"properties":{"code":"B"}}]}'
    )
    for text in (table, gpx, kml, geojson):
        reading = read(text)
        assert reading.problems == (), text
        found = [r.waypoint for r in reading.records]
        assert [(w.position.latitude_e7, w.position.longitude_e7) for w in found] == [(270, -500), (0, 0)]
        if text in (table, gpx):
            assert [w.elevation_m for w in found] == [500.0, 512.0]
            assert found[0].typed is None or found[0].typed.elevation_unit in ("m", None)


def test_a_column_of_utm_is_read() -> None:
    reading = read("code;utm\nA;30U 636740 5670509\n")
    assert reading.decided.notation == "utm"
    assert reading.records[0].waypoint.position.latitude_deg == pytest.approx(51.16965, abs=1e-5)


def test_codes_are_made_of_names_or_numbers_only_where_told() -> None:
    text = "name,lat,lon\nBurg Falken,47,11\nSee,47.1,11\n"
    with pytest.raises(InputError) as refused:
        read(text)
    assert refused.value.code == "no-codes" and "--codes name" in (refused.value.hint or "")
    assert [r.waypoint.code for r in read(text, codes="name").records] == ["Burg_Falken", "See"]
    assert [r.waypoint.code for r in read(text, codes="number").records] == ["001", "002"]
    assert [
        r.waypoint.code for r in read(text.replace("lat", "nr,lat").replace(",47", ",x7,47", 1), codes="nr").records
    ][:1] == ["x7"]


def test_a_name_is_never_a_reason_to_reject_a_row() -> None:
    reading = read(b'code,name,lat,lon\nA,"a\x07b\nc",47,11\nB,,47,11\nC,' + b"x" * 500 + b",47,11\n")
    assert [r.waypoint.name for r in reading.records][:2] == ["a b c", ""]
    assert reading.problems == ()


def test_a_text_that_a_spreadsheet_would_run_is_read_as_it_was() -> None:
    assert [r.waypoint.name for r in read("code,name,lat,lon\nA,'=SUM(1),47,11\nB,'n Berg,47,11\n").records] == [
        "=SUM(1)",
        "'n Berg",
    ]


def test_rejected_rows_come_out_in_the_files_own_form_and_import_once_mended() -> None:
    source = "Kürzel;Breite;Länge;Farbe\nA;47,1;11,2;red\nB;97,1;11,2;blue\nA;47,3;11,4;green\nC;47\n"
    reading = read(source)
    stream = io.BytesIO()
    assert write_rejects(stream, reading) == 3
    text = stream.getvalue().decode()
    lines = text.splitlines()
    assert lines[0] == "Kürzel;Breite;Länge;Farbe;reason"
    assert lines[1].startswith("B;97,1;11,2;blue;") and "line 3" in lines[1] and "90" in lines[1]
    assert lines[2].startswith("A;47,3;11,4;green;")
    mended = read(text.replace("97,1", "47,1").replace("C;47;;", "C;47;11;"))
    assert [r.waypoint.code for r in mended.records] == ["B", "A", "C"]
    assert mended.problems == ()
