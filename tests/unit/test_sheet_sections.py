"""The sheet's further sections: procedure and channels, landable points near the course, declared blanks, variants."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import pytest
from geographiclib.geodesic import Geodesic
from lxml import html

from taskdb.core.contests.scopes import what_holds
from taskdb.core.course.measure import measure_course
from taskdb.core.course.near_course import NEAR_COURSE_M, landable_near
from taskdb.core.model import (
    Contest,
    ContestDay,
    Landable,
    Position,
    Radio,
    Runway,
    Task,
    TaskType,
    Waypoint,
)
from taskdb.core.quantities import Units
from taskdb.errors import UsageError
from taskdb.report.map import fitting_scale, frame_of, lay_out_in
from taskdb.report.sheet import render_sheet
from taskdb.report.sheet_contest import procedure_sentences
from taskdb.report.sheet_fields import near_fields
from taskdb.report.sheet_variants import MAP_MM
from tests import building

SPOTS = [(48.872, 11.8105), (49.113, 12.701), (48.425, 12.508), (48.872, 11.8105)]


def task_of(kind: TaskType = TaskType.RACING, spots: list[tuple[float, float]] = SPOTS, name: str = "Runde") -> Task:
    zone = "area 20km" if kind is TaskType.ASSIGNED_AREA else "cylinder 500m"
    stops = building.rounds(spots, ("line 1km", *[zone] * (len(spots) - 2), "line 1km"))
    return building.task(*stops, type=kind, name=name, on=("region", 3), time_s=10_800, contest="Cup", day=1)


def text_of(document: str) -> str:
    body = html.document_fromstring(document).find("body")
    assert body is not None
    for picture in body.xpath("//svg"):
        picture.drop_tree()
    return " ".join(" ".join(body.itertext()).split())


CUP = Contest(
    "Cup",
    "region",
    3,
    timezone="Europe/Berlin",
    days=(ContestDay(1, "2027-05-14", "13:15"),),
    settings={
        "start_closes": "15:30",
        "start_height": {"m": 1500.0, "reference": "MSL", "text": "1500m MSL"},
        "start_speed_kmh": 170.0,
        "event_start": True,
        "finish_height": {"m": 701.04, "reference": "MSL", "text": "2300ft MSL"},
        "areas_by_hand": True,
        "frequencies": {"start": "122.480", "<b>safety</b>": "123.505"},
    },
)


def test_start_and_finish_are_said_as_the_contest_has_them_set() -> None:
    said = dict(procedure_sentences(task_of(), what_holds(CUP, None, 1), CUP.timezone))
    assert said["Start"] == (
        "from 13:15 to 15:30 (Europe/Berlin); below 1500m MSL (4921 ft); not faster than 170 km/h; "
        "by pilot event: 10 min after it the start is open for 10 min, at most 3 events."
    )
    # 1 ft = 0.3048 m exactly: 2300 ft are 701.04 m.
    assert said["Finish"] == "above 2300ft MSL (701 m)."
    assert "Areas" not in said
    assert "Areas" in dict(procedure_sentences(task_of(TaskType.ASSIGNED_AREA), what_holds(CUP, None, None)))
    text = text_of(render_sheet([building.page(task_of(), contest=CUP)]))
    assert "not faster than 170 km/h" in text and "122.480 start" in text and "123.505 <b>safety</b>" in text


def test_what_is_not_set_is_not_said() -> None:
    bare = replace(CUP, settings={}, days=())
    for contest in (bare, None):
        assert procedure_sentences(task_of(), what_holds(contest, None, None)) == ()
    text = text_of(render_sheet([building.page(task_of(), contest=bare)]))
    assert "Channels of the contest" not in text
    only_opens = procedure_sentences(task_of(), what_holds(replace(CUP, settings={}), None, 1), CUP.timezone)
    assert only_opens == (("Start", "opens 13:15 (Europe/Berlin)."),)


def off_the_course_m(position: Position, spots: list[tuple[float, float]]) -> float:
    """Return how far a place is from a course, by stepping along its geodesics (geographiclib)."""
    least = float("inf")
    for a, b in pairwise(spots):
        line = Geodesic.WGS84.InverseLine(*a, *b)
        for n in range(1001):
            at = line.Position(line.s13 * n / 1000)
            here = Geodesic.WGS84.Inverse(at["lat2"], at["lon2"], position.latitude_deg, position.longitude_deg)
            least = min(least, here["s12"])
    return least


def fields_at(*spots: tuple[float, float]) -> list[Waypoint]:
    strip = (Runway("07/25", length_m=500.0),)
    return [
        Waypoint(f"F{n}", f"Feld {n}", Position.at(*spot), landable=Landable.FIELD, runways=strip)
        for n, spot in enumerate(spots)
    ]


def test_landable_points_near_the_course_are_those_within_ten_kilometres_of_a_leg() -> None:
    # North and south of the middle of the first leg, behind its end, and beside the last leg.
    spots = [(49.05 + 0.0185 * n, 12.2) for n in range(-8, 9)] + [(49.19, 12.8), (49.21, 12.86), (48.6, 12.1)]
    fields = fields_at(*spots)
    listed, there = landable_near(task_of(), fields, 50)
    near = {w.code for w in fields if off_the_course_m(w.position, SPOTS) <= NEAR_COURSE_M}
    assert {one.waypoint.code for one in listed} == near and there == len(near)
    assert 3 < len(near) < len(spots)


@pytest.mark.parametrize(("off_m", "is_near"), [(9_990, True), (10_010, False)])
def test_ten_kilometres_from_a_leg_are_near_and_not_a_step_more(off_m: float, is_near: bool) -> None:
    # East of the middle of a leg along a meridian; source of the distance: geographiclib.
    beside = Geodesic.WGS84.Direct(48.5, 11.0, 90, off_m)
    fields = fields_at((beside["lat2"], beside["lon2"]))
    assert landable_near(task_of(spots=[(48.0, 11.0), (49.0, 11.0)]), fields, 9)[1] == int(is_near)


def test_aerodromes_go_first_where_there_is_no_room_for_all() -> None:
    fields = fields_at((48.95, 12.05), (49.0, 12.1), (49.02, 12.3))
    far = replace(fields[0], code="AD", position=Position.at(49.07, 12.25), landable=Landable.AERODROME)
    far = replace(far, radio=(Radio("119.865", "tower"),))
    listed, there = landable_near(task_of(), [*fields, far], 2)
    assert there == 4 and "AD" in [one.waypoint.code for one in listed]
    words = {field.code: field.words for field in near_fields(task_of(), listed, Units.KM)}["AD"]
    assert words.startswith("aerodrome, ") and "off leg Start–1" in words and words.endswith("119.865 tower")
    text = text_of(render_sheet([building.page(task_of(), catalogue=[*fields, far])]))
    assert "Landable near the course" in text and "07/25 500 m" in text


def test_the_tasks_own_points_and_what_is_not_landable_are_not_listed() -> None:
    own = Waypoint("001", "Ort 1", Position.at(*SPOTS[1]), landable=Landable.AERODROME)
    lake = Waypoint("L", "See", Position.at(49.0, 12.25), landable=Landable.NO)
    assert landable_near(task_of(), [own, lake], 9) == ((), 0)


def test_a_declared_course_has_its_distances_by_both_kinds_of_zones_and_blanks() -> None:
    task = task_of(TaskType.DECLARED)
    text = text_of(render_sheet([building.page(task)]))
    centres = sum(Geodesic.WGS84.Inverse(*a, *b)["s12"] for a, b in pairwise(SPOTS))
    # Sporting Code Section 3 (about 2008), 1.2.11: 0.5 km off each time a leg crosses a cylinder, two turn points.
    assert f"Distance by sectors {centres / 1000:.1f} km" in text
    assert f"Distance by cylinders {centres / 1000 - 2.0:.1f} km" in text
    blanks = ("Pilot", "Glider, registration", "Flight recorder", "Official observer", "Evidence", "Loss of height")
    for blank in blanks:
        assert blank in text
    # 1.2.12 and 4.4.2a: beyond 100 km 1000 m are free.
    assert "at most 1000 m, each metre more takes 100 m off" in text
    assert "no declaration" in text
    # By which way both ends are counted, whatever the turn points are claimed by.
    assert (
        "In both for start and finish nothing off start by its line: nothing off, finish by its line: nothing off"
        in text
    )
    assert "Official observer" not in text_of(render_sheet([building.page(task_of())]))


def variants_of(*tasks: Task) -> str:
    pages = [building.page(task) for task in tasks]
    return render_sheet(pages, variants_of=[pages])


def test_variants_stand_on_one_page_at_one_scale_with_their_numbers() -> None:
    small = [(48.872, 11.8105), (48.95, 12.1), (48.7, 12.0), (48.872, 11.8105)]
    document = variants_of(task_of(name="A"), task_of(spots=small, name="B"), task_of(TaskType.ASSIGNED_AREA, name="C"))
    tree = html.document_fromstring(document)
    shown = tree.xpath("//div[@class='variant']")
    assert len(shown) == 3
    # The scale is written below each map.
    scales = {re.search(r"about 1 : ([\d\u202f]+)", " ".join(one.itertext())).group(1) for one in shown}  # type: ignore[union-attr]
    assert len(scales) == 1
    for one in shown:
        words = " ".join(" ".join(one.itertext()).split())
        assert re.search(r"task \d+\.\d km", words) and "longest leg" in words
    assert "minimum" in " ".join(shown[2].itertext())


def test_the_scale_of_all_is_that_of_the_largest() -> None:
    small = task_of(spots=[(48.872, 11.8105), (48.95, 12.1), (48.7, 12.0), (48.872, 11.8105)])
    width, height = MAP_MM[2]
    scales = [fitting_scale(t, measure_course(t), width_mm=width, height_mm=height) for t in (task_of(), small)]
    assert scales[0] < scales[1]
    course = measure_course(small)
    frame = replace(frame_of([(small, course)], 60, 60), mm_per_m=scales[0])
    layout = lay_out_in(frame, small, course, Units.KM)
    assert layout.frame.mm_per_m == scales[0]
    assert all(layout.frame.holds(at) for _, at in layout.spots)


@pytest.mark.parametrize("count", [1, 5])
def test_one_task_or_five_are_no_page_of_variants(count: int) -> None:
    with pytest.raises(UsageError):
        variants_of(*[task_of(name=f"T{n}") for n in range(count)])
