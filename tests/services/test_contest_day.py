"""A contest's day is kept with revisions, and its tasks are shown with sun, north and times from it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from taskdb.core.contests.days import DayChange
from taskdb.core.course.schedule import Extent
from taskdb.core.model import ContestDay
from taskdb.core.quantities import Wind
from taskdb.errors import NotFoundError
from taskdb.services.contests.contest import NewContest, new_contest, show_contest
from taskdb.services.contests.day import set_day, show_day
from taskdb.services.sets.importing import ImportRequest, import_set
from taskdb.services.tasks.day import day_sheet
from taskdb.services.tasks.task import NewTask, PointRequest, new_task, show_task
from tests.services.conftest import REGION


def filled(desk, write, csv_file):
    import_set(desk, ImportRequest(csv_file(REGION), "region"), write())
    dates = {"from_date": "2027-05-14", "to_date": "2027-05-20"}
    new_contest(desk, NewContest("Cup", "region", site="001", timezone="Europe/Berlin", **dates), write())


@pytest.fixture
def cup(built, write, csv_file):
    return built(filled, write, csv_file)


FRIDAY = DayChange(date="2027-05-14", start_opens="13:15", wind=Wind(240, 28), speed_kmh=90)


def triangle(desk, write, name="A", contest="Cup", day=1, **given):
    points = tuple(PointRequest(code) for code in ("001", "003", "004", "001"))
    return new_task(desk, NewTask(name, points, contest=contest, day=day, **given), write())


def test_what_is_kept_stays_until_it_is_given_anew(cup, write):
    first = set_day(cup, "Cup", 1, FRIDAY, write())
    assert (first.revision, first.day) == (2, ContestDay(1, "2027-05-14", "13:15", 240, 28, 90))
    second = set_day(cup, "Cup", 1, DayChange(start_opens="13:45"), write())
    assert (second.revision, second.day) == (3, replace(first.day, start_opens="13:45"))
    assert set_day(cup, "Cup", 1, DayChange(start_opens="13:45"), write()).revision == 3
    set_day(cup, "Cup", 3, DayChange(date="2027-05-16"), write())
    assert [day.number for day in show_contest(cup, "Cup").contest.days] == [1, 3]
    assert show_contest(cup, "Cup@2").contest.days == (first.day,)


def test_a_day_shows_the_sun_at_the_site_in_the_contests_time(cup, write):
    shown = set_day(cup, "Cup", 1, FRIDAY, write())
    assert shown.sun is not None and shown.sun.sunset is not None
    # 48.872 N 11.8105 E: 20:45 summer time by astral; the same sun at 50 N 10 E sets about 12 minutes later.
    assert f"{shown.sun.sunset:%H:%M}" == "20:45"
    assert shown.legal_end_at == shown.sun.sunset
    assert not shown.legal_end_is_set
    assert shown.notes == ()


def test_odd_dates_are_noted_and_kept(cup, write):
    set_day(cup, "Cup", 1, FRIDAY, write())
    shown = set_day(cup, "Cup", 2, DayChange(date="2027-05-14"), write())
    assert shown.notes == ("day 1 has the same date",)
    shown = set_day(cup, "Cup", 2, DayChange(date="2028-05-14"), write())
    assert "not within the contest's dates" in shown.notes[0]


def test_a_day_that_is_not_there_is_not_found(cup, write):
    set_day(cup, "Cup", 1, FRIDAY, write())
    with pytest.raises(NotFoundError) as caught:
        show_day(cup, "Cup", 2)
    assert "Its days: 1" in caught.value.message
    with pytest.raises(NotFoundError):
        set_day(cup, "Cap", 1, FRIDAY, write())


def test_a_task_takes_its_day_and_follows_it(cup, write):
    set_day(cup, "Cup", 1, FRIDAY, write())
    made = triangle(cup, write)
    sheet = made.day
    assert sheet is not None and sheet.sun is not None
    flight = sheet.flight(Extent.TASK)
    assert flight is not None
    assert sheet.over(flight)[0] == "13:15"
    assert (made.course.time.kind, made.course.time.time_s) == ("expected", flight.time_s)
    assert sheet.last_finish is not None
    # Declination there about 4.3 degrees east in 2027 (WMM2025).
    offs = [
        (leg.course_true_deg - magnetic) % 360
        for leg, magnetic in zip(made.course.legs, sheet.magnetic_deg, strict=True)
    ]
    assert all(4.0 < off < 4.8 for off in offs)
    set_day(cup, "Cup", 1, DayChange(wind=Wind(60, 28)), write())
    later = show_task(cup, "A")
    assert later.revision == made.revision
    assert later.day is not None and later.day.flight(Extent.TASK) != flight


def test_what_is_not_known_is_noted_and_never_made_up(cup, write):
    set_day(cup, "Cup", 1, DayChange(date="2031-05-14"), write())
    sheet = triangle(cup, write).day
    assert sheet is not None
    assert sheet.magnetic_deg == (None, None, None)
    assert sheet.timetables == ()
    assert sheet.last_finish is None
    assert any("WMM2025 holds from 2025" in note for note in sheet.notes)
    assert any("no still-air speed" in note for note in sheet.notes)


def test_without_a_day_magnetic_courses_are_those_of_the_first_day(cup, write):
    sheet = triangle(cup, write, day=None).day
    assert sheet is not None
    assert sheet.date is None and sheet.sun is None
    assert None not in sheet.magnetic_deg
    assert sheet.notes == ("magnetic courses are those of 2027-05-14, the contest's first day",)


def test_a_task_without_a_contest_has_no_day_unless_one_is_given(cup, write):
    made = triangle(cup, write, contest=None, day=None, set_reference="region")
    assert made.day is None
    with cup.store.reading() as c:
        given = DayChange("2027-06-21", "12:00", Wind(270, 20), 100)
        sheet = day_sheet(c, made.task, made.course, given)
    assert sheet is not None and sheet.sun is not None and sheet.timezone is None
    assert any("in UTC" in note for note in sheet.notes)


def test_what_is_given_goes_before_the_contests_day_and_is_not_kept(cup, write):
    set_day(cup, "Cup", 1, FRIDAY, write())
    kept = triangle(cup, write).day
    shown = show_task(cup, "A", given_day=DayChange(wind=Wind(90, 10)))
    assert shown.day is not None and kept is not None
    assert (shown.day.date, shown.day.wind) == (kept.date, Wind(90, 10))
    assert show_task(cup, "A").day == kept


def test_a_leg_that_cannot_be_made_is_named(cup, write):
    set_day(cup, "Cup", 1, replace(FRIDAY, wind=Wind(70, 90), speed_kmh=60), write())
    sheet = triangle(cup, write).day
    assert sheet is not None
    assert any(note.startswith("leg 0 to 1 cannot be made over the task distance") for note in sheet.notes)
