"""Files of another kind, as large as they may be, are refused as soon as that is known, and in words."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any, BinaryIO

import pytest

from taskdb.errors import InputError
from taskdb.formats import limits
from taskdb.formats.limits import MOST_TASK_POINTS
from taskdb.formats.registry import AirspaceOptions, ReadOptions, read_airspace, read_flight, read_set, read_tasks

MANY = MOST_TASK_POINTS + 1
GPX = b'<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x">'
KML = b'<kml xmlns="http://www.opengis.net/kml/2.2"><Document>'
FEATURES = b'{"type":"FeatureCollection","features":['
LOG = b"AXXX001\r\nHFDTE140527\r\n"
PLACE = b"C5110179N00102644WTURN NAME\r\n"
POINT = b"<Placemark><Point><coordinates>9,48</coordinates></Point></Placemark>"
LINE = b"<Placemark><LineString><coordinates>9,48 10,48</coordinates></LineString></Placemark>"


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"code,latitude,longitude\n" + b"1,48.5,9.5\n" * MANY, "too-many-points"),
        (LOG + PLACE * MANY, "too-many-points"),
        (LOG + b"C\r\n" * MANY, "too-many-points"),
        (LOG + b"C140527083000140527000101\r\n" * MANY, "too-many-points"),
        (KML + POINT * MANY, "too-many-points"),
        (KML + LINE * MANY, "too-many-points"),
        (GPX + b'<wpt lat="48" lon="9"/>' * MANY + b"</gpx>", "too-many-points"),
        (GPX + b"<rte>" + b'<rtept lat="48" lon="9"/>' * 5 * MANY, "file-too-large"),
        (FEATURES + b"1," * MANY, "too-many-points"),
    ],
    ids=["csv", "places", "nothing", "declarations", "kml points", "kml lines", "way points", "route", "numbers"],
)
def test_a_list_of_places_or_a_map_is_no_task_and_is_not_read_to_its_end(content: bytes, code: str) -> None:
    with pytest.raises(InputError) as refused:
        read_tasks(io.BytesIO(content))
    assert refused.value.code == code
    assert refused.value.hint


def test_a_declaration_among_very_many_fixes_is_read_with_its_line() -> None:
    declared = [
        b"C140527083000140527000100",
        *[b"C4800000N01100000ENAME"] * 2,
        b"C4830000N01130000E",
        b"C4800000N011XXX",
    ]
    log = LOG + b"B0830004800000N01100000EA0100001000\r\n" * 1000 + b"\r\n".join(declared)
    (task,) = read_tasks(io.BytesIO(log))
    assert [(problem.line, problem.code) for problem in task.problems if problem.code == "bad-point"] == [
        (1007, "bad-point")
    ]


def test_a_flight_that_declares_without_end_is_read_without_its_declaration() -> None:
    fixes = b"".join(b"B%02d%02d004800%03dN01100000EA0100001000\r\n" % (8 + i // 60, i % 60, i) for i in range(100))
    assert read_flight(io.BytesIO(LOG + PLACE * MANY + fixes)).declared == ()


def _waypoints(stream: BinaryIO) -> Any:
    return read_set(stream, options=ReadOptions())


def _areas(stream: BinaryIO) -> Any:
    return read_airspace(stream, options=AirspaceOptions())


AIXM = (
    b'<message:AIXMBasicMessage xmlns:message="http://www.aixm.aero/schema/5.1/message"'
    b' xmlns:aixm="http://www.aixm.aero/schema/5.1">'
)


@pytest.mark.parametrize(
    ("read", "content", "code"),
    [
        (_waypoints, KML + LINE * 150, "no-waypoints"),
        (_waypoints, GPX + b"<trk><trkseg>" + b'<trkpt lat="48" lon="9"/>' * 150, "no-waypoints"),
        (_waypoints, FEATURES + b'{"type":"Feature","geometry":null},' * 150, "no-waypoints"),
        (_areas, KML + POINT * 150, "no-volumes"),
        (_areas, FEATURES + b"1," * 150, "no-volumes"),
        (_areas, AIXM + b"<message:hasMember><aixm:Route/></message:hasMember>" * 150, "no-volumes"),
    ],
    ids=["lines", "a track", "no places", "points", "numbers", "routes"],
)
def test_what_begins_with_very_much_of_another_kind_is_not_read_to_its_end(
    read: Callable[[BinaryIO], Any], content: bytes, code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(limits, "MOST_ASIDE", 100)
    with pytest.raises(InputError) as refused:  # none of these files is whole: who read on would tell that
        read(io.BytesIO(content))
    assert refused.value.code == code
    assert "100 things" in refused.value.message
