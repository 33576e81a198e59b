"""A task sheet says what a pilot must set and check, in words, on a page that holds nothing but itself."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import pairwise

import pytest
from geographiclib.geodesic import Geodesic
from lxml import html

from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import (
    Acceptance,
    Contest,
    ContestDay,
    Earth,
    Finding,
    FreeChoice,
    Landable,
    Position,
    Radio,
    Role,
    Rules,
    Runway,
    Severity,
    Task,
    TaskType,
    Waypoint,
    ZoneFrom,
)
from taskdb.core.quantities import Units
from taskdb.report.sheet import render_sheet
from taskdb.report.sheet_words import position_words
from taskdb.report.sheet_zones import zone_figures
from tests import building

HOSTILE = "<script>alert(1)</script>\"'><img src=x onerror=alert(1)>{{ 7*7 }}\x00\u202e" + "W" * 300


def _task(
    *zones: str,
    type_: TaskType = TaskType.RACING,
    name: str = "Runde",
    names: str = "Ort {}",
    rules: Rules | None = None,
) -> Task:
    spots = [(48.872, 11.8105), (49.113, 12.701), (48.425, 12.508), (48.933, 11.428), (48.872, 11.8305)]
    spots = [*spots[: len(zones) - 1], spots[4]]
    stops = [
        (building.place(spot, f"{n:03d}", names.format(n), elevation_m=389.0), zone)
        for n, (spot, zone) in enumerate(zip(spots, zones, strict=True))
    ]
    return building.task(*stops, type=type_, name=name, on=("region", 3), rules=rules or Rules(), time_s=10_800)


RACING = _task("line 1km", "cylinder 500m", "keyhole 500m 90deg 10km 225", "sector 90deg 225", "cylinder 3km")
AREAS = _task("cylinder 5km", "area 20km", "area 5km..30km 040..110", "cylinder 3km", type_=TaskType.ASSIGNED_AREA)
HOME = Waypoint(
    "000",
    "Ort 0",
    Position.at(48.872, 11.8105),
    389.0,
    Landable.AERODROME,
    radio=(Radio("123.505", "launch"), Radio("122.480")),
    runways=(Runway("09/27", 94.0, 1050.0, 60.0, "grass"),),
)


def _text(document: str) -> str:
    body = html.document_fromstring(document).find("body")
    assert body is not None
    for picture in body.xpath("//svg"):
        picture.drop_tree()
    return " ".join(" ".join(body.itertext()).split())


def test_zones_are_said_in_words_with_radius_each_side_and_direction() -> None:
    text = _text(render_sheet([building.page(RACING)]))
    assert "line 1 km, 500 m each side" in text
    assert "cylinder, radius 500 m" in text
    assert "keyhole: cylinder radius 500 m and sector 90°, radius 10 km, opens towards 225°" in text
    assert "sector 90°, no limit of radius, opens towards 225°" in text
    areas = _text(render_sheet([building.page(AREAS)]))
    assert "area, radius 20 km" in areas
    assert "area, 5 km to 30 km, from 040° clockwise to 110°" in areas


def test_the_panel_gives_sides_radials_and_half_lines_as_figures() -> None:
    figures = [dict(zone_figures(point.zone)) for point in RACING.points]
    assert figures[0]["each side"] == "500 m"
    # The first leg leaves Ormsau on 67.0° true (WGS84); the line lies square to it.
    away = Geodesic.WGS84.Inverse(48.872, 11.8105, 49.113, 12.701)["azi1"]
    assert figures[0]["flown towards"] == f"{round(away):03d}°"
    assert figures[0]["lies"] == f"{round(away - 90) % 360:03d}° to {round(away + 90):03d}°"
    assert figures[2]["sides"] == "180° and 270°"
    assert figures[3]["radius"] == "no limit"
    ring = dict(zone_figures(AREAS.points[2].zone))
    assert ring == {"outer radius": "30 km", "inner radius": "5 km", "from radial": "040°", "clockwise to": "110°"}


def test_sizes_are_shown_in_the_unit_asked_for() -> None:
    assert dict(zone_figures(parse_zone("cylinder 3nmi"), Units.NMI)) == {"radius": "3 nmi"}
    assert dict(zone_figures(parse_zone("cylinder 0.5mi"), Units.KM)) == {"radius": "804.7 m"}


def test_the_time_is_named_for_what_it_is() -> None:
    assert "Minimum time 3:00" in _text(render_sheet([building.page(AREAS)]))
    assert "Expected time 3:00" in _text(render_sheet([building.page(RACING)]))
    assert "Time none set" in _text(render_sheet([building.page(replace(RACING, time_s=None))]))


def test_the_heading_says_contest_day_class_variant_revision_and_fingerprint() -> None:
    task = replace(RACING, contest="Varnpokal", day=3, class_name="Club", variant="B")
    contest = Contest("Varnpokal", "region", 3, timezone="Europe/Berlin", days=(ContestDay(3, "2027-05-14", "12:40"),))
    text = _text(render_sheet([building.page(task, contest=contest)]))
    for words in (
        "Varnpokal",
        "day 3",
        "2027-05-14",
        "class Club",
        "variant B",
        "revision 2",
        "region@3",
        "Racing task",
    ):
        assert words in text
    assert fingerprint(task) in text
    assert "Start opens 12:40 Europe/Berlin" in text


def test_minutes_of_a_position_are_never_printed_as_sixty() -> None:
    assert position_words(Position.at(48.9999999, -11.9999999)) == ("49°00.000′N", "012°00.000′W")
    assert position_words(Position.at(48.872, 11.8105)) == ("48°52.320′N", "011°48.630′E")


def test_legs_carry_distance_course_and_a_running_total_that_ends_at_the_centres_distance() -> None:
    text = _text(render_sheet([building.page(RACING)]))
    spots = [point.place.position for point in RACING.points]
    total = 0.0
    for a, b in pairwise(spots):
        line = Geodesic.WGS84.Inverse(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)
        total += line["s12"]
        row = f"{line['s12'] / 1000:.1f} km {round(line['azi1'] % 360) % 360:03d}° {total / 1000:.1f} km"
        assert row in text
    assert f"by centres {total / 1000:.1f} km" in text


def _sphere_km(a: Position, b: Position) -> float:
    # Haversine formula on the FAI sphere (R = 6371 km, FAI General Section 7.3.1.1).
    p, q = math.radians(a.latitude_deg), math.radians(b.latitude_deg)
    turn = math.radians(b.longitude_deg - a.longitude_deg)
    half = math.sin((q - p) / 2) ** 2 + math.cos(p) * math.cos(q) * math.sin(turn / 2) ** 2
    return 2 * 6371.0 * math.asin(math.sqrt(half))


def test_the_cross_check_tells_centres_ring_edges_and_the_other_earth_apart() -> None:
    spots = [point.place.position for point in RACING.points]
    sphere = sum(_sphere_km(a, b) for a, b in pairwise(spots))
    page = building.page(RACING)
    centres = page.course.distances.centres_m / 1000
    text = _text(render_sheet([page]))
    assert f"by ring edges, start and finish {centres - 3.0:.1f} km" in text
    assert f"by centres, on the sphere {sphere:.1f} km" in text
    assert f"{sphere:.1f}" != f"{centres:.1f}"
    on_sphere = building.page(replace(RACING, rules=Rules(earth=Earth.FAI_SPHERE)))
    spherical = _text(render_sheet([on_sphere]))
    assert f"by centres {sphere:.1f} km" in spherical
    assert f"by centres, on the ellipsoid {centres:.1f} km" in spherical
    assert "great circles on the FAI sphere" in spherical


def test_what_comes_off_is_said_with_its_place_and_reason() -> None:
    text = _text(render_sheet([building.page(AREAS)]))
    assert re.search(r"Taken off: 5\.0 km at the start \(.+\); 3\.0 km at the finish \(.+\)\.", text)
    assert "geodesics on the WGS84 ellipsoid" in text


def test_runways_and_channels_of_start_finish_and_landable_points_are_listed() -> None:
    text = _text(render_sheet([building.page(RACING, waypoints={"000": HOME})]))
    assert "09/27, 094° true, 1050 m × 60 m, grass" in text
    assert "123.505 launch" in text
    assert "122.480" in text


def test_a_landable_point_without_runways_or_channels_says_that_it_is_one() -> None:
    field = Waypoint("002", "Ort 2", Position.at(48.425, 12.508), landable=Landable.FIELD)
    assert "Ort 2 , field" in _text(render_sheet([building.page(RACING, waypoints={"002": field})]))


def _finding(severity: Severity, message: str, accepted: bool = False) -> Finding:
    return Finding("x", "rule", severity, ("000",), message, {}, accepted=Acceptance("a", "b") if accepted else None)


def test_findings_that_matter_stand_on_the_sheet_errors_first_and_the_others_do_not() -> None:
    findings = (
        _finding(Severity.WARNING, "second"),
        _finding(Severity.NOTE, "only a note"),
        _finding(Severity.ERROR, "first"),
        _finding(Severity.ERROR, "agreed upon", accepted=True),
    )
    text = _text(render_sheet([building.page(RACING, findings=findings)]))
    assert "error: first warning: second" in text
    assert "only a note" not in text
    assert "agreed upon" not in text


def test_a_stale_task_says_so_at_the_top() -> None:
    text = _text(render_sheet([building.page(RACING, stale=("point 2 has moved by 120 m",))]))
    assert text.index("Out of date: point 2 has moved by 120 m") < text.index("Zones")


def test_the_cautions_of_the_trade_stand_on_every_page() -> None:
    text = _text(render_sheet([building.page(RACING), building.page(AREAS)]))
    for caution in (
        "Not for primary navigation.",
        "Check current airspace, NOTAM, weather and local rules",
        "The pilot in command and the contest's own officials decide.",
        "this sheet brings the zones",
    ):
        assert text.count(caution) >= 2


def test_a_modified_task_says_what_the_pilot_may_choose() -> None:
    free = FreeChoice(4, None, ("000", "X9"), True, parse_zone("cylinder 1km"), ZoneFrom.OWN)
    text = _text(render_sheet([building.page(replace(RACING, type=TaskType.MODIFIED, free=free), catalogue=[HOME])]))
    assert (
        "After the last assigned point the pilot chooses up to 4 further points from 000 Ort 0, X9; a point may come "
        "again, but not twice in a row. At each: cylinder, radius 1 km." in text
    )


def test_a_task_starts_on_its_own_page() -> None:
    document = html.document_fromstring(render_sheet([building.page(RACING), building.page(AREAS)]))
    assert len(document.xpath("//section[@class='task']")) == 2
    assert "section.task { break-after: page; }" in document.xpath("//style")[0].text


def test_the_sheet_is_self_contained() -> None:
    text = render_sheet([building.page(RACING, waypoints={"000": HOME}, catalogue=[HOME])])
    assert set(re.findall(r"https?://[^\s\"'<]+", text)) == {"http://www.w3.org/2000/svg"}
    document = html.document_fromstring(text)
    assert not document.xpath("//script | //link | //img | //iframe | //object | //@href | //@src | //@onload")
    assert "url(" not in text
    assert "@import" not in text


def test_hostile_names_stay_text_wherever_they_stand() -> None:
    names = HOSTILE.replace("{{ 7*7 }}", "{{{{ 7*7 }}}} {}")
    task = replace(
        _task("line 1km", "cylinder 500m", "line 1km", name=HOSTILE, names=names),
        contest=HOSTILE, class_name=HOSTILE, variant=HOSTILE, set_name=HOSTILE,
        free=FreeChoice(from_codes=(HOSTILE,)),
    )  # fmt: skip
    wicked = replace(HOME, name=HOSTILE, radio=(Radio(HOSTILE, HOSTILE),), runways=(Runway(HOSTILE, surface=HOSTILE),))
    contest = Contest(HOSTILE, HOSTILE, 1, timezone=HOSTILE)
    text = render_sheet(
        [
            building.page(
                task,
                waypoints={"000": wicked},
                catalogue=[wicked],
                contest=contest,
                stale=(HOSTILE,),
                findings=(_finding(Severity.ERROR, HOSTILE),),
            )
        ]
    )
    document = html.document_fromstring(text)
    assert not document.xpath("//script | //img | //*[@onerror]")
    assert document.text_content().count("{{ 7*7 }}") > 5
    assert "\x00" not in text
    assert "\u202e" not in text
    assert "&lt;script&gt;" in text


def test_no_pages_give_a_document_that_says_so() -> None:
    assert "No task was asked for." in _text(render_sheet([]))


@pytest.mark.parametrize("role", list(Role))
def test_every_role_has_its_colour_in_the_panel(role: Role) -> None:
    assert f".card.{role.value} {{ border-left-color: #" in render_sheet([])
