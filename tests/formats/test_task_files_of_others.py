"""Tasks out of files that other programs wrote: routes, points in order, tables in any notation; or refused."""

from __future__ import annotations

import gpxpy
import pytest

from taskdb.core.model import Position
from taskdb.errors import InputError
from tests.formats.reading import tasks_in


def test_every_route_of_a_gpx_file_is_a_task() -> None:
    # Written by gpxpy, another implementation of GPX 1.1 and 1.0.
    gpx = gpxpy.gpx.GPX()
    gpx.waypoints.append(gpxpy.gpx.GPXWaypoint(1, 2, name="aside"))
    for name in ("first", "second"):
        route = gpxpy.gpx.GPXRoute(name)
        route.points += [gpxpy.gpx.GPXRoutePoint(47.1, 11.2, 512.5, name="HOME"), gpxpy.gpx.GPXRoutePoint(48, 12)]
        gpx.routes.append(route)
    for version in ("1.1", "1.0"):
        first, second = tasks_in(gpx.to_xml(version))
        assert (first.name, second.name) == ("first", "second")
        assert [(p.code, p.name, p.elevation_m) for p in first.points] == [("", "HOME", 512.5), ("", "", None)]
        assert first.points[0].position == Position.at(47.1, 11.2) and first.points[0].zone is None


def test_a_table_in_another_notation_is_read_and_a_code_may_come_twice() -> None:
    (reading,) = tasks_in(
        "code;name;latitude;longitude;zone\n"
        "HOME;Ormsau;48°45.200'N;011°50.100'E;line 5km\n"
        "Q;Quarry;48°50.500'N;012°10.000'E;\n"
        "HOME;Ormsau;48°45.200'N;011°50.100'E;cylinder 3km\n"
    )
    assert reading.problems == ()
    codes = [p.code for p in reading.points]
    assert codes[0] == codes[-1] == "HOME"
    assert reading.points[0].position == Position.at(48 + 45.2 / 60, 11 + 50.1 / 60)
    assert [p.zone.text if p.zone else None for p in reading.points] == ["line 5km", None, "cylinder 3km"]


def test_rows_that_a_spreadsheet_sorted_are_told() -> None:
    (reading,) = tasks_in("number,code,lat,lon\n0,A,47.1,11.1\n2,C,47.3,11.3\n1,B,47.2,11.2\n")
    assert [(p.line, p.code) for p in reading.problems] == [(4, "not-in-order")]


def test_every_bad_row_is_told_with_its_line() -> None:
    (reading,) = tasks_in(
        "number,code,lat,lon,zone,role\n0,A,47.1,11.1,line 5,start\n1,B,97.2,11.2,,turn\n2,C,47,11,,home\n"
    )
    assert sorted((p.line, p.code) for p in reading.problems) == [
        (2, "missing-unit"),
        (3, "out-of-range"),
        (4, "bad-choice"),
    ]


def test_placemarks_and_features_are_points_in_order() -> None:
    (kml,) = tasks_in(
        '<kml xmlns="http://www.opengis.net/kml/2.2"><Document><name>Out</name>'
        "<Placemark><name>A</name><Point><coordinates>11.1,47.1,0</coordinates></Point></Placemark>"
        "<Placemark><name>B</name><Point><coordinates>11.2,47.2</coordinates></Point></Placemark>"
        "</Document></kml>"
    )
    (collection,) = tasks_in(
        '{"type":"FeatureCollection","features":['
        '{"type":"Feature","geometry":{"type":"Point","coordinates":[11.1,47.1]},"properties":{"name":"A"}},\n'
        '{"type":"Feature","geometry":{"type":"Point","coordinates":[11.2,47.2]},"properties":{"name":"B"}}]}'
    )
    for reading in (kml, collection):
        assert [(p.name, p.position) for p in reading.points] == [
            ("A", Position.at(47.1, 11.1)),
            ("B", Position.at(47.2, 11.2)),
        ]
    assert (kml.name, collection.name) == ("Out", "")


@pytest.mark.parametrize(
    "text",
    [
        '<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1"><wpt lat="1" lon="2"/></gpx>',
        '<kml xmlns="http://www.opengis.net/kml/2.2"><Document/></kml>',
        '{"type":"FeatureCollection","features":[]}',
        "<svg/>",
        "",
        "no columns\n1\n",
    ],
)
def test_a_file_without_a_task_is_refused_with_a_way_out(text: str) -> None:
    with pytest.raises(InputError) as refused:
        tasks_in(text)
    assert refused.value.hint


@pytest.mark.parametrize("text", ["code\n001\n002\n", "task,code\nA,001\nA,002\n", "code,name,zone\n001,Ormsau,\n"])
def test_a_table_of_codes_alone_is_refused_with_the_way_to_type_them(text: str) -> None:
    with pytest.raises(InputError) as refused:
        tasks_in(text)
    assert refused.value.code == "no-positions"
    assert "task new NAME CODE" in (refused.value.hint or "")


@pytest.mark.parametrize("elevation", ["9" * 25, "1e30", "-1e99"])
def test_an_elevation_that_no_store_could_hold_is_told(elevation: str) -> None:
    (reading,) = tasks_in(
        '<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><rte><name>A</name>'
        f'<rtept lat="48.2" lon="11.2"><ele>{elevation}</ele><name>Q</name></rtept>'
        '<rtept lat="48.5" lon="11.5"><name>R</name></rtept></rte></gpx>'
    )
    assert [(problem.code, problem.value) for problem in reading.problems] == [("out-of-range", elevation)]
