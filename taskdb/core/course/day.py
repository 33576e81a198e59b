"""The day on which a task is flown: sun, magnetic north, times over its points, and when the last are expected home.

Sun and declination are looked up elsewhere and come in as values; here they are put together with the schedule. A
planning aid: the pilot in command and the contest's officials decide.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from taskdb.core.course.measure import Course, TaskTime
from taskdb.core.course.schedule import Extent, Timetable, clock_after, flight_over, minutes_of
from taskdb.core.course.wind import CALM, Air, SpeedRange, wind_of
from taskdb.core.geodesy import wrap_bearing
from taskdb.core.kinds import DEFAULT_LEGAL_END, LegalEnd
from taskdb.core.model import ContestDay, Task, TaskType
from taskdb.core.quantities import Wind, format_duration

START_WINDOW_S = 3600
"""How long after the start opens the last are expected to start (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class SunTimes:
    """The sun's times on an ISO date, local and with their zone; None for what does not happen that day."""

    date: str
    sunrise: datetime.datetime | None
    sunset: datetime.datetime | None
    civil_dusk: datetime.datetime | None


@dataclass(frozen=True, slots=True)
class Declination:
    """A declination, degrees, east positive; or None, and `note` says why."""

    model: str
    degrees: float | None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class LastFinish:
    """When the last are expected home. `at` is minutes after midnight of the day; `speed_kmh` their still-air speed.

    `basis` says in words what it is built on; `at` is None, and the reason the same, where a leg cannot be made.
    """

    last_start: str
    flight_s: float | None
    at_minutes: float | None
    speed_kmh: float | None
    basis: str

    def at(self) -> str | None:
        """Return the time of day as `HH:MM`, with `(+1)` after midnight; None where there is none."""
        return None if self.at_minutes is None else clock_after("00:00", self.at_minutes * 60)


@dataclass(frozen=True, slots=True)
class DaySheet:
    """What is known of a task's day. Times of day are local, None where what they need is not known.

    `timezone` is None where the contest has none that is known: the sun's times are then in UTC.
    `magnetic_deg` holds a magnetic course for each leg, and is empty without a date; `notes` say what could not be
    told and why.
    """

    date: str | None
    timezone: str | None
    start_opens: str | None
    air: Air | None
    wind: Wind | None
    timetables: tuple[Timetable, ...]
    last_finish: LastFinish | None
    sun: SunTimes | None
    legal_end: LegalEnd
    legal_end_is_set: bool
    declinations: tuple[Declination, ...]
    magnetic_deg: tuple[float | None, ...]
    notes: tuple[str, ...]
    speed_from: str | None = None
    """Whose the planned speed is, in words: `the task`, `class Club on day 2`; None where there is no speed."""

    def over(self, flight: Timetable) -> tuple[str | None, ...]:
        """Return the time of day over each point of a flight that starts when the start opens."""
        return tuple(
            None if after is None or self.start_opens is None else clock_after(self.start_opens, after)
            for after in flight.after_s
        )

    def flight(self, extent: Extent) -> Timetable | None:
        """Return the flight over one of the task's distances."""
        return next((one for one in self.timetables if one.extent is extent), None)

    @property
    def legal_end_at(self) -> datetime.datetime | None:
        """Return the moment at which the contest's flying day ends, None where the sun's times are not known."""
        return None if self.sun is None else legal_end_of(self.sun, self.legal_end)


def legal_end_of(sun: SunTimes, rule: LegalEnd) -> datetime.datetime | None:
    """Return when the flying day ends by the rule; None where the sun does not set, or dusk does not end."""
    if rule is LegalEnd.CIVIL_DUSK:
        return sun.civil_dusk
    if sun.sunset is None or rule is LegalEnd.SUNSET:
        return sun.sunset
    return sun.sunset + datetime.timedelta(minutes=30)


def legal_end_rule(settings: Mapping[str, Any]) -> tuple[LegalEnd, bool]:
    """Return the contest's rule from its setting `legal_end`, and whether it is set; the default otherwise.

    ValueError for a setting that is none of the rules.
    """
    given = settings.get("legal_end")
    return (DEFAULT_LEGAL_END, False) if given is None else (LegalEnd(given), True)


def still_air(task: Task, day: ContestDay) -> Air | None:
    """Return the planned speed and the wind: the task's own speed, else the day's; None where there is neither."""
    speed = task.speed_kmh or day.speed_kmh
    return Air(speed, wind_of(day) or CALM) if speed else None


def magnetic_courses(course: Course, declinations: Sequence[Declination]) -> tuple[float | None, ...]:
    """Return the magnetic course of each leg, true course less east declination where it begins; None without one."""
    return tuple(
        None
        if leg.course_true_deg is None or found.degrees is None
        else wrap_bearing(leg.course_true_deg - found.degrees)
        for leg, found in zip(course.legs, declinations, strict=True)
    )


def magnetic_between_points(course: Course, day: DaySheet | None) -> tuple[float | None, ...]:
    """Return the magnetic courses of the legs from point to point; empty where none is known."""
    if day is None or not day.magnetic_deg:
        return ()
    return magnetic_courses(replace(course, legs=course.between_points), day.declinations)


def last_finish(
    task: Task,
    course: Course,
    day: ContestDay,
    speeds: SpeedRange | None = None,
    *,
    start_closes: str | None = None,
) -> LastFinish | None:
    """Return when the last are expected home; None where no start, or neither speed nor time is known.

    `day` is the day as it holds for the task's class, `speeds` those expected in it.

    The slowest of the class start last: when the start closes, else an hour after it opens. They fly the task distance
    of a racing or declared task; of an area or modified task the minimum distance, but at least its minimum time.
    """
    if day.start_opens is None:
        return None
    slowest = speeds.slowest_kmh if speeds is not None else None
    planned = still_air(task, day)
    speed = slowest or (planned.speed_kmh if planned is not None else None)
    who = f"the slowest of {speeds.whose}" if speeds is not None and slowest else "the planned speed"
    last_start, started = _last_start(day.start_opens, start_closes)
    is_timed = task.type in (TaskType.ASSIGNED_AREA, TaskType.MODIFIED)
    if speed is None:
        if task.time_s is None:
            return None
        kind = "minimum" if is_timed else "expected"
        basis = f"start {last_start} ({started}) and the task's {kind} time {format_duration(task.time_s)}"
        return _finish(last_start, float(task.time_s), None, basis)
    air = Air(speed, wind_of(day) or CALM)
    flight = flight_over(task, course, air, Extent.MINIMUM if is_timed else Extent.TASK)
    flight = flight or flight_over(task, course, air, Extent.TASK)
    assert flight is not None  # every task has a task distance
    distance = "minimum distance" if flight.extent is Extent.MINIMUM else "task distance"
    basis = f"start {last_start} ({started}), {who} ({speed:.0f} km/h in still air) over the {distance}"
    flight_s = flight.time_s
    if flight_s is None:
        reason = next(leg.reason for leg in flight.legs if leg.reason is not None)
        return LastFinish(last_start, None, None, speed, f"{basis}: {reason}")
    if is_timed and task.time_s is not None and flight_s < task.time_s:
        flight_s = float(task.time_s)
        basis += f", but at least the minimum time {format_duration(task.time_s)}"
    return _finish(last_start, flight_s, speed, basis)


def _last_start(opens: str, closes: str | None) -> tuple[str, str]:
    if closes is not None and minutes_of(closes) > minutes_of(opens):
        return closes, "when the start closes"
    return clock_after(opens, START_WINDOW_S), "an hour after the start opens"


def _finish(last_start: str, flight_s: float, speed_kmh: float | None, basis: str) -> LastFinish:
    started = minutes_of(last_start.partition(" ")[0]) + (24 * 60 if "+" in last_start else 0)
    return LastFinish(last_start, flight_s, started + flight_s / 60, speed_kmh, basis)


def expected_time(task: Task, course: Course, flights: Sequence[Timetable]) -> TaskTime:
    """Return the task's time with the day in it: of a racing or declared task without a time of its own the flown one.

    A minimum time is set by the contest and never follows from a speed in the wind: it stays as it was measured.
    """
    if task.time_s is not None or task.type not in (TaskType.RACING, TaskType.DECLARED):
        return course.time
    flight = next((one for one in flights if one.extent is Extent.TASK), None)
    if flight is None or not flight.time_s:
        return course.time
    time_s, distances = flight.time_s, course.distances

    def speed(metres: float | None) -> float | None:
        return None if metres is None else metres * 3.6 / time_s

    return TaskTime("expected", time_s, speed(distances.minimum_m), speed(distances.task_m), speed(distances.maximum_m))
