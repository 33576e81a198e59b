"""A line of few points is a task in every format that draws lines; what was flown is none."""

from __future__ import annotations

import io
import json
import zipfile

import pytest

from taskdb.core.model import Position
from taskdb.errors import InputError
from tests.formats.reading import tasks_in

COURSE = [(11.8105, 48.872), (11.522, 48.561), (12.0, 48.7), (11.8105, 48.872)]


def geojson(*lines: list[tuple[float, float]], points: dict[str, tuple[float, float]] | None = None) -> str:
    features = [
        {"type": "Feature", "properties": {"name": "L"}, "geometry": {"type": "LineString", "coordinates": line}}
        for line in lines
    ]
    features += [
        {"type": "Feature", "properties": {"name": name}, "geometry": {"type": "Point", "coordinates": at}}
        for name, at in (points or {}).items()
    ]
    return json.dumps({"type": "FeatureCollection", "features": features})


def kml(*lines: list[tuple[float, float]], points: dict[str, tuple[float, float]] | None = None) -> str:
    drawn = [
        f"<Placemark><name>L</name><MultiGeometry><LineString><coordinates>"
        f"{' '.join(f'{lon},{lat},0' for lon, lat in line)}</coordinates></LineString></MultiGeometry></Placemark>"
        for line in lines
    ]
    drawn += [
        f"<Placemark><name>{name}</name><Point><coordinates>{lon},{lat}</coordinates></Point></Placemark>"
        for name, (lon, lat) in (points or {}).items()
    ]
    return f'<kml xmlns="http://www.opengis.net/kml/2.2"><Document>{"".join(drawn)}</Document></kml>'


def kmz(*lines: list[tuple[float, float]], points: dict[str, tuple[float, float]] | None = None) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("doc.kml", kml(*lines, points=points))
    return stream.getvalue()


def gpx(
    *lines: list[tuple[float, float]], points: dict[str, tuple[float, float]] | None = None, inside: str = ""
) -> str:
    drawn = [
        "<trk><name>L</name><trkseg>"
        + "".join(f'<trkpt lat="{lat}" lon="{lon}">{inside}</trkpt>' for lon, lat in line)
        + "</trkseg></trk>"
        for line in lines
    ]
    places = [f'<wpt lat="{lat}" lon="{lon}"><name>{name}</name></wpt>' for name, (lon, lat) in (points or {}).items()]
    both = "".join([*places, *drawn])
    return f'<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">{both}</gpx>'


FORMATS = [geojson, kml, kmz, gpx]


@pytest.mark.parametrize("write", FORMATS)
def test_a_line_is_a_task(write) -> None:  # type: ignore[no-untyped-def]
    first, second = tasks_in(write(COURSE, COURSE[:2]))
    assert first.name == "L" and first.is_line and first.problems == ()
    assert [point.position for point in first.points] == [Position.at(lat, lon) for lon, lat in COURSE]
    assert len(second.points) == 2


@pytest.mark.parametrize("write", FORMATS)
def test_a_line_of_many_points_is_none(write) -> None:  # type: ignore[no-untyped-def]
    long = [(11 + i / 1000, 48.0) for i in range(3000)]
    track, course = tasks_in(write(long, COURSE))
    assert [problem.code for problem in track.problems] == ["a-track"] and track.points == ()
    assert "3,000 points" in track.problems[0].message
    assert course.problems == ()
    assert tasks_in(write(long[:50]))[0].problems == () and tasks_in(write(long[:51]))[0].problems


@pytest.mark.parametrize("write", FORMATS)
def test_a_line_through_the_files_points_says_their_order(write) -> None:  # type: ignore[no-untyped-def]
    names = {"Quarry": COURSE[1], "Home": COURSE[0], "Lake": COURSE[2], "Else": (10.0, 47.0)}
    (task,) = tasks_in(write(COURSE, [(10.0, 47.0), (10.5, 47.5)], points=names))
    assert [point.name for point in task.points] == ["Home", "Quarry", "Lake", "Home"]
    assert task.notes == ("1 line past the file's points left aside",)


@pytest.mark.parametrize("write", [geojson, kml, kmz])
def test_points_with_a_line_past_them_are_the_task_and_the_line_is_told(write) -> None:  # type: ignore[no-untyped-def]
    (task,) = tasks_in(write([(1, 2), (3, 4)], points={"A": (11, 48), "B": (12, 49)}))
    assert [point.name for point in task.points] == ["A", "B"] and not task.is_line
    assert task.notes == ("1 line left aside: the file has points",)


def test_what_was_flown_is_no_task() -> None:
    (flown,) = tasks_in(gpx(COURSE, inside="<time>2027-05-14T08:30:00Z</time>"))
    assert [problem.code for problem in flown.problems] == ["a-track"] and "flown" in flown.problems[0].message
    pieces = gpx(COURSE).replace("</trkpt><trkpt", "</trkpt></trkseg><trkseg><trkpt", 1)
    assert tasks_in(pieces)[0].problems


def test_routes_go_before_tracks_and_a_way_along_streets_is_none() -> None:
    route = "<rte><name>R</name>" + '<rtept lat="48" lon="11"/><rtept lat="48.5" lon="11"/></rte>'
    (task,) = tasks_in(gpx(COURSE).replace("<trk>", route + "<trk>"))
    assert task.name == "R" and task.notes == ("1 track left aside: the file has routes",)
    streets = "<rte>" + "".join(f'<rtept lat="48.{i:03d}" lon="11"/>' for i in range(800)) + "</rte>"
    (way,) = tasks_in(gpx().replace("</gpx>", streets + "</gpx>"))
    assert [problem.code for problem in way.problems] == ["a-track"]


def test_a_multiline_of_one_is_a_line_and_collections_nest_without_harm() -> None:
    one = json.dumps({"type": "MultiLineString", "coordinates": [COURSE]})
    assert len(tasks_in(one)[0].points) == 4
    deep = '{"type":"GeometryCollection","geometries":[' * 5000 + "]}" * 5000
    with pytest.raises(InputError):
        tasks_in(deep)


def test_way_points_alone_have_no_order() -> None:
    with pytest.raises(InputError) as refused:
        tasks_in(gpx(points={"A": (11, 48), "B": (12, 48)}))
    assert refused.value.code == "no-tasks" and "set import" in (refused.value.hint or "")


@pytest.mark.parametrize("write", [geojson, kml, kmz])
def test_what_has_no_place_is_left_out_of_a_task_and_told(write) -> None:  # type: ignore[no-untyped-def]
    text = write(points={"A": (11, 48), "B": (12, 49)})
    if isinstance(text, bytes):
        text = zipfile.ZipFile(io.BytesIO(text)).read("doc.kml").decode()
    empty = "<Placemark><name>N</name><Point><coordinates> </coordinates></Point></Placemark></Document>"
    nowhere = '"features": [{"type": "Feature", "geometry": null, "properties": {}}, '
    (task,) = tasks_in(text.replace("</Document>", empty).replace('"features": [', nowhere))
    assert [point.name for point in task.points] == ["A", "B"] and task.problems == ()
    assert "1 placemark without a place" in task.notes[0] or "1 feature without a place" in task.notes[0]


def test_blanks_after_the_commas_of_a_line_are_no_matter() -> None:
    assert len(tasks_in(kml(COURSE).replace(",", ", "))[0].points) == 4
