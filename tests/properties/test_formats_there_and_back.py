"""Every format: what is written reads back as the same set, the same bytes every time; no bytes break a reader."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st
from lxml import etree

from taskdb.core.model import Feature, Landable, Position, Radio, Runway, Waypoint
from taskdb.core.names import clean_text, code_problem
from taskdb.errors import TaskdbError
from taskdb.formats.known import SETS_READ, SETS_WRITTEN
from taskdb.formats.registry import ReadOptions, read_set, write_set

# What the store holds is trimmed NFC text without control characters; a format need not hold more.
LETTERS = st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Cn", "Zl", "Zp"])
TEXT = st.one_of(
    st.text(LETTERS, min_size=1, max_size=20).map(clean_text).filter(bool),
    st.sampled_from(
        ["=1+1", "'quoted", "'=x", "-5", "@home", '"', "a,b;c", "<b>&amp;</b>", "]]>", "\\", "07/25", "0123", "ß"]
    ),
)
MAYBE = st.none() | TEXT
CODES = st.one_of(st.from_regex(r"[A-Z0-9]{1,6}", fullmatch=True), TEXT).filter(lambda c: code_problem(c) is None)
SIZES = st.none() | st.integers(0, 99_999_999).map(lambda n: n / 1000)
RUNWAYS = st.builds(
    Runway, MAYBE, st.none() | st.integers(0, 3_599_999).map(lambda n: n / 10_000), SIZES, SIZES, MAYBE, st.booleans()
)
CHANNELS = st.one_of(
    st.sampled_from(["123.505", "122.480", "118.000"]), st.from_regex(r"[A-Z][A-Z0-9]{0,5}", fullmatch=True)
)
WAYPOINTS = st.builds(
    Waypoint,
    code=CODES,
    name=st.just("") | TEXT,
    position=st.builds(
        Position.from_e7, st.integers(-900_000_000, 900_000_000), st.integers(-1_800_000_000, 1_799_999_999)
    ),
    elevation_m=st.none() | st.integers(-5000, 90_000).map(lambda n: n / 10),
    landable=st.none() | st.sampled_from(Landable),
    feature=st.none() | st.sampled_from(Feature),
    country=MAYBE,
    radio=st.lists(
        st.builds(Radio, CHANNELS, st.none() | st.sampled_from(["launch", "tower; west", 'air "x"'])), max_size=2
    ).map(tuple),
    runways=st.lists(RUNWAYS, max_size=2).map(tuple),
    description=MAYBE,
    source=MAYBE,
    inspected_on=st.none() | st.dates().map(lambda d: d.isoformat()),
    identity=st.none() | st.uuids().map(str),
)
SETS = st.lists(WAYPOINTS, min_size=1, max_size=4, unique_by=lambda w: w.code)


def there(waypoints: list[Waypoint], format: str) -> bytes:
    stream = io.BytesIO()
    write_set(stream, waypoints, format, identity=True)
    return stream.getvalue()


@pytest.mark.parametrize("format", sorted(SETS_WRITTEN))
def test_what_is_written_reads_back_as_the_same_set(format: str) -> None:
    @settings(max_examples=150, suppress_health_check=[HealthCheck.too_slow], deadline=None)
    @given(SETS)
    def there_and_back(waypoints: list[Waypoint]) -> None:
        content = there(waypoints, format)
        assert content == there(list(reversed(waypoints)), format)
        reading = read_set(io.BytesIO(content))
        assert reading.problems == ()
        assert reading.decided.format == format
        back = [replace(record.waypoint, typed=None) for record in reading.records]
        ordered = sorted(waypoints, key=lambda w: w.code)
        if write_set(io.BytesIO(), waypoints, format):
            # What a format says that it loses may be lost; where each place is may not.
            assert [(w.code, w.position) for w in back] == [(w.code, w.position) for w in ordered]
        else:
            assert back == ordered

    there_and_back()


SCHEMAS = Path(__file__).parent.parent / "data"


@pytest.mark.parametrize(("format", "schema"), [("gpx", "gpx.xsd"), ("kml", "kml22-xsd/ogckml22.xsd")])
def test_every_set_is_valid_against_the_published_schema(format: str, schema: str) -> None:
    # GPX 1.1 as published by TopoGrafix; OGC KML 2.2, 07-147r2.
    published = etree.XMLSchema(file=str(SCHEMAS / schema))

    @settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(SETS)
    def valid(waypoints: list[Waypoint]) -> None:
        published.assertValid(etree.fromstring(there(waypoints, format)))

    valid()


SEEDS: dict[str, bytes] = {
    name: there(
        [
            Waypoint("A", "Übersee", Position.at(47.26, 11.34), 512.0, radio=(Radio("123.505", "x"),)),
            Waypoint("B", '"', Position.at(-33.9, -70.5), runways=(Runway("07/25", 71.0, 850.0),)),
        ],
        name,
    )
    for name in SETS_WRITTEN
}


@st.composite
def spoilt(draw: Callable[..., int]) -> bytes:
    """A good file with some of its bytes cut out, doubled or changed."""
    content = bytearray(draw(st.sampled_from(sorted(SEEDS.values()))))
    for _ in range(draw(st.integers(1, 4))):
        at, size = draw(st.integers(0, len(content))), draw(st.integers(0, 30))
        piece = draw(
            st.one_of(
                st.binary(max_size=4),
                st.just(bytes(content[at : at + size])),
                st.sampled_from(
                    [
                        b"",
                        b'"',
                        b"<",
                        b"&",
                        b"\x00",
                        b"\xff\xfe",
                        b"1e999",
                        b"NaN",
                        b"[[[[",
                        b"\r",
                        b"\n\n",
                        b",,",
                        b"9" * 5000,
                    ]
                ),
            )
        )
        content[at : at + size] = piece
    return bytes(content)


def only_our_errors(content: bytes, **options: str) -> None:
    try:
        reading = read_set(io.BytesIO(content), options=ReadOptions(**options))  # type: ignore[arg-type]
    except TaskdbError as error:
        assert error.message
        return
    for record in reading.records:
        assert code_problem(record.waypoint.code) is None
        json.dumps([record.waypoint.name, record.waypoint.description]).encode()
    assert (
        reading.read == len(reading.records) + len({p.line for p in reading.problems})
        or reading.decided.format != "csv"
    )


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=300))
def test_no_bytes_break_a_reader(content: bytes) -> None:
    only_our_errors(content)


@settings(max_examples=600, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(spoilt())
def test_no_spoilt_file_breaks_a_reader(content: bytes) -> None:
    only_our_errors(content)


@pytest.mark.parametrize("format", sorted(SETS_READ))
def test_a_file_of_another_format_than_told_is_refused(format: str) -> None:
    @settings(max_examples=60, deadline=None)
    @given(st.one_of(st.sampled_from(sorted(SEEDS.values())), st.binary(max_size=60)))
    def told(content: bytes) -> None:
        only_our_errors(content, format=format)

    told()
