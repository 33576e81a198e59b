"""Text profiles: a layout of the user's own, written and read back; mistakes in it told with their line."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest

from taskdb.core.course.axes import resolve_points
from taskdb.core.course.measure import measure_course
from taskdb.core.course.zones import parse_zone, same_geometry
from taskdb.core.model import Landable, Place, Position, Role, Runway, Task, TaskPoint, TaskType, Waypoint, ZoneFrom
from taskdb.core.names import clean_text
from taskdb.errors import InputError
from taskdb.formats.registry import (
    ExportedTask,
    ReadOptions,
    parse_profile,
    read_set,
    read_tasks_by_profile,
    write_set_by_profile,
    write_task_by_profile,
)
from tests.formats.random_tasks import cleaned, random_tasks

PROFILE = """\
separator = "semicolon"
line_end = "lf"
encoding = "cp1252"
header = false
decimal = "comma"

[[column]]
field = "code"

[[column]]
field = "name"

[[column]]
text = "WGS84"

[[column]]
field = "latitude"
notation = "degrees-minutes"
decimals = 3

[[column]]
field = "longitude"
notation = "degrees-minutes"
decimals = 3

[[column]]
field = "elevation_ft"
decimals = 0

[[column]]
field = "landable"
words = {aerodrome = "A", field = "F"}

[[column]]
field = "runway_heading"
"""

HOME = Waypoint(
    "HOME",
    "Übersee; Nord",
    Position.at(47.26, 11.34),
    512.1,
    Landable.AERODROME,
    None,
    "AT",
    runways=(Runway(None, 71.5),),
)
QUARRY = Waypoint("Q1", "Quarry", Position.at(-33.9, -70.5))


def written(waypoints: list[Waypoint], text: str = PROFILE) -> tuple[bytes, tuple[str, ...]]:
    stream = io.BytesIO()
    lost = write_set_by_profile(stream, waypoints, parse_profile(text, name="mine.toml"))
    return stream.getvalue(), lost


def test_a_set_is_written_in_the_layout_and_what_it_has_no_column_for_is_told() -> None:
    content, lost = written([QUARRY, HOME])
    assert content.decode("cp1252") == (
        'HOME;"Übersee; Nord";WGS84;47°15,600′N;011°20,400′E;1680;A;71,5\nQ1;Quarry;WGS84;33°54,000′S;070°30,000′W;;;\n'
    ).replace("′", "?")
    assert lost == ("country", "letters that cp1252 does not have became ?")


def test_a_set_reads_back_by_its_profile() -> None:
    text = PROFILE.replace("cp1252", "utf-8")
    content, _ = written([QUARRY, HOME], text)
    reading = read_set(io.BytesIO(content), options=ReadOptions(profile=text))
    assert reading.problems == ()
    home, quarry = (record.waypoint for record in reading.records)
    assert (home.code, home.name, home.position, home.landable) == (
        "HOME",
        "Übersee; Nord",
        HOME.position,
        Landable.AERODROME,
    )
    assert home.elevation_m == 512.1
    assert home.runways == HOME.runways
    assert quarry.position == QUARRY.position and quarry.elevation_m is None
    assert reading.decided.notation == "degrees-minutes"


def test_a_header_is_written_and_passed_over() -> None:
    text = PROFILE.replace("header = false", "header = true").replace("cp1252", "utf-8")
    content, _ = written([HOME], text)
    assert content.decode().splitlines()[0].startswith("code;name;;latitude_deg;")
    reading = read_set(io.BytesIO(content), options=ReadOptions(profile=text))
    assert [r.line for r in reading.records] == [2]


def test_a_task_is_written_one_row_a_point() -> None:
    columns = {"number": "", "code": "", "position": 'notation = "packed-seconds"', "zone": "", "radius": 'unit = "km"'}
    columns["leg"] = 'unit = "nmi"\ndecimals = 1'
    tables = "".join(f'[[column]]\nfield = "{name}"\n{more}\n' for name, more in columns.items())
    profile = parse_profile('rows = "task-points"\nquoting = "none"\n' + tables)
    points = resolve_points(
        [
            TaskPoint(Place("A", "a", Position.at(47, 11)), Role.START, parse_zone("line 1km"), ZoneFrom.OWN),
            TaskPoint(Place("B", "b", Position.at(48, 11)), Role.FINISH, parse_zone("cylinder 3km"), ZoneFrom.OWN),
        ]
    )
    task = Task("t", TaskType.RACING, points, "s", 1)
    stream = io.BytesIO()
    lost = write_task_by_profile(stream, ExportedTask(task, measure_course(task), 1, "X"), profile)
    # 47°N to 48°N on a meridian is 111 170.6 m on WGS84, computed with pyproj: 60.0 nautical miles.
    assert stream.getvalue().decode() == (
        "number,code,position,zone,radius,leg\r\n"
        "0,A,470000N 0110000E,line 1km,,\r\n"
        "1,B,480000N 0110000E,cylinder 3km,3,60.0\r\n"
    )
    assert lost == ()


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        ('separator = "semicolon"', "separator = 5", 1, "separator"),
        ('separator = "semicolon"', "separator = ", 1, "TOML"),
        ('encoding = "cp1252"', 'encoding = "klingon"', 3, "klingon"),
        ("header = false", 'header = "no"', 4, "header"),
        ('decimal = "comma"', 'decimals = "comma"', 5, "decimals"),
        ('field = "name"', 'field = "colour"', 11, "colour"),
        ('field = "name"', 'field = "code"', 10, "line 7"),
        ('text = "WGS84"', 'text = "x"\nfield = "name"', 13, "either"),
        ('notation = "degrees-minutes"', 'notation = "utm"', 18, "utm"),
        ("decimals = 3", "decimals = 30", 19, "30"),
        ('field = "elevation_ft"', 'field = "elevation"', 26, "unit"),
        ('field = "elevation_ft"', 'field = "elevation"\nunit = "km"', 28, "km"),
        ('words = {aerodrome = "A", field = "F"}', 'words = {aerodrome = "A", field = "A"}', 32, "same"),
    ],
)
def test_a_mistake_is_told_with_its_line(old: str, new: str, line: int, says: str) -> None:
    with pytest.raises(InputError) as refused:
        parse_profile(PROFILE.replace(old, new, 1), name="mine.toml")
    assert refused.value.code == "bad-profile"
    assert f"mine.toml, line {line}:" in refused.value.message
    assert says in refused.value.message
    assert refused.value.hint


TASK_PROFILE = """\
rows = "task-points"
separator = "semicolon"
decimal = "comma"

[[column]]
field = "task"
header = "Aufgabe"

[[column]]
field = "number"

[[column]]
field = "role"
words = {start = "Abflug", finish = "Ziel"}

[[column]]
field = "code"

[[column]]
field = "name"
header = "country"

[[column]]
field = "latitude"
notation = "degrees-minutes-seconds"
decimals = 5

[[column]]
field = "longitude"
notation = "degrees-minutes-seconds"
decimals = 5

[[column]]
field = "elevation"
unit = "ft"
decimals = 2

[[column]]
field = "zone"

[[column]]
field = "leg"
unit = "km"
"""


def test_what_is_written_of_a_task_reads_back_as_the_same_points() -> None:
    profile = parse_profile(TASK_PROFILE)
    count = 0
    for exported in map(cleaned, random_tasks(60, seed=5)):
        stream = io.BytesIO()
        write_task_by_profile(stream, exported, profile)
        stream.seek(0)
        (reading,) = read_tasks_by_profile(stream, profile)
        assert reading.problems == ()
        assert reading.name == clean_text(exported.task.name)
        for point, read in zip(exported.task.points, reading.points, strict=True):
            place = point.place
            assert (read.code, read.name, read.role) == (clean_text(place.code), clean_text(place.name), point.role)
            assert read.zone is not None
            assert same_geometry(replace(read.zone, axis_deg=None), replace(point.zone, axis_deg=None))
            # 0.00001 second is a third of a millimetre, and less than the 1e-7 degree that is kept.
            assert abs(read.position.latitude_e7 - place.position.latitude_e7) <= 1
            assert read.elevation_m == place.elevation_m
            count += 1
    assert count > 150


def test_rows_of_several_tasks_are_told_apart_and_every_problem_is_told_with_its_task() -> None:
    text = (
        "Aufgabe;number;role;code;country;lat;lon;ft;zone;leg\n"
        "B;0;Abflug;1;Home;48°0'0\"N;11°0'0\"E;100;line 1km;\nA;0;Abflug;1;Home;48°0'0\"N;11°0'0\"E;;;\n"
        "B;1;Ziel;2;Far;48°30'0\"N;11°0'0\"E;;cylinder 3;55\nA;0;finish;2;Far;49°0'0\"N;11°0'0\"E;;;\n"
    )
    b, a = read_tasks_by_profile(io.BytesIO(text.replace('"', "''").encode()), parse_profile(TASK_PROFILE))
    assert (b.name, a.name) == ("B", "A")
    assert [(p.line, p.code) for p in b.problems] == [(4, "missing-unit")]
    assert [(p.line, p.code) for p in a.problems] == [(5, "not-in-order")]
    assert b.points[0].elevation_m == 30.5 and b.points[0].name == "Home"


def test_a_radius_alone_is_that_of_a_cylinder_and_told() -> None:
    text = 'rows = "task-points"\nheader = false\n'
    for more in ('field = "code"', 'field = "position"', 'field = "radius"\nunit = "km"'):
        text += f"[[column]]\n{more}\n"
    profile = parse_profile(text)
    (reading,) = read_tasks_by_profile(io.BytesIO(b'1,"48, 11",5\n2,"48.5, 11",0.5\n3,"49, 11",\n'), profile)
    assert [point.zone.text if point.zone else None for point in reading.points] == [
        "cylinder 5km",
        "cylinder 0.5km",
        None,
    ]
    assert any("cylinder" in note for note in reading.notes)
    (first, *_) = random_tasks(1, seed=3)
    lost = write_task_by_profile(io.BytesIO(), first, profile)
    assert any(point.zone.shape.value != "cylinder" for point in first.task.points)
    assert "the zones that are no cylinders" in lost


def test_a_layout_without_positions_is_written_and_not_read() -> None:
    profile = parse_profile('rows = "task-points"\n[[column]]\nfield = "code"\n')
    with pytest.raises(InputError) as refused:
        read_tasks_by_profile(io.BytesIO(b"code\n1\n"), profile)
    assert refused.value.code == "bad-profile" and "positions" in refused.value.message
    with pytest.raises(InputError):
        read_tasks_by_profile(io.BytesIO(b"x"), parse_profile(PROFILE))


def test_a_profile_for_the_other_rows_is_refused() -> None:
    with pytest.raises(InputError):
        write_set_by_profile(io.BytesIO(), [HOME], parse_profile('rows = "task-points"\n[[column]]\nfield = "zone"\n'))
    with pytest.raises(InputError):
        parse_profile("")
