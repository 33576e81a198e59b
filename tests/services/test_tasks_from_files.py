"""Tasks taken from files: each distinct one once, on the set's places, with what the file said and what it did not."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from taskdb.core.course.zones import parse_zone, same_geometry
from taskdb.core.model import Role, TaskType, ZoneFrom
from taskdb.errors import InputError, NotFoundError, UsageError
from taskdb.formats.registry import ExportedTask, write_task
from taskdb.services.contests.contest import NewContest, new_contest
from taskdb.services.desk import Desk, NeedsConfirmation
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.tasks.importing import TaskImported, TaskImportRequest, import_tasks
from taskdb.services.tasks.task import NewTask, PointRequest, list_tasks, new_task, show_task

from .conftest import REGION

GPX = (
    '<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x">'
    "<rte><name>{name}</name>{points}</rte></gpx>"
)
FORMATS = ["gpx", "kml", "geojson", "csv", "igc"]


def gpx(name: str, *points: tuple[str, float, float]) -> str:
    rows = "".join(f'<rtept lat="{lat}" lon="{lon}"><name>{label}</name></rtept>' for label, lat, lon in points)
    return GPX.format(name=name, points=rows)


@pytest.fixture
def library(desk: Desk, write: Callable, csv_file: Callable) -> Desk:
    path = csv_file(REGION)
    import_set(desk, ImportRequest(path, "region"), write())
    Path(path).unlink()
    for name in ("Cup", "Next"):
        zones = {Role.TURN: parse_zone("cylinder 1km"), Role.FINISH: parse_zone("cylinder 3km")}
        new_contest(desk, NewContest(name, "region", zones=zones), write())
    return desk


def make(desk: Desk, write: Callable, name: str, *points: str, **given: object) -> None:
    requests = []
    for word in points:
        reference, _, zone = word.partition("|")
        requests.append(PointRequest(reference, parse_zone(zone) if zone else None))
    new_task(desk, NewTask(name, tuple(requests), contest="Cup", **given), write())  # type: ignore[arg-type]


def put(desk: Desk, folder: Path, name: str, *formats: str) -> list[Path]:
    shown = show_task(desk, name, "Cup")
    folder.mkdir(exist_ok=True)
    paths = []
    for format_name in formats:
        stream = io.BytesIO()
        exported = ExportedTask(shown.task, shown.course, shown.revision, shown.fingerprint, shown.info.at)
        write_task(stream, exported, format_name)
        paths.append(folder / f"{name}.{format_name}")
        paths[-1].write_bytes(stream.getvalue())
    return paths


def take(desk: Desk, path: Path | str, write: Callable, **given: object) -> TaskImported:
    request = TaskImportRequest(str(path), given.pop("contest", "Next"), **given)  # type: ignore[arg-type]
    return import_tasks(desk, request, write())


@pytest.mark.parametrize("format_name", FORMATS)
def test_a_task_comes_back_from_every_format_that_it_is_handed_out_in(library, write, tmp_path, format_name):
    make(library, write, "A", "001", "004|area 20km", "003|area 5km..30km 040..110", "001")
    before = show_task(library, "A", "Cup").task
    (path,) = put(library, tmp_path, "A", format_name)
    (taken,) = take(library, path, write).tasks
    after = show_task(library, taken.task, "Next")
    assert [p.place for p in after.task.points] == [p.place for p in before.points]
    assert all(same_geometry(a.zone, b.zone) for a, b in zip(after.task.points, before.points, strict=True))
    assert [p.zone_from for p in after.task.points] == [p.zone_from for p in before.points]
    assert after.task.type is TaskType.ASSIGNED_AREA
    assert after.fingerprint == taken.fingerprint
    assert taken.unmatched == () and max(p.off_m or 0.0 for p in taken.points) < 1.4


def test_one_task_of_many_files_is_taken_once_with_who_declared_it(library, write, tmp_path):
    make(library, write, "A", "001", "004", "003", "001", time_s=10_800)
    make(library, write, "B", "001", "002", "005", "001")
    put(library, tmp_path, "A", *FORMATS)
    put(library, tmp_path / "more", "B", "igc")
    (tmp_path / "more" / "MANIFEST.json").write_text("{}")
    (tmp_path / "notes.txt").write_text("nothing")
    result = take(library, tmp_path, write)
    assert [(t.task, len(t.files)) for t in result.tasks if t.task == "A"] == [("A", 5)]
    assert [t.files for t in result.tasks if t.task == "B"] == [("more/B.igc",)]
    assert len(result.tasks) == 2 and result.skipped == ()
    assert show_task(library, "A", "Next").task.time_s == 10_800


def test_a_point_of_the_set_gets_its_place_and_another_stays_the_task_s_own(library, write, tmp_path):
    path = tmp_path / "x.gpx"
    path.write_text(
        gpx("X", ("Ormsau", 48.8721, 11.8105), ("004", 47.0, 10.0), ("Pond", 48.7, 12.0), ("001", 48.872, 11.8105))
    )
    (taken,) = take(library, path, write).tasks
    start, slip, pond, finish = show_task(library, "X", "Next").task.points
    assert start.place == finish.place and start.place.identity is not None
    # A thousandth of ten degrees of latitude at 49°N is 11.12 m (WGS84 meridian arc).
    assert taken.points[0].off_m == pytest.approx(11.12, abs=0.01)
    assert pond.place.identity is None and (pond.place.code, pond.place.name) == ("Pond", "Pond")
    # A code of the set is not given to a place that is not the set's.
    assert slip.place.identity is None and slip.place.code == "P1" and slip.place.name == "004"
    assert [p.number for p in taken.unmatched] == [1, 2]
    assert [p.zone.text for p in (start, slip, finish)] == ["line 1km", "cylinder 1km", "cylinder 3km"]
    assert start.zone_from is ZoneFrom.BUILT_IN and slip.zone_from is ZoneFrom.CONTEST


def test_a_turn_between_areas_gets_the_zone_of_a_turn_and_no_area_of_a_size_that_nobody_named(library, write, tmp_path):
    path = tmp_path / "x.csv"
    rows = [
        "code,name,latitude_deg,longitude_deg,zone",
        "001,Ormsau,48.872,11.8105,",
        "004,Greifenlohe,48.631,12.326,area 15km",
    ]
    rows += ["003,Tannwöhr,49.051,12.473,", "001,Ormsau,48.872,11.8105,"]
    path.write_text("\n".join(rows), encoding="utf-8")
    (taken,) = take(library, path, write).tasks
    task = show_task(library, "x", "Next").task
    assert [p.zone.text for p in task.points] == ["line 1km", "area 15km", "cylinder 1km", "cylinder 3km"]
    assert "points 0, 2 and 3" in taken.notes[0]


def test_a_task_that_stands_already_is_not_made_again(library, write, tmp_path):
    make(library, write, "A", "001", "004", "003", "001")
    (path,) = put(library, tmp_path, "A", "gpx")
    (taken,) = take(library, path, write, contest="Cup").tasks
    assert (taken.task, taken.revision, taken.equals, taken.made) == ("A", 1, "A", False)
    assert [row.task for row in list_tasks(library, "Cup")] == ["A"]


def test_a_name_pattern_makes_it_again_under_a_free_name(library, write, tmp_path):
    make(library, write, "A", "001", "004", "003", "001")
    (path,) = put(library, tmp_path, "A", "gpx")
    (taken,) = take(library, path, write, contest="Cup", pattern="{name}").tasks
    assert (taken.task, taken.renamed_from, taken.equals, taken.made) == ("A (2)", "A", "A", True)
    assert [row.task for row in list_tasks(library, "Cup")] == ["A", "A (2)"]


def test_each_line_of_a_geojson_file_is_a_task_and_its_vertices_are_matched_by_position(library, write, tmp_path):
    line = {"type": "LineString", "coordinates": [[11.8105, 48.872], [12.326, 48.631], [12.1, 48.7], [11.8105, 48.872]]}
    feature = {"type": "Feature", "properties": {"name": "By line"}, "geometry": line}
    track = {"type": "LineString", "coordinates": [[11.8 + n / 1000, 48.8] for n in range(60)]}
    flown = {"type": "Feature", "properties": {"name": "Flown"}, "geometry": track}
    path = tmp_path / "lines.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature, flown]}), encoding="utf-8")
    taken = take(library, path, write, contest="Cup")
    (task,) = taken.tasks
    assert [(p.code, p.matched_by) for p in task.points] == [
        ("001", "position"), ("004", "position"), ("P2", None), ("001", "position"),
    ]  # fmt: skip
    assert [skipped.name for skipped in taken.skipped] == ["Flown"]
    assert "a track" in taken.skipped[0].reason


def test_names_come_from_the_pattern(library, write, tmp_path):
    make(library, write, "A", "001", "004", "003", "001")
    (path,) = put(library, tmp_path, "A", "igc")
    (taken,) = take(library, path, write, pattern="{date} {name} of {file}").tasks
    assert taken.task == "2027-05-01 A of A"
    with pytest.raises(UsageError, match=r"there is no \{day\}"):
        take(library, path, write, pattern="{day}")


def test_times_that_differ_make_two_tasks_and_a_missing_one_does_not(library, write, tmp_path):
    make(library, write, "A", "001", "004", "003", "001", time_s=10_800)
    make(library, write, "B", "001", "004", "003", "001", time_s=7_200)
    put(library, tmp_path, "A", "gpx")
    put(library, tmp_path, "B", "geojson")
    assert len(take(library, tmp_path, write).tasks) == 2


def test_what_cannot_be_taken_of_a_folder_is_told_and_the_rest_taken(library, write, tmp_path):
    make(library, write, "A", "001", "004", "003", "001")
    put(library, tmp_path, "A", "gpx")
    (tmp_path / "bad.gpx").write_text(gpx("Bad", ("001", 148.0, 11.8), ("004", 48.6, 12.3)))
    (tmp_path / "empty.igc").write_text("AXXX001\r\n")
    (tmp_path / "points.csv").write_text(
        "code,name,latitude_deg,longitude_deg\n001,Ormsau,48.872,11.8105\n004,G,48.6,12.3\n"
    )
    (tmp_path / "short.gpx").write_text(gpx("Short", ("001", 48.0, 11.8)))
    result = take(library, tmp_path, write)
    assert [task.task for task in result.tasks] == ["A"]
    assert [one.file for one in result.skipped] == ["bad.gpx", "empty.igc", "points.csv", "short.gpx"]
    assert "148" in result.skipped[0].reason and "list of points" in result.skipped[2].reason


def test_a_single_file_that_cannot_be_taken_is_refused_with_every_problem(library, write, tmp_path):
    path = tmp_path / "bad.gpx"
    path.write_text(gpx("Bad", ("001", 148.0, 11.8), ("004", 48.6, 212.3)))
    with pytest.raises(InputError) as caught:
        take(library, path, write)
    assert [row["value"] for row in caught.value.details["rejected"]] == ["148.0", "212.3"]
    with pytest.raises(NotFoundError):
        take(library, tmp_path / "no.gpx", write)
    (tmp_path / "none").mkdir()
    with pytest.raises(InputError, match="No task"):
        take(library, tmp_path / "none", write)
    assert list_tasks(library, "Next") == ()


HOME, QUARRY, LAKE = ("001", 48.872, 11.8105), ("002", 48.561, 11.522), ("L", 48.7, 12.0)


def line_kml(*points: tuple[str, float, float]) -> str:
    at = " ".join(f"{longitude},{latitude}" for _, latitude, longitude in points)
    line = f"<Placemark><name>L</name><LineString><coordinates>{at}</coordinates></LineString></Placemark>"
    return f'<kml xmlns="http://www.opengis.net/kml/2.2"><Document>{line}</Document></kml>'


@pytest.mark.parametrize("where", ["alone", "in a folder"])
def test_a_line_is_a_task_alone_and_in_a_folder_alike(library, write, tmp_path, where):
    with zipfile.ZipFile(tmp_path / "b.kmz", "w") as archive:
        archive.writestr("doc.kml", line_kml(HOME, QUARRY, LAKE, HOME))
    (tmp_path / "a.kml").write_text(line_kml(HOME, QUARRY, HOME))
    if where == "alone":
        tasks = [task for name in ("a.kml", "b.kmz") for task in take(library, tmp_path / name, write).tasks]
    else:
        (tmp_path / "log.gpx").write_text(gpx("x").replace("rte>", "trk>"))
        taken = take(library, tmp_path, write)
        tasks = list(taken.tasks)
        assert [skipped.file for skipped in taken.skipped] == ["log.gpx"]
    assert [[p.code for p in task.points] for task in tasks] == [["001", "002", "001"], ["001", "002", "P2", "001"]]


def test_a_route_whose_ends_stand_twice_is_read_and_the_leg_is_told(library, write, tmp_path):
    near = ("Field", 48.87201, 11.8105)  # 1.1 m from the waypoint: the same place once it is matched
    (tmp_path / "a.gpx").write_text(gpx("A", HOME, QUARRY, HOME, near))
    (tmp_path / "b.gpx").write_text(gpx("B", ("x", 47.0, 10.0), ("x", 47.0, 10.0), QUARRY, HOME))
    (tmp_path / "c.gpx").write_text(gpx("C", HOME, QUARRY, QUARRY, HOME))
    tasks = {task.task: task for task in take(library, tmp_path, write).tasks}
    assert [p.code for p in tasks["A"].points] == ["001", "002", "001"]
    assert any("last two points are one place" in note and "0 km" in note for note in tasks["A"].notes)
    assert [p.code for p in tasks["B"].points] == ["x", "002", "001"]
    assert any("first two points" in note for note in tasks["B"].notes)
    # A turn that stands twice has its zone all the same.
    assert [p.code for p in tasks["C"].points] == ["001", "002", "002", "001"] and tasks["C"].notes == ()


def test_a_map_of_streets_asks_before_it_becomes_tasks(library, write, tmp_path):
    def street(i: int) -> dict:
        line = {"type": "LineString", "coordinates": [[11 + i / 1000, 48], [11.1 + i / 1000, 48.1]]}
        return {"type": "Feature", "properties": {"name": f"Street {i}"}, "geometry": line}

    path = tmp_path / "map.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [street(i) for i in range(21)]}))
    with pytest.raises(NeedsConfirmation) as asked:
        take(library, path, write)
    assert "21 lines" in str(asked.value) and asked.value.details["count"] == 21
    assert list_tasks(library) == ()
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [street(i) for i in range(20)]}))
    assert len(take(library, path, write).tasks) == 20


def test_a_list_of_many_places_is_no_task(library, write, tmp_path):
    def table(count: int) -> str:
        return "code,lat,lon\n" + "".join(f"C{i},48.{i:03d},11\n" for i in range(count))

    path = tmp_path / "places.csv"
    path.write_text(table(51))
    with pytest.raises(InputError) as refused:
        take(library, path, write)
    assert refused.value.code == "too-many-points" and "taskdb set import" in (refused.value.hint or "")
    path.write_text(table(50))
    assert len(take(library, path, write).tasks[0].points) == 50
