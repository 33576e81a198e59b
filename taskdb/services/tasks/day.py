"""The day of a task: sun, legal end, magnetic north and times over its points, from what holds for it on its day."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from taskdb.core.contests.days import DayChange, day_of, with_given
from taskdb.core.contests.scopes import Holding, flying_day, speeds_expected, what_holds
from taskdb.core.course.day import (
    DaySheet,
    Declination,
    SunTimes,
    expected_time,
    last_finish,
    legal_end_rule,
    magnetic_courses,
    still_air,
)
from taskdb.core.course.measure import Course
from taskdb.core.course.regions import counted_position
from taskdb.core.course.schedule import Timetable, timetables
from taskdb.core.course.wind import wind_of
from taskdb.core.judgement.glare import SunAt
from taskdb.core.kinds import DEFAULT_LEGAL_END, LegalEnd
from taskdb.core.model import Contest, ContestDay, Position, Task
from taskdb.reference.magnetic import declination
from taskdb.reference.sun import find_timezone, sun_position, sun_times
from taskdb.services.references import contest_of, set_under
from taskdb.store import sets as set_rows

if TYPE_CHECKING:
    from taskdb.store.engine import Connection

THE_TASK, GIVEN = "the task", "given here"


def on_its_day(
    c: Connection, task: Task, course: Course, given: DayChange | None = None, *, by: Contest | None = None
) -> tuple[Course, DaySheet | None]:
    """Return a task's course with the time that is expected on its day, and what `day_sheet` knows of that day."""
    day = day_sheet(c, task, course, given, by=by)
    if day is None:
        return course, None
    return replace(course, time=expected_time(task, course, day.timetables)), day


def day_sheet(
    c: Connection,
    task: Task,
    course: Course,
    given: DayChange | None = None,
    *,
    by: Contest | None = None,
    starts_only: bool = False,
) -> DaySheet | None:
    """Return what is known of a task's day: what holds for its class on it now, with what is `given` in its place.

    `by` is the contest as it stood at another time, whose day counts instead. `starts_only`: sun, magnetic north and
    the times over points are not asked for, which is most of the work.
    None where nothing is known: no contest behind the task and nothing given. What cannot be told is noted.
    """
    contest = by or contest_of(c, task.contest)
    known = day_of(contest, task.day)
    holding = what_holds(contest, task.class_name, task.day)
    is_given = given is not None and not given.is_empty
    is_known = is_given or known is not None or any(holding.get(key) for key in ("start_opens", "speed_kmh"))
    if not is_known and (contest is None or contest.from_date is None):
        return None
    day = flying_day(holding, known.date if known is not None else None, task.day or 0)
    if given is not None and is_given:
        # What is given for this once is the nearest, nearer than the task's own speed.
        day = with_given(day, given)
        task = replace(task, speed_kmh=given.speed_kmh or task.speed_kmh)
    speed_from = _speed_from(task, holding, given)
    zone, zone_name, zone_notes = timezone_of(contest)
    notes: list[str] = []
    rule, is_set = legal_end(holding, notes)
    sun = None
    if day.date is not None and not starts_only:
        notes.extend(zone_notes)
        sun = sun_times(site_position(c, contest) or task.points[-1].place.position, day.date, zone or datetime.UTC)
        notes.extend(sun_notes(sun, rule))
    declinations = () if starts_only else _declinations(task, contest, day, notes)
    air = still_air(task, day)
    flights = timetables(task, course, air) if air is not None and not starts_only else ()
    if is_known and not starts_only:
        notes.extend(_time_notes(day, flights, speed_from))
    speeds = speeds_expected(contest, task.class_name, task.day)
    return DaySheet(
        date=day.date,
        timezone=zone_name,
        start_opens=day.start_opens,
        air=air,
        wind=wind_of(day),
        timetables=flights,
        last_finish=last_finish(task, course, day, speeds, start_closes=holding.get("start_closes")),
        sun=sun,
        legal_end=rule,
        legal_end_is_set=is_set,
        declinations=declinations,
        magnetic_deg=magnetic_courses(course, declinations) if declinations else (),
        notes=tuple(dict.fromkeys(notes)),
        speed_from=speed_from if air is not None else None,
    )


def _speed_from(task: Task, holding: Holding, given: DayChange | None) -> str | None:
    """Return whose the planned speed is: given for this once, the task's own, else that of the nearest scope."""
    if given is not None and given.speed_kmh:
        return GIVEN
    if task.speed_kmh:
        return THE_TASK
    return holding.values["speed_kmh"].whose if holding.get("speed_kmh") else None


def timezone_of(contest: Contest | None) -> tuple[datetime.tzinfo | None, str | None, list[str]]:
    """Return a contest's time zone with its name, and what to say where none is known."""
    if contest is None or contest.timezone is None:
        return None, None, ["no time zone is known: sun times are in UTC, and no finish is held against them"]
    zone = find_timezone(contest.timezone)
    if zone is None:
        return None, None, [f"{contest.timezone!r} is no time zone such as Europe/Berlin: sun times are in UTC"]
    return zone, contest.timezone, []


def legal_end(holding: Holding, notes: list[str]) -> tuple[LegalEnd, bool]:
    """Return the rule by which a day ends, and whether it is set; what is no rule is noted, and the default taken."""
    held = holding.values["legal_end"]
    try:
        return legal_end_rule({} if held.scope is None else {"legal_end": held.value})
    except ValueError:
        notes.append(f"{held.value!r} is no legal end of day: {', '.join(LegalEnd)}; {DEFAULT_LEGAL_END} is taken")
        return DEFAULT_LEGAL_END, False


def site_position(c: Connection, contest: Contest | None) -> Position | None:
    """Return where a contest's site lies; None where it has none, or one that its set does not have."""
    if contest is None or contest.site is None:
        return None
    at = set_under(c, contest)
    waypoint = set_rows.waypoint_at(c, at.head.id, at.revision, contest.site)
    return None if waypoint is None else waypoint.position


def sun_over(place: Position, day: DaySheet | None) -> SunAt | None:
    """Return where the sun stands over a place on a day, by the contest's clock; None without date or time zone."""
    zone = find_timezone(day.timezone) if day is not None and day.timezone is not None else None
    if day is None or day.date is None or zone is None:
        return None
    midnight = datetime.datetime.combine(datetime.date.fromisoformat(day.date), datetime.time(), zone)
    return lambda minutes: sun_position(place, midnight + datetime.timedelta(minutes=minutes))


def sun_notes(sun: SunTimes, rule: LegalEnd) -> Iterable[str]:
    """Yield what the sun does not do on a day."""
    if sun.sunset is None:
        yield f"the sun does not set, or not rise, on {sun.date}"
    elif rule is LegalEnd.CIVIL_DUSK and sun.civil_dusk is None:
        yield f"it does not get dark on {sun.date}: civil dusk has no end"


def _declinations(task: Task, contest: Contest | None, day: ContestDay, notes: list[str]) -> tuple[Declination, ...]:
    """Return the declination at the beginning of each leg, on the day's date, else on the contest's first day."""
    date = day.date or (contest.from_date if contest is not None else None)
    if date is None:
        return ()
    if day.date is None:
        notes.append(f"magnetic courses are those of {date}, the contest's first day")
    found = tuple(
        declination(counted_position(point), date, elevation_m=point.place.elevation_m or 0.0)
        for point in task.points[:-1]
    )
    notes.extend(one.note for one in found if one.note is not None)
    return found


def _time_notes(day: ContestDay, flights: Sequence[Timetable], speed_from: str | None) -> Iterable[str]:
    if not flights:
        yield "no times over points: no still-air speed is known"
        return
    if day.start_opens is None:
        yield "no times of day: it is not known when the start opens"
    if wind_of(day) is None:
        yield "no wind is given: times are for calm air"
    if speed_from == THE_TASK:
        yield "the task's own planned speed is taken as the speed in still air"
    for flight in flights:
        for number, leg in enumerate(flight.legs):
            if leg.reason is not None:
                yield f"leg {number} to {number + 1} cannot be made over the {flight.extent} distance: {leg.reason}"
