"""The CSV of a set: written to the byte, and read back as the same set."""

from __future__ import annotations

import io

from taskdb.core.model import Feature, Landable, Position, Radio, Runway, Waypoint
from taskdb.formats.registry import read_set, write_set

HOME = Waypoint(
    code="HOME",
    name="Flugplatz Übersee, Nord",
    position=Position.at(47.26, 11.34),
    elevation_m=512.0,
    landable=Landable.AERODROME,
    country="AT",
    radio=(Radio("123.505", "launch"), Radio("122.480")),
    runways=(Runway("07/25", 71.0, 850.0, 30.0, "grass"), Runway(None, None, 400.0, None, None, True)),
    description='the "big" one',
    source="club survey",
    inspected_on="2027-05-14",
)
QUARRY = Waypoint("0123", "=Quarry", Position.at(-33.9, -179.9999999), -1.5, None, Feature.STRUCTURE)

TEXT = (
    "code,name,latitude_deg,longitude_deg,elevation_m,landable,feature,country,radio,runways,description,source,"
    "inspected_on\r\n"
    "0123,'=Quarry,-33.9000000,-179.9999999,-1.5,,structure,,,,,,\r\n"
    'HOME,"Flugplatz Übersee, Nord",47.2600000,11.3400000,512,aerodrome,,AT,123.505 launch; 122.480,'
    '07/25 071deg 850m x 30m grass; 400m one-way,"the ""big"" one",club survey,2027-05-14\r\n'
)


def written(waypoints: list[Waypoint], *, identity: bool = False) -> bytes:
    stream = io.BytesIO()
    write_set(stream, waypoints, "csv", identity=identity)
    return stream.getvalue()


def test_a_set_is_written_in_order_of_code_with_crlf_and_quotes_only_where_needed() -> None:
    assert written([HOME, QUARRY]).decode("utf-8") == TEXT


def test_reading_our_own_csv_gives_the_same_waypoints() -> None:
    reading = read_set(io.BytesIO(TEXT.encode()))
    assert reading.problems == ()
    assert [record.waypoint for record in reading.records] == [QUARRY, HOME]
    assert [record.line for record in reading.records] == [2, 3]


def test_identities_are_written_where_asked_and_read_back() -> None:
    from dataclasses import replace

    one = replace(HOME, identity="b7c1")
    reading = read_set(io.BytesIO(written([one], identity=True)))
    assert reading.records[0].waypoint.identity == "b7c1"
    assert "identity" in reading.records[0].given


def test_writing_leaves_the_stream_open_and_tells_what_was_lost() -> None:
    from dataclasses import replace

    stream = io.BytesIO()
    lost = write_set(stream, [replace(HOME, extras='{"gpx":{"sym":"Flag"}}')], "csv")
    assert lost == ("what other formats held beyond these fields",)
    assert not stream.closed


def test_a_row_says_which_of_its_given_cells_are_empty() -> None:
    record = read_set(io.BytesIO(TEXT.encode())).records[0]
    assert {"country", "radio", "runways", "landable"} <= record.empty
    assert "feature" not in record.empty
    assert record.given >= {"code", "name", "position", "elevation_m", "radio", "inspected_on"}
