"""Coordinates whose parts stand in columns of their own: joined and said, or refused with the line that joins them."""

from __future__ import annotations

import io

import pytest

from taskdb.core.model import Position
from taskdb.errors import InputError, TaskdbError, UsageError
from taskdb.formats.registry import write_rejects
from tests.formats.reading import read

HERE = [Position.at(47.26, 11.34), Position.at(48.5, 12.0875)]
SOUTH = [Position.at(-33.9, 151.2083333), Position.at(-0.5, -70.2541667)]


def places(text: str, **options: object) -> list[Position]:
    reading = read(text, **options)
    assert reading.problems == (), reading.problems
    return [record.waypoint.position for record in reading.records]


# As people split them in office programs; every sheet says the places of HERE.
SHEETS = {
    "German, semicolons, decimal comma, O/W": "Kürzel;Name;Breite Grad;Breite Min;N/S;Länge Grad;Länge Min;O/W\n"
    "A;Alm;47;15,6;N;11;20,4;O\nB;Berg;48;30;N;12;5,25;O\n",
    "seconds under single letters, pipes": "ID|Lat D|Lat M|Lat S|Lon D|Lon M|Lon S\n"
    "A|47|15|36|11|20|24\nB|48|30|0|12|5|15\n",
    "run together with a hemisphere": "Code,LatDeg,LatMin,LatHem,LonDeg,LonMin,LonHem\n"
    "A,47,15.600,N,011,20.400,E\nB,48,30.000,N,012,05.250,E\n",
    "signs in the headers": "Code,Lat °,Lat ',Lat \"\",Lon °,Lon ',Lon \"\"\nA,47,15,36,11,20,24\nB,48,30,0,12,5,15\n",
    "typographic signs": "Code;Breite °;Breite ′;Länge °;Länge ′\nA;47;15,6;11;20,4\nB;48;30;12;5,25\n",
    "the axis named once": "Code;Lat;min;N/S;Lon;min;E/W\nA;47;15,6;N;11;20,4;E\nB;48;30;N;12;5,25;E\n",
    "no axis named, hemispheres behind": "Code\tdeg\tmin\tN/S\tdeg\tmin\tE/W\nA\t47\t15.6\tN\t11\t20.4\tE\n"
    "B\t48\t30\tN\t12\t5.25\tE\n",
    "no axis named, hemispheres before": "Code;N/S;Grad;Min;E/W;Grad;Min\nA;N;47;15,6;E;11;20,4\nB;N;48;30;E;12;5,25\n",
    "merged cells, nothing below": "Code,Latitude,,,Longitude,,\nA,47,15.6,N,11,20.4,E\nB,48,30,N,12,5.25,E\n",
    "merged cells over parts": ",,Breite,,Länge,,\nKürzel,Name,Grad,Min,Grad,Min,Höhe m\n"
    "A,Alm,47,15.6,11,20.4,1500\nB,Berg,48,30,12,5.25,900\n",
    "a units row": "Code;Lat;;Lon;;Elevation\n-;°;';°;';m\nA;47;15,6;11;20,4;500\nB;48;30;12;5,25;900\n",
    "N and E as the headings": "Code;N °;N ';E °;E '\nA;47;15,6;11;20,4\nB;48;30;12;5,25\n",
    "Degrees N": "Code,Degrees N,Minutes N,Degrees E,Minutes E\nA,47,15.6,11,20.4\nB,48,30,12,5.25\n",
    "a blank first column and a title": "Club 2027\n\n,Code,Lat,Min,Lon,Min\n,A,47,15.6,11,20.4\n,B,48,30,12,5.25\n",
    "Polish": "Kod;Nazwa;Szerokość stopnie;Szerokość minuty;Długość stopnie;Długość minuty\n"
    "A;Alm;47;15,6;11;20,4\nB;Berg;48;30;12;5,25\n",
    "French": "Sigle;Nom;Latitude degrés;Latitude minutes;N/S;Longitude degrés;Longitude minutes;E/O\n"
    "A;Alm;47;15,6;N;11;20,4;E\nB;Berg;48;30;N;12;5,25;E\n",
    "Italian with signs in the cells": "Codice;Lat gradi;Lat primi;Long gradi;Long primi\n"
    "A;47°;15,6';11°;20,4'\nB;48°;30';12°;5,25'\n",
    "degrees first, then minutes": "Code,lat_deg,lon_deg,lat_min,lon_min\nA,47,11,15.6,20.4\nB,48,12,30,5.25\n",
    "longitude first": "Code;Länge Grad;Länge Min;Breite Grad;Breite Min\nA;11;20,4;47;15,6\nB;12;5,25;48;30\n",
    "numbers as a program of tables writes them": "code,lat_deg,lat_min,lat_sec,lon_deg,lon_min,lon_sec\n"
    "A,47.0,15.0,36.0,11.0,20.0,24.0\nB,48.0,30.0,0.0,12.0,5.0,15.0\n",
    "the same name three times": "Code,Lat,Lat.1,Lat.2,Lon,Lon.1,Lon.2\nA,47,15.6,N,11,20.4,E\nB,48,30,N,12,5.25,E\n",
    "a letter in the degrees": "Code;Lat;Min;Lon;Min\nA;N47;15,6;E11;20,4\nB;N48;30;E12;5,25\n",
    "decimal degrees beside, and the same": "Code,Latitude,Longitude,Lat D,Lat M,Lon D,Lon M\n"
    "A,47.26,11.34,47,15.6,11,20.4\nB,48.5,12.0875,48,30,12,5.25\n",
    "packed digits and a letter": "Code,lat,ns,lon,ew\nA,4715.600,N,01120.400,E\nB,4830.000,N,01205.250,E\n",
    "a running number": "N°;Code;Lat °;Lat ';Lon °;Lon '\n1;A;47;15,6;11;20,4\n2;B;48;30;12;5,25\n",
}  # fmt: skip


@pytest.mark.parametrize("name", SHEETS)
def test_sheets_as_people_split_them_come_in_right(name: str) -> None:
    text = SHEETS[name].replace('""', '"') if '""' in SHEETS[name] and "\t" in SHEETS[name] else SHEETS[name]
    text = text.replace('Lat ""', '"Lat """').replace('Lon ""', '"Lon """')
    assert places(text) == HERE


@pytest.mark.parametrize(
    "text",
    [
        "Code,Lat °,Lat ',N/S,Lon °,Lon ',E/W\nA,33,54,S,151,12.5,E\nB,0,30,S,70,15.25,W\n",
        "Code,Lat °,Lat ',Lon °,Lon '\nA,-33,54,151,12.5\nB,-0,30,-70,15.25\n",
        "Code,Lat °,Lat ',Lon °,Lon '\nA,-33,-54,151,12.5\nB,0,-30,-70,-15.25\n",
        "Code,Lat,Lon,N/S,E/W\nA,33.9,151.2083333,S,E\nB,0.5,70.2541667,S,W\n",
        "Code,Lat,N/S,Lon,E/W\nA,-33.9,S,151.2083333,E\nB,-0.5,S,-70.2541667,W\n",
        "Code,NS,Lat °,Lat ',EW,Lon °,Lon '\nA,south,33,54,east,151,12.5\nB,South,0,30,West,70,15.25\n",
    ],
)
def test_the_southern_and_western_half(text: str) -> None:
    assert places(text) == SOUTH


def test_what_was_joined_is_said_and_kept_as_typed() -> None:
    reading = read(SHEETS["German, semicolons, decimal comma, O/W"])
    decided = reading.decided
    assert decided.columns["latitude_deg"] == "Breite Grad+Breite Min+N/S"
    assert decided.joined["longitude_deg"] == ("Länge Grad", "Länge Min", "O/W")
    assert (
        "latitude_deg joined from 'Breite Grad' (degrees), 'Breite Min' (minutes) and 'N/S' (hemisphere)"
        in decided.notes
    )
    assert decided.ignored == ()
    typed = reading.records[0].waypoint.typed
    assert typed is not None
    assert (typed.latitude, typed.longitude, typed.decimals) == ("47°15,6′N", "11°20,4′O", 1)


SPLIT = "Code,Lat °,Lat ',N/S,Lon °,Lon ',E/W\nA,33,54,S,151,12.5,E\nB,0,30,S,70,15.25,W\n"


@pytest.mark.parametrize(
    ("latitude", "longitude"),
    [
        ("Lat °+Lat '+N/S", "Lon °+Lon '+E/W"),
        ("N/S + Lat ° + Lat '", "#7+#5+#6"),
        ("#2+#3+#4", "lon °+lon '+e/w"),
        ("Lat '+Lat °+N/S", "Lon °+Lon '+E/W"),
    ],
)
def test_a_person_joins_columns_with_a_plus(latitude: str, longitude: str) -> None:
    text = SPLIT.replace("N/S", "N/S").replace("Code", "Code")
    assert places(text, columns={"latitude_deg": latitude, "longitude": longitude}) == SOUTH


def test_a_header_with_a_plus_is_named_as_it_is() -> None:
    text = "Code,a+b,c,d+e\nA,47.26,x,11.34\n"
    assert places(text, columns={"latitude": "a+b", "longitude": "d+e"}) == HERE[:1]
    split = "Code,a+b,c,d+e,f\nA,47,15.6,11,20.4\n"
    assert places(split, columns={"latitude": "a+b+c", "longitude": "d+e+f"}) == HERE[:1]
    with pytest.raises(InputError) as refused:
        read("Code,a+b,c,a,b+c\nA,47,15.6,11,20.4\n", columns={"latitude": "a+b+c", "longitude": "c"})
    assert refused.value.code == "ambiguous-column"


def test_a_position_is_joined_of_several_columns_too() -> None:
    text = "Code,Zone,Easting,Northing\nA,32T,677007,5236726\n"
    (place,) = places(text, columns={"position": "Zone+Easting+Northing"})
    assert place.latitude_deg == pytest.approx(47.26, abs=1e-3)


@pytest.mark.parametrize(
    ("columns", "code"),
    [
        ({"latitude_deg": "Lat °+Lat '+nothing"}, "no-such-column"),
        ({"latitude_deg": "Lat °+N/S+E/W"}, "bad-join"),
        ({"name": "Lat °+Lat '"}, "bad-join"),
    ],
)
def test_a_join_that_cannot_be_is_refused(columns: dict[str, str], code: str) -> None:
    with pytest.raises(TaskdbError) as refused:
        read(SPLIT, columns=columns)
    assert refused.value.code == code
    assert isinstance(refused.value, InputError | UsageError)


def test_a_name_that_several_columns_have_is_refused_with_their_numbers() -> None:
    with pytest.raises(InputError) as refused:
        read("Code,Lat,min,Lon,min\nA,47,15.6,11,20.4\n", columns={"latitude": "Lat+min", "longitude": "Lon+min"})
    assert "#3, #5" in refused.value.message


# Each of these came in on whole degrees, on the wrong side, or as another place.
LEFT_ASIDE = {
    "minutes under names that say nothing": "Code,Lat,a,Lon,b\nA,47,15.6,11,20.4\n",
    "letters under names that say nothing": "Code,Lat,a,Lon,b\nA,33.9,S,151.2,E\n",
    "a direction that may be a runway's": "Code,Lat,Lon,dir\nA,47.5,11.5,W\n",
    "one axis only": "Code,Lat,min,Lon\nA,47,15.6,11\n",
    "seconds behind signs": 'Code,Lat,sec,Lon,sec\nA,"47°15\'",36,"11°20\'",24\n',
    "thousandths of a minute": "Code,Lat,Lat min,Lat 1/1000,Lon,Lon min,Lon 1/1000\nA,47,15,600,11,20,400\n",
    "minutes far from the degrees": "Code,Lat,Lon,Name,a,b\nA,47,11,Alm,15.6,20.4\n",
    "letters far from the degrees": "Code,Lat,Lon,Name,a,b\nA,47.5,11.5,Alm,N,E\nB,33.9,70.2,Berg,S,W\n",
    "hemispheres as numbers": "Code,Lat,N/S,Lon,E/W\nA,33.9,-1,151.2,1\n",
    "signs in a column": "Code,sign,Lat,sign,Lon\nA,-,33.9,+,151.2\n",
}


@pytest.mark.parametrize("name", LEFT_ASIDE)
def test_a_column_that_looks_like_a_part_is_never_left_aside_in_silence(name: str) -> None:
    with pytest.raises(InputError) as refused:
        read(LEFT_ASIDE[name])
    assert refused.value.code == "split-coordinates"
    assert "aside" in refused.value.details


def test_the_degrees_named_alone_are_refused_with_the_line_that_joins() -> None:
    with pytest.raises(InputError) as refused:
        read(SPLIT, columns={"latitude_deg": "Lat °", "longitude_deg": "Lon °"})
    (way,) = refused.value.details["ways"]
    assert way == ["--column", "latitude_deg=Lat °+Lat '+N/S", "--column", "longitude_deg=Lon °+Lon '+E/W"]


def test_a_column_is_left_aside_where_a_person_says_so() -> None:
    text = "Code,Lat,Lon,count\nA,47,11,3\nB,48,12,4\n"
    with pytest.raises(InputError):
        read(text)
    reading = read(text, columns={"aside": "count"})
    assert [record.waypoint.position for record in reading.records] == [Position.at(47, 11), Position.at(48, 12)]


def test_numbers_beside_coordinates_with_decimals_are_no_parts() -> None:
    assert places("Code,Lat,Lon,count\nA,47.26,11.34,3\n") == HERE[:1]


@pytest.mark.parametrize(
    ("text", "way"),
    [
        ("Code,deg,min,deg,min\nA,47,15.6,11,20.4\n", ["#2+#3", "#4+#5"]),
        ("Code,Lat,Lon,Name,a,b\nA,47,11,Alm,15.6,20.4\n", ["Lat+a", "Lon+b"]),
        ("Code,Lat,Lon,min,min\nA,47,11,15.6,20.4\n", ["Lat+#4", "Lon+#5"]),
        ("Code,Lat,Lat,Lon,Lon\nA,47,15.6,11,20.4\n", ["#2+#3", "#4+#5"]),
        ("Code,Lat,M,a,Lon,M,b\nA,47,15.6,N,11,20.4,E\n", ["Lat+#3+a", "Lon+#6+b"]),
    ],
)
def test_what_is_open_is_refused_with_a_line_that_brings_it_in_right(text: str, way: list[str]) -> None:
    with pytest.raises(InputError) as refused:
        read(text)
    told = refused.value.details["ways"][0]
    assert told == ["--column", f"latitude_deg={way[0]}", "--column", f"longitude_deg={way[1]}"]
    assert places(text, columns={"latitude_deg": way[0], "longitude_deg": way[1]}) == HERE[:1]


@pytest.mark.parametrize(
    "text",
    [
        "A,Alm hut,47,15.6,N,11,20.4,E\nB,Berg,48,30,N,12,5.25,E\n",
        "A,1500,47,15,36,11,20,24\nB,900,48,30,0,12,5,15\n",
        "A,N,47.26,E,11.34\nB,N,48.5,E,12.0875\n",
        "Code;Zem. šířka st;šířka min;Zem. délka st;délka min\nA;47;15,6;11;20,4\nB;48;30;12;5,25\n",
    ],
)
def test_without_known_headers_the_refusal_guesses_a_line_by_the_cells(text: str) -> None:
    with pytest.raises(InputError) as refused:
        read(text)
    way = refused.value.details["ways"][0]
    assert places(text, columns=dict(word.split("=", 1) for word in way[1::2])) == HERE


def test_two_forms_of_one_coordinate_that_differ_are_refused_with_both() -> None:
    text = "Code,Latitude,Longitude,Lat D,Lat M,Lon D,Lon M\nA,47.36,11.34,47,15.6,11,20.4\n"
    with pytest.raises(InputError) as refused:
        read(text)
    assert "47.36 and 47 15.6" in refused.value.message
    assert len(refused.value.details["ways"]) == 2


def test_minutes_that_begin_late_in_the_file_are_told() -> None:
    early = "".join(f"A{i},47.1,11.2,\n" for i in range(600))
    reading = read(f"Code,Lat,Lon,Lat min\n{early}B,47,11,15.6\n")
    assert [(p.line, p.code) for p in reading.problems] == [(602, "split-coordinates")]


def test_a_minus_sign_under_a_header_that_names_a_side_is_a_problem() -> None:
    late = "".join(f"A{i},47.1,3.2\n" for i in range(600))
    reading = read(f"Code,Lat,Lon W\n{late}B,47.1,-3.2\n")
    assert [(p.line, p.code) for p in reading.problems] == [(602, "bad-sign")]


def test_a_side_in_the_header_holds_for_its_column() -> None:
    reading = read("Code,Latitude,Longitude W\nA,47.5,3.25\n")
    assert reading.records[0].waypoint.position == Position.at(47.5, -3.25)
    assert "longitude_deg: W in every row, as the header 'Longitude W' says" in reading.decided.notes


@pytest.mark.parametrize("header", ["Lat rad,Lon rad", "Lat (ED50),Lon (ED50)", "Lat (DD.MM),Lon (DD.MM)", "N,E"])
def test_headers_that_say_something_else_are_no_coordinates(header: str) -> None:
    cells = "5236726,677007" if header == "N,E" else "47.15,11.20"
    with pytest.raises(InputError) as refused:
        read(f"Code,Name,{header}\nA,x,{cells}\n")
    assert refused.value.code == "no-position"


def test_decimals_under_dms_are_asked_about() -> None:
    text = "Code,Lat (DMS),Lon (DMS)\nA,47.1536,11.2024\n"
    with pytest.raises(InputError) as refused:
        read(text)
    assert refused.value.code == "other-notation"
    assert places(text, notation="decimal-degrees") == [Position.at(47.1536, 11.2024)]


@pytest.mark.parametrize(
    ("cells", "problem"),
    [
        ("47,,N,11,20.4,E", "missing-part"),
        ("47,15.6,,11,20.4,E", "missing-part"),
        ("47.5,15.6,N,11,20.4,E", "bad-part"),
        ("47,60,N,11,20.4,E", "minutes-60"),
        ("47,-15.6,N,11,20.4,E", "bad-sign"),
        ("-47,15.6,N,11,20.4,E", "bad-sign"),
        ("47,15.6,E,11,20.4,E", "bad-hemisphere"),
        ("47,15.6,x,11,20.4,E", "bad-hemisphere"),
        ("97,15.6,N,11,20.4,E", "out-of-range"),
        ("47,1 5.6,N,11,20.4,E", "bad-part"),
        ("S47,15.6,N,11,20.4,E", "bad-sign"),
        ('47,15",N,11,20.4,E', "bad-part"),
        (",,,11,20.4,E", "missing-value"),
    ],
)
def test_a_spoilt_part_is_a_problem_of_its_row(cells: str, problem: str) -> None:
    quoted = cells.replace('15"', '"15"""')
    good = "".join(f"G{i},47,15.6,N,11,20.4,E\n" for i in range(5))
    reading = read(f"Code,Lat °,Lat ',N/S,Lon °,Lon ',E/W\n{good}A,{quoted}\n")
    assert [(p.line, p.field, p.code) for p in reading.problems] == [(7, "latitude_deg", problem)]
    assert len(reading.records) == 5


def test_minutes_with_decimals_before_seconds_are_no_minutes() -> None:
    reading = read("Code,Lat D,Lat M,Lat S,Lon D,Lon M,Lon S\n" + "".join(
        f"G{i},47,{minutes},36,11,20,24\n" for i, minutes in enumerate(("15", "15", "15", "15.5"))))  # fmt: skip
    assert [(p.line, p.code) for p in reading.problems] == [(5, "bad-part")]


def test_rejected_rows_of_joined_columns_stay_in_their_columns() -> None:
    reading = read(SPLIT + "C,33,99,S,151,12.5,E\n")
    stream = io.BytesIO()
    write_rejects(stream, reading)
    header, row = stream.getvalue().decode().splitlines()
    assert header == "Code,Lat °,Lat ',N/S,Lon °,Lon ',E/W,reason"
    assert row.startswith("C,33,99,S,151,12.5,E,")


def test_o_and_w_over_a_column_say_that_o_is_east_and_e_and_o_that_it_is_west() -> None:
    german = "Code;Breite Grad;Breite Min;N/S;Länge Grad;Länge Min;{}\nA;47;15,6;N;11;20,4;O\n"
    assert places(german.format("O/W")) == HERE[:1]
    assert places(german.format("E/O")) == [Position.at(47.26, -11.34)]
    with pytest.raises(InputError) as refused:
        read(german.format("Richtung"))
    assert refused.value.code in ("ambiguous-letter", "split-coordinates")


def test_decimal_commas_without_quotes_are_told_and_not_read_as_whole_degrees() -> None:
    # Two cells more than the header, and the last two empty: 47,26 and 11,34 moved everything behind them.
    text = "code,name,lat,lon,elevation_m,description\nA,Home,47,26,11,34,,\nB,Next,48,26,12,34,,\n"
    assert [(p.line, p.code) for p in read(text).problems] == [(2, "cell-count"), (3, "cell-count")]


@pytest.mark.parametrize("cells", ["4715.600,01120.400", "471536,0112024"])
def test_bare_digits_are_refused_with_the_notations_that_they_fit(cells: str) -> None:
    text = f"Code,Lat,Lon\nA,{cells}\n"
    with pytest.raises(InputError) as refused:
        read(text)
    assert refused.value.code == "ambiguous-notation"
    ((_, notation),) = refused.value.details["ways"]
    assert places(text, notation=notation) == HERE[:1]


def test_digits_that_lost_their_point_are_refused_without_a_notation_to_paste() -> None:
    # A German office program takes the point of 47.26123 for a mark of thousands.
    with pytest.raises(InputError) as refused:
        read("Code;Lat;Lon\nA;4726123;1134256\nB;4814250;1212345\n")
    assert refused.value.details["ways"] == []
