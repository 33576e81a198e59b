"""Bad rows and files that cannot be used: every problem told with its line, field, text and way out."""

from __future__ import annotations

import pytest

from taskdb.core.model import RowProblem
from taskdb.errors import ExitCode, InputError, UsageError
from taskdb.formats.registry import SetReading
from tests.formats.reading import read


def told(reading: SetReading) -> list[tuple[int, str | None, str]]:
    return [(problem.line, problem.field, problem.code) for problem in reading.problems]


def test_every_problem_of_every_row_is_told_and_the_good_rows_stand() -> None:
    reading = read(
        "code,name,latitude_deg,longitude_deg,elevation_m\n"
        "A,good,47.1,11.2,500\n"
        "B C,blank in code,47.1,11.2,500\n"
        "D,three wrong,99,200,up\n"
        "A,again,47.3,11.4,\n"
        "E,,47.1,,\n"
    )
    assert [record.waypoint.code for record in reading.records] == ["A"]
    assert reading.read == 5
    assert told(reading) == [
        (3, "code", "bad-code"),
        (4, "latitude_deg", "out-of-range"),
        (4, "longitude_deg", "out-of-range"),
        (4, "elevation_m", "bad-number"),
        (5, "code", "repeated-code"),
        (6, "longitude_deg", "missing-value"),
    ]
    assert "line 2" in reading.problems[4].message
    assert reading.problems[1].value == "99"


def test_the_ten_thousandth_bad_row_is_told_too() -> None:
    rows = "".join(f"P{i},x,91,11\n" for i in range(10_000))
    reading = read("code,name,lat,lon\n" + rows)
    assert len(reading.problems) == 10_000
    assert reading.problems[-1].line == 10_001


def test_a_code_repeated_thousands_of_rows_later_names_the_earlier_line() -> None:
    rows = "".join(f"P{i},x,47,11\n" for i in range(9_000)) + "P3,x,47,11\n"
    (problem,) = read("code,name,lat,lon\n" + rows).problems
    assert (problem.line, problem.code) == (9_002, "repeated-code")
    assert "line 5" in problem.message


def test_a_quote_that_is_never_closed_costs_its_row_only() -> None:
    reading = read('code,name,lat,lon\nA,"open,47,11\n' + "".join(f"B{i},x,47,11\n" for i in range(500)))
    assert told(reading) == [(2, None, "bad-quotes")]
    assert len(reading.records) == 500


def test_lines_are_physical_lines_also_behind_a_cell_with_line_breaks() -> None:
    reading = read('code,name,lat,lon,description\nA,x,47,11,"one\ntwo\nthree"\nB,y,91,11,\n')
    assert reading.records[0].waypoint.description == "one two three"
    assert told(reading) == [(5, "latitude_deg", "out-of-range")]


def test_a_row_with_too_few_or_too_many_cells_is_told() -> None:
    reading = read("code,name,lat,lon\nA,x,47\nB,x,y,47,11\nC,x,47,11,,\n")
    assert told(reading) == [(2, None, "cell-count"), (3, None, "cell-count")]
    assert [record.waypoint.code for record in reading.records] == ["C"]


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "empty-file"),
        (b"\r\n\r\n", "empty-file"),
        (b"code,name,lat,lon\n", "empty-file"),
        (b"just a line of words\nand another\n", "no-header"),
        (b"name,lat,lon\nHome,47,11\n", "no-codes"),
        (b"code,name,lat\nA,Home,47\n", "no-position"),
        (b"code,name,lat,lon,elev\nA,Home,47,11,500\n", "missing-unit"),
        (b"code,lat,lat,lon\nA,47,47,11\n", "ambiguous-column"),
        (b"\x00\x01\x02\x03" * 20, "not-text"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_with_the_way_out(content: bytes, code: str) -> None:
    with pytest.raises(InputError) as refused:
        read(content)
    assert refused.value.code == code
    assert refused.value.hint
    assert refused.value.exit_code is ExitCode.INPUT_UNUSABLE


def test_an_unknown_field_or_notation_is_a_matter_of_usage() -> None:
    with pytest.raises(UsageError):
        read("code,lat,lon\nA,1,2\n", columns={"colour": "code"})
    with pytest.raises(UsageError):
        read("code,lat,lon\nA,1,2\n", notation="roman")


def test_an_elevation_without_unit_is_read_once_the_unit_is_told() -> None:
    text = "code,lat,lon,elev\nA,47,11,1000\nB,47.1,11,1000m\n"
    feet = read(text, elevation_unit="ft").records
    assert [record.waypoint.elevation_m for record in feet] == [304.8, 1000.0]
    typed = [record.waypoint.typed for record in feet]
    assert [t.elevation_unit for t in typed if t is not None] == ["ft", "m"]


def test_a_problem_shows_the_text_as_it_stands_in_the_file() -> None:
    problem: RowProblem = read("code;lat;lon\nA;47° 61.0' N;011° 20.4' E\n").problems[0]
    assert problem.value == "47° 61.0' N"
    assert problem.code == "minutes-60"


def test_a_line_break_within_a_code_or_a_coordinate_is_told() -> None:
    reading = read('code,lat,lon\n"A\nB",47,11\nC,"47.5\n11",11\nD,47.5,11\n')
    assert told(reading) == [(2, "code", "bad-code"), (4, "latitude_deg", "bad-coordinate")]
    assert [record.waypoint.code for record in reading.records] == ["D"]


@pytest.mark.parametrize("column", ["runway_length", "runway_width", "elevation"])
def test_a_measure_of_hundreds_of_digits_is_told(column: str) -> None:
    reading = read(f"code,name,lat,lon,{column}\n1,x,48.1,11.2,{'9' * 400}m\n2,y,48.2,11.3,85m\n")
    assert told(reading) == [(2, told(reading)[0][1], "out-of-range")]
