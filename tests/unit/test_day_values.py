"""The day put together: legal end, last expected finish, magnetic courses, and which time is called what."""

from __future__ import annotations

import datetime

import pytest

from taskdb.core.course.day import (
    Declination,
    LegalEnd,
    SunTimes,
    expected_time,
    last_finish,
    legal_end_of,
    legal_end_rule,
    magnetic_courses,
    still_air,
)
from taskdb.core.course.measure import Course, measure_course
from taskdb.core.course.schedule import timetables
from taskdb.core.course.wind import Air, SpeedRange
from taskdb.core.model import (
    ContestDay,
    Position,
    Task,
    TaskType,
)
from taskdb.core.quantities import Wind
from tests import building

EVENING = datetime.datetime(2027, 5, 14, 20, 45, 55, tzinfo=datetime.UTC)
DUSK = EVENING + datetime.timedelta(minutes=39)
SUN = SunTimes("2027-05-14", EVENING - datetime.timedelta(hours=15), EVENING, DUSK)
PLACES = {"HOME": Position.at(50, 10), "EAST": Position.at(50, 11), "NORTH": Position.at(50.6, 10.4)}


def task(kind: TaskType = TaskType.RACING, turn: str = "cylinder 500m", **fields: object) -> tuple[Task, Course]:
    zones = {"HOME": "line 1km", "EAST": turn, "NORTH": turn}
    stops = [(building.place(PLACES[code], code, identity=code), zones[code]) for code in (*zones, "HOME")]
    made = building.task(*stops, type=kind, **fields)
    return made, measure_course(made)


@pytest.mark.parametrize(
    ("rule", "at"),
    [
        (LegalEnd.SUNSET, EVENING),
        (LegalEnd.SUNSET_30, EVENING + datetime.timedelta(minutes=30)),
        (LegalEnd.CIVIL_DUSK, DUSK),
    ],
)
def test_the_day_ends_by_the_rule_that_the_contest_sets(rule: LegalEnd, at: datetime.datetime) -> None:
    assert legal_end_of(SUN, rule) == at
    assert legal_end_rule({"legal_end": rule.value}) == (rule, True)


def test_without_a_rule_the_day_ends_at_sunset_and_says_that_nobody_set_it() -> None:
    assert legal_end_rule({}) == (LegalEnd.SUNSET, False)
    with pytest.raises(ValueError, match="midnight"):
        legal_end_rule({"legal_end": "midnight"})


@pytest.mark.parametrize("rule", LegalEnd)
def test_where_the_sun_does_not_set_the_day_has_no_end(rule: LegalEnd) -> None:
    assert legal_end_of(SunTimes("2027-06-21", None, None, None), rule) is None


def test_the_slowest_of_the_class_start_last_and_fly_the_task_distance() -> None:
    racing, course = task(class_name="Club")
    club = SpeedRange(60.0, 110.0, "class Club")
    found = last_finish(racing, course, ContestDay(1, start_opens="13:00", speed_kmh=100), club)
    assert found is not None and found.flight_s is not None
    assert found.speed_kmh == 60
    assert found.last_start == "14:00"
    assert found.flight_s == pytest.approx(course.distances.task_m / (60 / 3.6))
    assert found.at_minutes == pytest.approx(14 * 60 + found.flight_s / 60)
    assert "class Club" in found.basis


def test_when_the_start_closes_is_when_the_last_start() -> None:
    racing, course = task()
    day = ContestDay(1, start_opens="13:00", speed_kmh=100)
    found = last_finish(racing, course, day, start_closes="14:30")
    assert found is not None and found.last_start == "14:30"
    # A time before the opening is no closing of this start.
    other = last_finish(racing, course, day, start_closes="12:30")
    assert other is not None and other.last_start == "14:00"


def test_in_an_area_task_the_minimum_time_is_the_least() -> None:
    areas, course = task(TaskType.ASSIGNED_AREA, "area 20km", time_s=3 * 3600)
    assert course.distances.minimum_m is not None
    fast = last_finish(areas, course, ContestDay(1, start_opens="13:00", speed_kmh=120))
    assert fast is not None and fast.flight_s == 3 * 3600
    assert "minimum time 3:00" in fast.basis
    slow = last_finish(areas, course, ContestDay(1, start_opens="13:00", speed_kmh=30))
    assert slow is not None and slow.flight_s == pytest.approx(course.distances.minimum_m / (30 / 3.6))
    assert "minimum distance" in slow.basis


def test_a_time_without_a_speed_serves_and_nothing_known_gives_nothing() -> None:
    timed, course = task(time_s=9000)
    found = last_finish(timed, course, ContestDay(1, start_opens="13:00"))
    assert found is not None and found.at() == "16:30"
    assert "expected time 2:30" in found.basis
    untimed, course = task()
    assert last_finish(untimed, course, ContestDay(1, start_opens="13:00")) is None
    assert last_finish(untimed, course, ContestDay(1, speed_kmh=90)) is None


def test_a_leg_that_cannot_be_made_leaves_no_finish_and_says_why() -> None:
    racing, course = task()
    day = ContestDay(1, start_opens="13:00", wind_from_deg=90, wind_speed_kmh=80, speed_kmh=70)
    found = last_finish(racing, course, day)
    assert found is not None and found.at() is None
    assert "from ahead" in found.basis


def test_a_finish_after_midnight_says_so() -> None:
    racing, course = task()
    found = last_finish(racing, course, ContestDay(1, start_opens="23:30", speed_kmh=90))
    assert found is not None and found.last_start == "00:30 (+1)"
    assert found.at() is not None and str(found.at()).endswith("(+1)")


def test_a_magnetic_course_is_the_true_one_less_an_east_declination() -> None:
    _, course = task()
    east = Declination("M", 4.0)
    west = Declination("M", -21.0)
    none = Declination("M", None, "no")
    found = magnetic_courses(course, (east, west, none))
    true = [leg.course_true_deg or 0.0 for leg in course.legs]
    assert found[0] == pytest.approx(true[0] - 4.0)
    assert found[1] == pytest.approx((true[1] + 21.0) % 360)
    assert found[2] is None


def test_an_expected_time_follows_from_speed_and_wind_and_a_minimum_time_never_does() -> None:
    wind = Wind(240, 30)
    racing, course = task(speed_kmh=90.0)
    flights = timetables(racing, course, Air(90, wind))
    found = expected_time(racing, course, flights)
    assert (found.kind, found.time_s) == ("expected", flights[0].time_s)
    assert course.time.time_s is not None and found.time_s is not None and found.time_s > course.time.time_s
    assert found.task_kmh == pytest.approx(course.distances.task_m * 3.6 / found.time_s)
    areas, measured = task(TaskType.ASSIGNED_AREA, "area 20km", time_s=9000)
    assert expected_time(areas, measured, timetables(areas, measured, Air(90, wind))) == measured.time
    timed, set_time = task(time_s=9000)
    assert expected_time(timed, set_time, timetables(timed, set_time, Air(90, wind))).time_s == 9000


def test_the_tasks_own_speed_goes_before_the_days() -> None:
    racing, _ = task(speed_kmh=80.0)
    assert still_air(racing, ContestDay(1, speed_kmh=95)) == Air(80)
    assert still_air(task()[0], ContestDay(1, speed_kmh=95)) == Air(95)
    assert still_air(racing, ContestDay(1, wind_from_deg=10, wind_speed_kmh=5)) == Air(80, Wind(10, 5))
    assert still_air(task()[0], ContestDay(1)) is None


def test_the_contests_setting_offers_the_same_rules_with_the_same_default() -> None:
    from taskdb.core.contests.settings import BY_KEY

    assert BY_KEY["legal_end"].choices == tuple(rule.value for rule in LegalEnd)
    assert BY_KEY["legal_end"].default == legal_end_rule({})[0].value
    assert "start_closes" in BY_KEY
