"""Each setting of a contest, and each value of its days and classes, is changed, one at a time, after a hand-out.

Whatever the sheet then shows otherwise is told, old and new; what no sheet shows is listed here with its reason.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from taskdb.core.contests.scopes import set_channels, set_values, set_zones
from taskdb.core.contests.settings import SETTINGS, Reach, Setting, value_of
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import Contest, ContestClass, ContestDay, Role, Scope
from taskdb.report.sheet_page import SheetPage
from taskdb.services.contests.contest import NewContest, new_contest
from taskdb.services.desk import Desk
from taskdb.services.handing_out.changes import Editions
from taskdb.services.handing_out.handout import HandoutRequest, hand_out
from taskdb.services.handing_out.pages import page_materials, sheet_page
from taskdb.services.references import resolve_contest, resolve_task
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.tasks.keeping import reviewed
from taskdb.services.tasks.task import NewTask, PointRequest, new_task
from taskdb.store import contests as contest_rows, handouts as handout_rows
from tests.building import writing_rows
from tests.conftest import ENGINES
from tests.services.conftest import REGION
from tests.telling import silent_words, words_on

OTHER: dict[str, Any] = {
    "time": "15:47", "duration": 1260, "distance": 12_345.0, "speed": 151.0, "number": 1.7, "percent": 26.5, "count": 7,
    "height": {"m": 1777.0, "reference": "MSL", "text": "1777m MSL"}, "text": "Something else altogether",
    "wind": {"from_deg": 300.0, "speed_kmh": 41.0, "text": "300/41km/h"}, "rows": ["09:15 weather", "19:00 supper"],
    "phone": "+49 999 1234", "altitude": {"m": 2222.0, "reference": "MSL", "text": "2222m MSL"}, "pressure": 1003.0,
    "vertical": 321.0, "glide": 33.0, "angle": 11.0, "landables": ["aerodrome", "emergency"],
}  # fmt: skip
BASE: dict[str, Any] = {
    "start_opens": "13:20", "start_closes": "16:00", "speed_kmh": 95.0, "slowest_kmh": 70.0, "fastest_kmh": 110.0,
    "start_height": {"m": 1500.0, "reference": "MSL", "text": "1500m MSL"}, "start_speed_kmh": 170.0,
    "finish_height": {"m": 700.0, "reference": "MSL", "text": "700m MSL"}, "finish_closes": "19:30",
    "finish_procedure": "Call at ten kilometres.", "landing_procedure": "Land long.", "briefing_at": "10:00",
    "grid_at": "11:15", "programme": ["08:30 breakfast"], "outlanding_phone": "0123 456", "remarks": "Mind the mast.",
    "legal_end": "sunset", "event_start": True,
}  # fmt: skip
"""All of it for the whole contest, so that a value for a class or a day is nearer than each of these."""
NOT_ON_A_SHEET = {
    "working_altitude": "what follows from it is: airspace that the review finds in the way",
    "qnh_hpa": "as the working altitude",
    "earth": "a saved task keeps its own rules of measuring: it turns up with the next revision of the task",
    "start_deduction": "as the earth model",
    "finish_deduction": "as the earth model",
    "closed_within_m": "as the earth model",
    "start_on_side": "as the earth model",
    "large_from_m": "as the earth model",
    "small_shortest_percent": "as the earth model",
    "large_shortest_percent": "as the earth model",
    "large_longest_percent": "as the earth model",
    "units_height": "heights are printed in both units",
    "units_distance": "both pages are held against each other in one unit",
    "shortest_leg_m": "a limit of the review: what it finds is shown",
    "least_area_ratio": "a limit of the review",
    "declared_short_percent": "a limit of the review",
    "triangle_short_percent": "a limit of the review",
    "least_daylight_s": "a limit of the review",
    "separation_m": "a limit of the review",
    "separation_s": "a limit of the review",
    "glare_deg": "a limit of the review",
    "cover_glide": "a limit of the review",
    "cover_airspeed_kmh": "a limit of the review",
    "cover_safety_m": "a limit of the review",
    "cover_clearance_m": "a limit of the review",
    "cover_free_m": "a limit of the review",
    "cover_longest_out_m": "a limit of the review",
    "cover_landable": "a limit of the review",
}


def filled(desk, write, csv_file, tmp_path):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())
    new_contest(desk, NewContest("Cup", "region", site="001", timezone="Europe/Berlin"), write())
    day = ContestDay(1, "2027-05-14", wind_from_deg=240.0, wind_speed_kmh=20.0)
    classes = (ContestClass("Club"), ContestClass("Open"))
    change_contest(desk, write, lambda contest: replace(contest, days=(day,), classes=classes))
    change_contest(desk, write, lambda contest: set_channels(set_values(contest, BASE), {"tower": "122.480"}))
    areas = (PointRequest("003", parse_zone("area 20km")), PointRequest("004", parse_zone("area 10km")))
    points = (PointRequest("001"), *areas, PointRequest("001"))
    new_task(desk, NewTask("A", points, contest="Cup", day=1, class_name="Club", time_s=9000), write())
    hand_out(desk, HandoutRequest("Cup", 1, str(tmp_path / "day.zip")), write("handout", confirmed=True))


@pytest.fixture
def cup(built, write, csv_file, tmp_path) -> Desk:
    return built(filled, write, csv_file, tmp_path)


def change_contest(desk, write, change) -> None:
    with writing_rows(desk, write("contest edit")) as writing:
        head = contest_rows.contest_head(writing.connection, resolve_contest(writing.connection, "Cup").id)
        before = contest_rows.contest_at(writing.connection, head.id, head.newest)
        contest_rows.write_contest(writing, head, change(before))


def pages(desk: Desk) -> tuple[SheetPage, SheetPage, str]:
    """The page that was handed out, the page of now, and all that is told of the change."""
    with desk.store.reading() as c:
        head = resolve_task(c, "A", "Cup").head
        task = reviewed(c, head, head.newest)
        page = sheet_page(task, page_materials(c, [task])[0])
        contest = resolve_contest(c, "Cup")
        before = handout_rows.handed_out_before(c, contest.id, 1)
        editions = Editions(c, contest, before)
        changed = editions.changed(head, page)
        told = " ".join(value.words() for change in changed.changes for value in change.values)
        return editions.earlier_page(before[0], page), page, told


def other_value(setting: Setting, contest: Contest) -> Any:
    value, _ = value_of(contest, setting)
    if setting.kind == "switch":
        return not value
    if setting.kind == "choice":
        return next(choice for choice in setting.choices if choice != value)
    return 40.0 if setting.key == "large_longest_percent" else OTHER[setting.kind]


def assert_shown_and_told(desk: Desk, what: str, *, shown: bool = True) -> None:
    before, after, told = pages(desk)
    is_shown = words_on(before) != words_on(after)
    assert is_shown == shown, f"{what}: {'shown' if is_shown else 'not shown'} on the sheet"
    if shown:
        assert told, f"{what}: the note is silent"
        assert silent_words(before, after) == (set(), set()), what


SCOPES = {
    Reach.CONTEST: (Scope(),),
    Reach.DAY: (Scope(day=1),),
    Reach.ANY: (Scope(), Scope("Club"), Scope(day=1), Scope("Club", 1)),
}
CASES = [
    (engine, setting, scope)
    for setting in SETTINGS
    for scope in SCOPES[setting.reach]
    for engine in (ENGINES if setting.reach is Reach.CONTEST else ["sqlite"])
]
"""A sheet knows no engine: that the server keeps what is set for classes and days, test_classes_on_days asks."""


@pytest.mark.parametrize(
    ("store_url", "setting", "scope"), CASES, ids=lambda one: getattr(one, "key", one), indirect=["store_url"]
)
def test_each_setting_is_told_for_whomever_it_is_set(cup: Desk, write, setting: Setting, scope: Scope) -> None:
    change_contest(cup, write, lambda c: set_values(c, {setting.key: other_value(setting, c)}, scope))
    assert_shown_and_told(cup, setting.key, shown=setting.key not in NOT_ON_A_SHEET)


@pytest.mark.parametrize("store_url", ["sqlite"], indirect=True)
@pytest.mark.parametrize("setting", [one for one in SETTINGS if one.reach is Reach.ANY], ids=lambda one: one.key)
@pytest.mark.parametrize(
    "scope", [Scope("Open"), Scope(day=2), Scope("Open", 1)], ids=["class", "day", "class and day"]
)
def test_what_is_set_for_others_is_no_change(cup: Desk, write, setting: Setting, scope: Scope) -> None:
    change_contest(cup, write, lambda c: set_values(c, {setting.key: other_value(setting, c)}, scope))
    before, after, told = pages(cup)
    assert words_on(before) == words_on(after) and told == ""


def test_date_wind_channels_and_time_zone_are_told(cup: Desk, write) -> None:
    change_contest(cup, write, lambda c: replace(c, days=(replace(c.days[0], date="2027-05-15"),)))
    assert_shown_and_told(cup, "date")
    change_contest(cup, write, lambda c: set_channels(c, {"tower": "130.130"}))
    assert_shown_and_told(cup, "channel")
    change_contest(cup, write, lambda c: set_channels(c, {"start": "123.505"}, Scope("Club", 1)))
    assert_shown_and_told(cup, "channel of the class")
    change_contest(cup, write, lambda c: replace(c, timezone="Europe/London"))
    assert_shown_and_told(cup, "timezone")


@pytest.mark.parametrize("scope", SCOPES[Reach.ANY], ids=str)
def test_a_default_zone_that_moved_on_is_told(cup: Desk, write, scope: Scope) -> None:
    change_contest(cup, write, lambda c: set_zones(c, {Role.FINISH: parse_zone("cylinder 4km")}, scope))
    assert_shown_and_told(cup, "finish zone")
