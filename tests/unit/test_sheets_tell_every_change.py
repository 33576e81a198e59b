"""Every value that a task sheet shows is changed, one at a time; a change note that is silent of it fails here.

The sheet itself is the judge: each word that is on the later page and was not on the earlier one has to stand in what
is told, and a page that reads otherwise is never called unchanged.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields, replace
from typing import Any

import pytest

from taskdb.core.course.axes import resolve_points
from taskdb.core.course.day import DaySheet, Declination, LastFinish
from taskdb.core.course.measure import measure_course
from taskdb.core.course.schedule import timetables
from taskdb.core.course.wind import Air
from taskdb.core.course.zones import parse_zone
from taskdb.core.flown import Finished, FlownSummary
from taskdb.core.kinds import LegalEnd
from taskdb.core.model import (
    Contest,
    ContestDay,
    Deduction,
    Earth,
    Feature,
    Finding,
    FreeChoice,
    Landable,
    Place,
    Position,
    Radio,
    Role,
    Rules,
    Runway,
    Severity,
    Status,
    Task,
    TaskPoint,
    TaskType,
    TriangleRules,
    Waypoint,
    ZoneFrom,
)
from taskdb.core.quantities import Units, Wind
from taskdb.core.shown import page_changes
from taskdb.report.sheet import _content, parts_of
from taskdb.report.sheet_page import SheetPage
from taskdb.report.sheet_shown import _TOLD, _TOLD_ABOVE, DRAWN, NAMED_ELSEWHERE
from tests import building
from tests.telling import TITLES, assert_told, told_words, words_on

SPOTS = [(48.872, 11.8105), (49.113, 12.701), (48.425, 12.508), (48.933, 11.428), (48.872, 11.8105)]
ZONES = ("line 5km", "cylinder 5km", "keyhole 500m 90deg 10km", "sector 90deg 20km", "cylinder 3km")
HOME = Waypoint(
    "000", "Ort 0", Position.at(*SPOTS[0]), 389.0, Landable.AERODROME, Feature.TRANSPORT,
    radio=(Radio("123.505", "launch"),), runways=(Runway("09/27", 94.0, 1050.0, 60.0, "grass"),), identity="i0",
)  # fmt: skip
NEAR = Waypoint(
    "777", "Beiwiesen", Position.at(48.99, 12.25), 410.0, Landable.FIELD,
    radio=(Radio("122.480"),), runways=(Runway("11/29", 110.0, 400.0, 20.0, "grass"),), identity="i777",
)  # fmt: skip


def task_of(type_: TaskType, zones: tuple[str, ...] = ZONES) -> Task:
    last = len(zones) - 1
    stops = [
        (building.place(SPOTS[n], f"{n % last:03d}", f"Ort {n % last}", elevation_m=389.0 + n % last,
                        identity=f"i{n % last}"), zone)
        for n, zone in enumerate(zones)
    ]  # fmt: skip
    return building.task(
        *stops, type=type_, name="Runde", on=("region", 3), time_s=10_800, contest="Cup", day=1, class_name="Club",
        variant="A", take_off=Place("T1", "Hangar", Position.at(48.87, 11.81), 389.0, "iT"),
    )  # fmt: skip


RACING = task_of(TaskType.RACING)
AREAS = task_of(
    TaskType.ASSIGNED_AREA, ("line 5km", "area 20km", "area 5km..30km 040..110", "area 10km", "cylinder 3km")
)
DECLARED = task_of(TaskType.DECLARED)
MODIFIED = replace(
    task_of(TaskType.MODIFIED), free=FreeChoice(6, from_codes=("000", "001"), no_repeat=True), class_name=None
)
CUP = Contest(
    "Cup", "region", 3, site="000", timezone="Europe/Berlin", days=(ContestDay(1, "2027-05-14", "13:20"),),
    settings={"frequencies": {"tower": "122.480"}, "start_closes": "16:00"},
)  # fmt: skip


def day_of(task: Task, **values: Any) -> DaySheet:
    course = measure_course(task)
    air = Air(95.0, Wind(240.0, 20.0))
    given: dict[str, Any] = {
        "date": "2027-05-14", "timezone": "Europe/Berlin", "start_opens": "13:20", "air": air, "wind": air.wind,
        "timetables": timetables(task, course, air), "sun": None, "legal_end": LegalEnd.SUNSET,
        "last_finish": LastFinish("14:20", 7200.0, 980.0, 95.0, "start 14:20"), "legal_end_is_set": False,
        "declinations": tuple(Declination("WMM2025", 3.9) for _ in course.legs),
        "magnetic_deg": tuple((leg.course_true_deg or 0.0) - 3.9 for leg in course.legs), "notes": (),
    }  # fmt: skip
    return DaySheet(**{**given, **values})


def page_of(task: Task, **values: Any) -> SheetPage:
    own = Waypoint("T1", "Hangar", Position.at(48.87, 11.81), 389.0, Landable.FIELD, identity="iT")
    given: dict[str, Any] = {
        "catalogue": (HOME, NEAR, own), "waypoints": {"000": HOME, "T1": own}, "contest": CUP, "day": day_of(task),
        "findings": (Finding("1", "r", Severity.WARNING, (), "The last leg is short.", {}),),
    }  # fmt: skip
    return building.page(task, **{**given, **values})


# -- the task ----------------------------------------------------------------------------------------------------

TASK_VALUES: Mapping[str, Any] = {
    "name": "Neue Runde",
    "type": TaskType.DECLARED,
    "set_name": "other",
    "set_revision": 4,
    "rules": Rules(Earth.FAI_SPHERE),
    "contest": "Another Cup",
    "day": 2,
    "class_name": "Open",
    "variant": "B",
    "status": Status.ISSUED,
    "time_s": 9000,
    "take_off": Place("T2", "Winch", Position.at(48.88, 11.82), 400.0, "iT2"),
    "landing": Place("L1", "Meadow", Position.at(48.9, 11.9), 401.0, "iL"),
    "free": FreeChoice(4, from_set="region"),
}
NOT_ON_A_SHEET = {
    "points": "changed one by one below",
    "tags": "for finding",
    "issued_at": "when it was chosen; that it was is the status",
    "contest_revision": "what the defaults were when it was saved; the zones themselves are shown",
    "speed_kmh": "shown by the day, see below",
}


def test_no_field_of_a_task_is_forgotten() -> None:
    assert {field.name for field in fields(Task)} == set(TASK_VALUES) | set(NOT_ON_A_SHEET)


@pytest.mark.parametrize("name", sorted(TASK_VALUES))
def test_each_field_of_a_task_is_told(name: str) -> None:
    after = replace(RACING, **{name: TASK_VALUES[name]})
    waypoints = {"000": HOME}
    for place in (after.take_off, after.landing):
        if place is not None:
            waypoints[place.code] = Waypoint(place.code, place.name, place.position, landable=Landable.FIELD)
    assert_told(page_of(RACING), page_of(after, waypoints=waypoints), name)


@pytest.mark.parametrize("name", ["take_off", "landing"])
def test_a_place_of_which_the_catalogue_knows_nothing_is_told_too(name: str) -> None:
    """A take-off is a value that a pilot flies by, wherever the catalogue has no runway for it."""
    after = replace(RACING, **{name: TASK_VALUES[name]})
    assert_told(page_of(RACING), page_of(after), name)


RULES = {
    "earth": Rules(Earth.FAI_SPHERE),
    "finish": Rules(finish_deduction=Deduction.TO_CENTRE),
    "triangle": Rules(triangle=TriangleRules(small_shortest_percent=33.3)),
}


@pytest.mark.parametrize("name", sorted(RULES))
def test_rules_of_measuring_are_told(name: str) -> None:
    home = replace(RACING.points[4], place=RACING.points[0].place)
    three = replace(RACING, points=resolve_points([*RACING.points[:3], home]))
    assert_told(page_of(three), page_of(replace(three, rules=RULES[name])), name)


@pytest.mark.parametrize(
    "free",
    [
        FreeChoice(5, from_codes=("000", "001"), no_repeat=True),
        FreeChoice(6, from_codes=("000",), no_repeat=True),
        FreeChoice(6, from_set="region", no_repeat=True),
        FreeChoice(6, from_codes=("000", "001")),
        None,
    ],
)
def test_the_pilots_own_choice_is_told(free: FreeChoice | None) -> None:
    assert_told(page_of(MODIFIED), page_of(replace(MODIFIED, free=free)), str(free))


# -- its points --------------------------------------------------------------------------------------------------

PLACE_VALUES: Mapping[str, Any] = {
    "code": "X77",
    "name": "Another name",
    "position": Position.at(48.43, 12.6),
    "elevation_m": 512.0,
}


def with_point(task: Task, number: int, point: TaskPoint) -> Task:
    points = [*task.points]
    points[number] = point
    return replace(task, points=resolve_points(points))


@pytest.mark.parametrize("number", range(5))
@pytest.mark.parametrize("name", sorted(PLACE_VALUES))
def test_each_value_of_a_place_is_told(number: int, name: str) -> None:
    point = RACING.points[number]
    after = with_point(RACING, number, replace(point, place=replace(point.place, **{name: PLACE_VALUES[name]})))
    assert_told(page_of(RACING), page_of(after), f"{name} of point {number}")


def test_a_move_that_the_printed_minutes_hide_is_told_in_metres() -> None:
    point = RACING.points[1]
    position = point.place.position
    moved = Position.from_e7(position.latitude_e7 + 40, position.longitude_e7)
    before, after = (
        page_of(RACING),
        page_of(with_point(RACING, 1, replace(point, place=replace(point.place, position=moved)))),
    )
    assert words_on(before) == words_on(after)
    assert "the same in print" in told_words(before, after)


ZONE_TEXTS = {
    "line 5km": ("line 6km", "line 5km 310", "line 5km 311", "cylinder 5km"),
    "cylinder 5km": ("cylinder 10km", "cylinder 5001m", "sector 90deg 5km"),
    "keyhole 500m 90deg 10km": (
        "keyhole 600m 90deg 10km", "keyhole 500m 80deg 10km", "keyhole 500m 90deg 11km", "keyhole 500m 90deg 10km 45",
        "keyhole 500m 90deg 10km towards-next",
    ),
    "sector 90deg 20km": ("sector 90deg", "sector 60deg 20km", "sector 90deg 20km 100", "sector 90deg 21km"),
    "area 20km": ("area 21km", "area 5km..20km", "area 20km 040..110"),
    "area 5km..30km 040..110": (
        "area 6km..30km 040..110", "area 5km..31km 040..110", "area 5km..30km 041..110", "area 5km..30km 040..111",
        "area 5km..30km",
    ),
    "cylinder 3km": ("cylinder 4km", "line 1km"),
}  # fmt: skip


def zone_changes() -> Iterator[tuple[Task, int, str]]:
    for task in (RACING, AREAS):
        for number, point in enumerate(task.points):
            for text in ZONE_TEXTS.get(point.zone.text, ()):
                yield task, number, text


@pytest.mark.parametrize(("task", "number", "text"), tuple(zone_changes()))
def test_each_zones_shape_sizes_and_direction_are_told(task: Task, number: int, text: str) -> None:
    after = with_point(task, number, replace(task.points[number], zone=parse_zone(text)))
    before = page_of(task)
    assert_told(before, page_of(after), f"{task.points[number].zone.text} → {text}")
    # What somebody decided is told among what was decided, not among what follows.
    changes = page_changes(parts_of(before, Units.KM), parts_of(page_of(after), Units.KM))
    assert any(not one.follows and one.where.endswith(task.points[number].place.code) for one in changes)


def test_points_that_come_go_or_change_places_are_told() -> None:
    new = TaskPoint(
        Place("N9", "Neuort", Position.at(48.6, 12.1), 450.0, "n9"), Role.TURN, parse_zone("cylinder 7km"), ZoneFrom.OWN
    )
    points = RACING.points
    before = page_of(RACING)
    inserted = replace(RACING, points=resolve_points([*points[:2], new, *points[2:]]))
    assert_told(before, page_of(inserted), "inserted")
    assert "N9 Neuort" in told_words(before, page_of(inserted)) and "radius 7 km" in told_words(
        before, page_of(inserted)
    )
    dropped = replace(RACING, points=resolve_points([*points[:2], *points[3:]]))
    assert_told(before, page_of(dropped), "dropped")
    swapped = replace(RACING, points=resolve_points([points[0], points[2], points[1], *points[3:]]))
    assert "points: 000 – 001 – 002 – 003 – 000 → 000 – 002 – 001 – 003 – 000" in told_words(before, page_of(swapped))


# -- what the catalogue, the contest and the day bring ----------------------------------------------------------

HOME_VALUES: Mapping[str, Any] = {
    "landable": Landable.EMERGENCY,
    "radio": (Radio("130.130", "gliders"),),
    "runways": (Runway("08/26", 84.0, 900.0, 40.0, "asphalt", True),),
}


@pytest.mark.parametrize("name", sorted(HOME_VALUES))
@pytest.mark.parametrize("code", ["000", "777"])
def test_fields_and_channels_are_told(code: str, name: str) -> None:
    changed = {w.code: replace(w, **{name: HOME_VALUES[name]}) if w.code == code else w for w in (HOME, NEAR)}
    waypoints = {"000": changed["000"]}
    before = page_of(RACING, catalogue=(HOME, NEAR), waypoints={"000": HOME})
    assert_told(before, page_of(RACING, catalogue=tuple(changed.values()), waypoints=waypoints), f"{code} {name}")


@pytest.mark.parametrize("part", [field.name for field in fields(Runway)])
def test_each_part_of_a_runway_is_told(part: str) -> None:
    other = Runway("10/28", 101.0, 850.0, 45.0, "concrete", True)
    home = replace(HOME, runways=(replace(HOME.runways[0], **{part: getattr(other, part)}),))
    before = page_of(RACING, waypoints={"000": HOME})
    assert_told(before, page_of(RACING, waypoints={"000": home}), part)


def test_what_only_the_page_knows_is_told() -> None:
    before = page_of(RACING)
    finding = Finding("2", "r", Severity.ERROR, (), "The finish lies beyond the border.", {})
    for what, values in {
        "date": {"date": "2027-05-15"},
        "stale": {"stale": ("point 1 (001) moved 300 m in region@4",)},
        "findings": {"findings": (finding,)},
        "mark": {"mark": "proposed, not issued"},
        "flown": {"flown": FlownSummary(3, "2027-05-14", Finished(22, 19), 104.0)},
        "other_classes": {"other_classes": ("Class Open (B) comes against you between 13:40 and 14:10.",)},
    }.items():
        assert_told(before, page_of(RACING, **values), what)


DAY_VALUES: Mapping[str, Any] = {
    "wind": {"air": Air(95.0, Wind(300.0, 40.0)), "wind": Wind(300.0, 40.0)},
    "speed": {"air": Air(105.0, Wind(240.0, 20.0))},
    "last_finish": {"last_finish": LastFinish("15:00", 9000.0, 1050.0, 80.0, "start 15:00")},
    "magnetic": {"declinations": (Declination("WMM2025", 9.9),) * 4},
    "start_opens": {"start_opens": "14:00"},
}


@pytest.mark.parametrize("name", sorted(DAY_VALUES))
def test_the_day_is_told(name: str) -> None:
    assert_told(page_of(RACING), page_of(RACING, day=day_of(RACING, **DAY_VALUES[name])), name)


# -- the list itself ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("task", [RACING, AREAS, DECLARED, MODIFIED], ids=lambda task: task.type.value)
def test_all_that_the_template_is_given_has_a_label(task: Task) -> None:
    content = _content(page_of(task), Units.KM)
    assert set(content) - DRAWN - NAMED_ELSEWHERE == set(_TOLD) | _TOLD_ABOVE


@pytest.mark.parametrize("task", [RACING, AREAS, DECLARED, MODIFIED], ids=lambda task: task.type.value)
def test_every_word_of_a_page_is_in_its_list(task: Task) -> None:
    """The page's own titles and cautions aside, which never change."""
    page = page_of(task)
    empty = page_of(
        replace(task, name="–", variant=None, class_name=None),
        catalogue=(), waypoints={}, day=None, contest=None, findings=(), stale=(),
    )  # fmt: skip
    listed = " ".join(f"{part.title} {v.what} {v.text}" for part in parts_of(page, Units.KM) for v in part.values)
    fixed = {word.strip("(),;:.·") for word in words_on(empty)}
    missing = {word.strip("(),;:.·") for word in words_on(page)} - fixed - TITLES - {""}
    assert not {word for word in missing if word not in listed}


def test_equal_pages_have_nothing_to_tell() -> None:
    assert page_changes(parts_of(page_of(AREAS), Units.KM), parts_of(page_of(AREAS), Units.KM)) == ()
