"""Each setting of a contest, and each value of its days and classes, is changed, one at a time, after a hand-out.

Whatever the sheet then shows otherwise is told, old and new; what no sheet shows is listed here with its reason.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import pytest

from taskdb.core.contest_settings import FREQUENCIES, SETTINGS, Setting, value_of, with_values
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import Contest, ContestClass, ContestDay
from taskdb.report.sheet import SheetPage
from taskdb.services.contests import NewContest, new_contest
from taskdb.services.desk import Desk
from taskdb.services.handout_changes import Editions
from taskdb.services.handout_day import HandoutRequest, hand_out
from taskdb.services.references import resolve_contest, resolve_task
from taskdb.services.set_import import ImportRequest, import_set
from taskdb.services.sheet_pages import page_materials, sheet_page
from taskdb.services.tasks import NewTask, PointRequest, new_task, reviewed
from taskdb.store import contests as contest_rows, handouts as handout_rows
from tests.services.conftest import REGION
from tests.telling import silent_words, words_on

OTHER: dict[str, Any] = {
    "time": "15:47", "duration": 1260, "distance": 12_345.0, "speed": 151.0, "number": 1.7, "percent": 26.5, "count": 7,
    "height": {"m": 1777.0, "reference": "MSL", "text": "1777m MSL"}, "text": "Another text",
}  # fmt: skip
BASE: dict[str, Any] = {
    "start_closes": "16:00", "start_height": {"m": 1500.0, "reference": "MSL", "text": "1500m MSL"},
    "finish_height": {"m": 700.0, "reference": "MSL", "text": "700m MSL"},
    "start_speed_kmh": 170.0, "event_start": True, FREQUENCIES: {"tower": "122.480"}, "legal_end": "sunset",
}  # fmt: skip
NOT_ON_A_SHEET = {
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
}


@pytest.fixture
def cup(desk, write, csv_file, tmp_path) -> Desk:
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())
    new_contest(desk, NewContest("Cup", "region", site="001", timezone="Europe/Berlin"), write())
    day = ContestDay(1, "2027-05-14", "13:20", 240.0, 20.0, 95.0)
    classes = (ContestClass("Club", 70.0, 110.0), ContestClass("Open", 90.0, 140.0))
    change_contest(desk, write, lambda contest: replace(contest, days=(day,), classes=classes, settings=BASE))
    areas = (PointRequest("003", parse_zone("area 20km")), PointRequest("004", parse_zone("area 10km")))
    points = (PointRequest("001"), *areas, PointRequest("001"))
    new_task(desk, NewTask("A", points, contest="Cup", day=1, class_name="Club", time_s=9000), write())
    hand_out(desk, HandoutRequest("Cup", 1, str(tmp_path / "day.zip")), write("handout", confirmed=True))
    return desk


def change_contest(desk, write, change) -> None:
    with desk.writing(write("contest edit")) as writing:
        head = contest_rows.lock_contest(writing, resolve_contest(writing.connection, "Cup").id)
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


@pytest.mark.parametrize("setting", SETTINGS, ids=lambda setting: setting.key)
def test_each_setting_of_a_contest_is_told(cup: Desk, write, setting: Setting) -> None:
    change_contest(cup, write, lambda c: with_values(c, {setting.key: other_value(setting, c)}))
    assert_shown_and_told(cup, setting.key, shown=setting.key not in NOT_ON_A_SHEET)


DAY_VALUES: dict[str, Any] = {
    "date": "2027-05-15", "start_opens": "14:05", "wind_from_deg": 300.0, "wind_speed_kmh": 41.0, "speed_kmh": 105.0,
}  # fmt: skip


@pytest.mark.parametrize(("name", "value"), DAY_VALUES.items())
def test_each_value_of_a_day_is_told(cup: Desk, write, name: str, value: Any) -> None:
    change_contest(cup, write, lambda c: replace(c, days=(replace(c.days[0], **{name: value}),)))
    assert_shown_and_told(cup, name)


def test_channels_and_the_time_zone_are_told(cup: Desk, write) -> None:
    change_contest(cup, write, lambda c: replace(c, settings={**c.settings, FREQUENCIES: {"tower": "130.130"}}))
    assert_shown_and_told(cup, "channel")
    change_contest(cup, write, lambda c: replace(c, timezone="Europe/London"))
    assert_shown_and_told(cup, "timezone")


def test_the_slowest_of_the_class_is_told(cup: Desk, write) -> None:
    slower = (ContestClass("Club", 60.0, 110.0), ContestClass("Open", 90.0, 140.0))
    change_contest(cup, write, lambda c: replace(c, classes=slower))
    assert_shown_and_told(cup, "slowest")


def test_no_field_of_a_day_is_forgotten() -> None:
    assert {field.name for field in fields(ContestDay)} == {"number"} | set(DAY_VALUES)
