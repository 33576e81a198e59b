"""The day of a contest and of its tasks: date, start, wind and speed kept; sun, magnetic north and times from them."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from taskdb.core.contests.scopes import Holding, flying_day, require_scope, set_values, speeds_expected, what_holds
from taskdb.core.contests.setting_kinds import wind_value
from taskdb.core.course.day import (
    DEFAULT_LEGAL_END,
    DaySheet,
    Declination,
    LegalEnd,
    SunTimes,
    last_finish,
    legal_end_of,
    legal_end_rule,
    magnetic_courses,
    still_air,
    wind_of,
)
from taskdb.core.course.measure import Course
from taskdb.core.course.regions import counted_position
from taskdb.core.course.schedule import Timetable, timetables
from taskdb.core.model import Contest, ContestDay, Place, Position, Scope, Task
from taskdb.core.quantities import Wind
from taskdb.errors import NotFoundError, UsageError
from taskdb.reference.magnetic import declination
from taskdb.reference.sun import find_timezone, sun_times
from taskdb.services.desk import Desk, Write
from taskdb.services.references import resolve_contest, resolve_set
from taskdb.store import contests as contest_rows, sets as set_rows

if TYPE_CHECKING:
    from sqlalchemy import Connection


CLEARED = {
    "date": "date",
    "start-opens": "start_opens",
    "wind": "wind",
    "speed": "speed_kmh",
}
"""What of a contest's day can be emptied by name, and the key of its setting (the date is none)."""


@dataclass(frozen=True)
class DayChange:
    """What is to be kept with a contest's day; None leaves what stands, `cleared` (names of `CLEARED`) empties it.

    `values` are plain values of any settings by key; None among them takes one away.
    """

    date: str | None = None
    start_opens: str | None = None
    wind: Wind | None = None
    speed_kmh: float | None = None
    cleared: tuple[str, ...] = ()
    values: Mapping[str, Any] = field(default_factory=dict)

    @property
    def is_empty(self) -> bool:
        return self == DayChange()

    @property
    def settings(self) -> dict[str, Any]:
        """Return what is to be set by key, emptied ones as None; the date is no setting."""
        given = {
            "start_opens": self.start_opens,
            "wind": None if self.wind is None else wind_value(self.wind),
            "speed_kmh": self.speed_kmh,
        }
        emptied = {CLEARED[name]: None for name in self.cleared if name != "date"}
        return {**emptied, **self.values, **{key: value for key, value in given.items() if value is not None}}


@dataclass(frozen=True)
class DayShown:
    """A contest's day with the sun on it; times local in `timezone`, the sun's in UTC where that is None.

    `holding` is what holds on it for everybody, or for the class that was named.
    """

    contest: Contest
    revision: int
    day: ContestDay
    timezone: str | None
    sun: SunTimes | None
    legal_end: LegalEnd
    legal_end_is_set: bool
    notes: tuple[str, ...]
    holding: Holding

    @property
    def legal_end_at(self) -> datetime.datetime | None:
        return None if self.sun is None else legal_end_of(self.sun, self.legal_end)


def set_day(
    desk: Desk, name: str, number: int, change: DayChange, write: Write, class_name: str | None = None
) -> DayShown:
    """Keep what is given with day `number` of a contest, for all or for one class, as a new revision if it is new.

    A day of which nothing is left is taken out. UsageError for a class that is not there, and for a class's own date.
    """
    scope = Scope(class_name, number)
    if class_name is not None and (change.date is not None or "date" in change.cleared):
        raise UsageError(
            "date-of-a-class", "A day has one date for all classes.", hint="Leave out --class, or the date."
        )
    with desk.writing(write) as writing:
        c = writing.connection
        head = contest_rows.lock_contest(writing, resolve_contest(c, name).id)
        before = contest_rows.contest_at(c, head.id, head.newest)
        after = set_values(_with_date(before, number, change), change.settings, scope)
        if after == before:
            writing.abandon()
        else:
            head = contest_rows.write_contest(writing, head, after)
        return _shown(c, after, head.newest, day_of(after, number) or ContestDay(number), class_name)


def _with_date(contest: Contest, number: int, change: DayChange) -> Contest:
    if change.date is None and "date" not in change.cleared:
        return contest
    day = replace(day_of(contest, number) or ContestDay(number), date=change.date)
    others = tuple(one for one in contest.days if one.number != number)
    return replace(contest, days=tuple(sorted((*others, day), key=lambda one: one.number)))


def show_day(desk: Desk, name: str, number: int, class_name: str | None = None) -> DayShown:
    """Return day `number` of a contest as it holds for all or for a class. NotFoundError with the days that there are.

    UsageError for a class that is not there.
    """
    with desk.store.reading() as c:
        head = resolve_contest(c, name)
        contest = contest_rows.contest_at(c, head.id, head.newest)
        day = day_of(contest, number)
        if day is None:
            there = ", ".join(str(one.number) for one in contest.days)
            raise NotFoundError(
                "day-not-found",
                f"The contest {contest.name!r} has no day {number}." + (f" Its days: {there}." if there else ""),
                hint=f"`taskdb contest day {contest.name!r} {number} --date DATE` makes it.",
            )
        require_scope(contest, Scope(class_name, number))
        return _shown(c, contest, head.newest, day, class_name)


def day_of(contest: Contest, number: int | None) -> ContestDay | None:
    """Return the contest's day of that number, or None."""
    return next((day for day in contest.days if day.number == number), None)


def contest_of(c: Connection, name: str | None) -> Contest | None:
    """Return a contest at its newest revision, None for no name."""
    if name is None:
        return None
    head = resolve_contest(c, name)
    return contest_rows.contest_at(c, head.id, head.newest)


def _shown(c: Connection, contest: Contest, revision: int, day: ContestDay, class_name: str | None) -> DayShown:
    zone, zone_name, notes = _timezone(contest)
    holding = what_holds(contest, class_name, day.number)
    rule, is_set = _legal_end(holding, notes)
    sun = None
    site = _site(c, contest)
    if day.date is not None and site is None:
        notes.append(f"no sun times: the contest has no site (`taskdb contest edit {contest.name!r} --site CODE`)")
    elif day.date is not None and site is not None:
        sun = sun_times(site, day.date, zone or datetime.UTC)
        notes.extend(_sun_notes(sun, rule))
    if day.date is not None and not _is_within(contest, day.date):
        notes.append(f"{day.date} is not within the contest's dates, {contest.from_date} to {contest.to_date}")
    same = [one.number for one in contest.days if one.date == day.date and one.number != day.number]
    if day.date is not None and same:
        notes.append(f"day {same[0]} has the same date")
    return DayShown(contest, revision, day, zone_name, sun, rule, is_set, tuple(notes), holding)


def day_sheet(
    c: Connection, task: Task, course: Course, given: DayChange | None = None, *, by: Contest | None = None
) -> DaySheet | None:
    """Return what is known of a task's day: what holds for its class on it now, with what is `given` in its place.

    `by` is the contest as it stood at another time, whose day counts instead.
    None where nothing is known: no contest behind the task and nothing given. What cannot be told is noted.
    """
    contest = by or contest_of(c, task.contest)
    known = day_of(contest, task.day) if contest is not None else None
    holding = what_holds(contest, task.class_name, task.day)
    is_given = given is not None and not given.is_empty
    is_known = is_given or known is not None or any(holding.get(key) for key in ("start_opens", "speed_kmh"))
    if not is_known and (contest is None or contest.from_date is None):
        return None
    day = flying_day(holding, known.date if known is not None else None, task.day or 0)
    if given is not None and is_given:
        # What is given for this once is the nearest, nearer than the task's own speed.
        day = _with_given(day, given)
        task = replace(task, speed_kmh=given.speed_kmh or task.speed_kmh)
    speed_from = _speed_from(task, holding, given)
    zone, zone_name, zone_notes = _timezone(contest)
    notes: list[str] = []
    rule, is_set = _legal_end(holding, notes)
    sun = None
    if day.date is not None:
        notes.extend(zone_notes)
        sun = sun_times(_site(c, contest) or task.points[-1].place.position, day.date, zone or datetime.UTC)
        notes.extend(_sun_notes(sun, rule))
    declinations = _declinations(task, contest, day, notes)
    air = still_air(task, day)
    flights = timetables(task, course, air) if air is not None else ()
    if is_known:
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


THE_TASK, GIVEN = "the task", "given here"


def _speed_from(task: Task, holding: Holding, given: DayChange | None) -> str | None:
    """Return whose the planned speed is: given for this once, the task's own, else that of the nearest scope."""
    if given is not None and given.speed_kmh:
        return GIVEN
    if task.speed_kmh:
        return THE_TASK
    return holding.values["speed_kmh"].whose if holding.get("speed_kmh") else None


def _with_given(day: ContestDay, given: DayChange) -> ContestDay:
    wind = given.wind or wind_of(day)
    return replace(
        day,
        date=given.date or day.date,
        start_opens=given.start_opens or day.start_opens,
        speed_kmh=given.speed_kmh or day.speed_kmh,
        wind_from_deg=None if wind is None else wind.from_deg,
        wind_speed_kmh=None if wind is None else wind.speed_kmh,
        wind_text=None if wind is None else wind.text,
    )


def _timezone(contest: Contest | None) -> tuple[datetime.tzinfo | None, str | None, list[str]]:
    if contest is None or contest.timezone is None:
        return None, None, ["no time zone is known: sun times are in UTC, and no finish is held against them"]
    zone = find_timezone(contest.timezone)
    if zone is None:
        return None, None, [f"{contest.timezone!r} is no time zone such as Europe/Berlin: sun times are in UTC"]
    return zone, contest.timezone, []


def _legal_end(holding: Holding, notes: list[str]) -> tuple[LegalEnd, bool]:
    held = holding.values["legal_end"]
    given = held.value
    try:
        return legal_end_rule({} if held.scope is None else {"legal_end": given})
    except ValueError:
        notes.append(f"{given!r} is no legal end of day: {', '.join(LegalEnd)}; {DEFAULT_LEGAL_END} is taken")
        return DEFAULT_LEGAL_END, False


def _site(c: Connection, contest: Contest | None) -> Position | None:
    if contest is None or contest.site is None:
        return None
    at = resolve_set(c, f"{contest.set_name}@{contest.set_revision}")
    waypoint = set_rows.waypoint_at(c, at.head.id, at.revision, contest.site)
    return None if waypoint is None else waypoint.position


def _is_within(contest: Contest, date: str) -> bool:
    return (contest.from_date or date) <= date <= (contest.to_date or date)


def _sun_notes(sun: SunTimes, rule: LegalEnd) -> Iterable[str]:
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
        declination(counted_position(point), date, elevation_m=_elevation_m(point.place)) for point in task.points[:-1]
    )
    notes.extend(one.note for one in found if one.note is not None)
    return found


def _elevation_m(place: Place) -> float:
    return place.elevation_m or 0.0


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
