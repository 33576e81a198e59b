"""The day for people: sun, wind, times over points, the last expected finish against the legal end."""

from __future__ import annotations

from typing import TYPE_CHECKING

from taskdb.cli.render import numbers
from taskdb.cli.render.console import right
from taskdb.core.contests.scopes import scope_words, scopes_of
from taskdb.core.contests.setting_kinds import wind_from_value
from taskdb.core.contests.settings import SETTINGS, Reach
from taskdb.core.kinds import LegalEnd
from taskdb.core.model import Scope
from taskdb.core.quantities import Units, Wind, format_duration, format_wind
from taskdb.core.revision_words import own_words

if TYPE_CHECKING:
    import datetime
    from collections.abc import Sequence

    from taskdb.cli.render.console import Cell, Printer
    from taskdb.core.course.day import DaySheet, SunTimes
    from taskdb.core.course.schedule import Timetable
    from taskdb.services.contests.day import DayShown

CAUTION = "Times are a planning aid: they know no weather, and the contest's officials and the pilot in command decide."

_RULE_WORDS = {
    LegalEnd.SUNSET: "sunset",
    LegalEnd.SUNSET_30: "30 minutes after sunset",
    LegalEnd.CIVIL_DUSK: "end of civil dusk",
}


def show_contest_day(printer: Printer, shown: DayShown) -> None:
    """Show a contest's day as it holds for all or for a class, and what classes have of their own on it."""
    day, holding = shown.day, shown.holding
    who = "" if holding.class_name is None else f", class {holding.class_name}"
    printer.heading(f"{shown.contest.name}, day {day.number}{who} (revision {shown.revision})")
    printer.pairs(
        [
            ("date", day.date),
            *_held_rows(shown, printer.units),
            *sun_rows(shown.sun, shown.timezone),
            ("legal end of day", legal_end_words(shown.legal_end, shown.legal_end_is_set, shown.legal_end_at)),
        ]
    )
    if holding.class_name is None:
        for scope in scopes_of(shown.contest):
            if scope.class_name is not None and scope.day == day.number:
                printer.line(f"{scope_words(scope)}: {', '.join(own_words(shown.contest, scope))}")
    for note in shown.notes:
        printer.line(f"note: {note}")
    printer.line(CAUTION, style="dim")


_OF_THE_DAY = ("start", "finish", "day", "speeds", "briefing")


def _held_rows(shown: DayShown, units: Units) -> list[tuple[str, Cell]]:
    """Return a row for each value that is set and holds, with whose it is where that is not the day itself."""
    rows: list[tuple[str, Cell]] = []
    for setting in SETTINGS:
        held = shown.holding.values[setting.key]
        if setting.group not in _OF_THE_DAY or setting.reach is Reach.CONTEST or held.scope is None:
            continue
        words = setting.show(held.value)
        if setting.key == "wind":
            words = wind_words(wind_from_value(held.value))
        elif setting.kind == "speed":
            words = numbers.speed(held.value, units) or words
        elif setting.kind == "time":
            words = f"{words} {shown.timezone or 'local'}"
        is_own = held.scope == Scope(None, shown.day.number)
        rows.append((setting.words, words if is_own else f"{words} ({held.whose})"))
    return rows


def wind_words(wind: Wind) -> str:
    """Return a wind in words, in the unit in which it was typed: `from 240° true at 15 kt`."""
    direction, _, speed = format_wind(wind).partition("/")
    return f"from {direction} true at {speed}"


def clock(moment: datetime.datetime | None) -> str | None:
    """Return a moment as `HH:MM`, cut off and not rounded up: a limit is never shown later than it is."""
    return None if moment is None else f"{moment:%H:%M}"


def sun_rows(sun: SunTimes | None, timezone: str | None) -> list[tuple[str, Cell]]:
    """Return the row with the sun's times, none where they are not known."""
    if sun is None:
        return []
    parts = [("rises", sun.sunrise), ("sets", sun.sunset), ("civil dusk", sun.civil_dusk)]
    said = ", ".join(f"{what} {clock(moment)}" for what, moment in parts if moment is not None)
    return [("sun", f"{said or 'neither rises nor sets'} ({timezone or 'UTC'})")]


def legal_end_words(rule: LegalEnd, is_set: bool, at: datetime.datetime | None) -> str:
    """Return the legal end of day in words, with whether the contest set it."""
    origin = "set by the contest" if is_set else "default; the contest has set none"
    return f"{clock(at)}, {_RULE_WORDS[rule]} ({origin})" if at is not None else f"{_RULE_WORDS[rule]} ({origin})"


def show_day_sheet(printer: Printer, sheet: DaySheet) -> None:
    """Show a task's day: wind, sun, times over points, last expected finish, what could not be told."""
    speed = None if sheet.air is None else numbers.speed(sheet.air.speed_kmh, printer.units)
    rows: list[tuple[str, Cell]] = [
        ("date", sheet.date),
        ("start opens", sheet.start_opens and f"{sheet.start_opens} {sheet.timezone or 'local'}"),
        ("wind", None if sheet.wind is None else wind_words(sheet.wind)),
        ("still-air speed", speed and f"{speed} on average, circling included ({sheet.speed_from or 'given'})"),
        *sun_rows(sheet.sun, sheet.timezone),
    ]
    if sheet.sun is not None:
        rows.append(("legal end of day", legal_end_words(sheet.legal_end, sheet.legal_end_is_set, sheet.legal_end_at)))
    finish = sheet.last_finish
    if finish is not None:
        rows.append(("last expected finish", f"{finish.at() or 'none'}: {finish.basis}"))
    printer.pairs(rows)
    if sheet.timetables:
        _flights(printer, sheet)
    for note in sheet.notes:
        printer.line(f"note: {note}")
    if sheet.timetables or sheet.sun is not None:
        printer.line(CAUTION, style="dim")


def _flights(printer: Printer, sheet: DaySheet) -> None:
    """Show one row a point: the leg to it in the wind, and the time over it on each of the task's distances."""
    flights = sheet.timetables
    columns = right("over", "heading", "ground speed", *(f"{flight.extent} distance" for flight in flights))
    middle = next(flight for flight in flights if flight.extent == "task")
    rows: list[Sequence[Cell]] = []
    for number in range(len(middle.after_s)):
        leg = middle.legs[number - 1] if number else None
        rows.append(
            (
                f"point {number}",
                None if leg is None else numbers.course(leg.heading_deg),
                None if leg is None else numbers.speed(leg.ground_kmh, printer.units),
                *(over_words(sheet, flight, number) for flight in flights),
            )
        )
    printer.table(columns, rows)


def over_words(sheet: DaySheet, flight: Timetable, number: int) -> str | None:
    """Return the time over a point: `0:45` after the start, with the time of day where the start is known."""
    after, at = flight.after_s[number], sheet.over(flight)[number]
    if after is None:
        return "cannot be made"
    lasted = format_duration(round(after / 60) * 60)
    return lasted if at is None else f"{at} ({lasted})"
