"""The day for people and as JSON: sun, wind, times over points, the last expected finish against the legal end."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from taskdb.cli.render import numbers
from taskdb.cli.render.console import Column
from taskdb.core.course.day import LegalEnd
from taskdb.core.day_plain import contest_day_plain, legal_end_plain, sun_plain
from taskdb.core.quantities import Units, Wind, format_bearing, format_duration

if TYPE_CHECKING:
    import datetime
    from collections.abc import Sequence

    from taskdb.cli.render.console import Cell, Printer
    from taskdb.core.course.day import DaySheet, SunTimes
    from taskdb.core.course.schedule import Timetable
    from taskdb.services.day import DayShown

CAUTION = "Times are a planning aid: they know no weather, and the contest's officials and the pilot in command decide."

_RULE_WORDS = {
    LegalEnd.SUNSET: "sunset",
    LegalEnd.SUNSET_30: "30 minutes after sunset",
    LegalEnd.CIVIL_DUSK: "end of civil dusk",
}


def contest_day_shown_plain(shown: DayShown) -> dict[str, Any]:
    """Return a contest's day as JSON."""
    return {
        "contest": shown.contest.name,
        "revision": shown.revision,
        **contest_day_plain(shown.day),
        "timezone": shown.timezone,
        "sun": sun_plain(shown.sun),
        "legal_end": legal_end_plain(shown.legal_end, shown.legal_end_is_set, shown.legal_end_at),
        "notes": list(shown.notes),
    }


def show_contest_day(printer: Printer, shown: DayShown) -> None:
    """Show a contest's day."""
    day = shown.day
    wind = None
    if day.wind_from_deg is not None and day.wind_speed_kmh is not None:
        wind = wind_words(Wind(day.wind_from_deg, day.wind_speed_kmh), printer.units)
    speed = numbers.speed(day.speed_kmh, printer.units)
    printer.heading(f"{shown.contest.name}, day {day.number} (revision {shown.revision})")
    printer.pairs(
        [
            ("date", day.date),
            ("start opens", day.start_opens and f"{day.start_opens} {shown.timezone or 'local'}"),
            ("wind", wind),
            ("planned speed", speed and f"{speed} on average in still air"),
            *sun_rows(shown.sun, shown.timezone),
            ("legal end of day", legal_end_words(shown.legal_end, shown.legal_end_is_set, shown.legal_end_at)),
        ]
    )
    for note in shown.notes:
        printer.line(f"note: {note}")
    printer.line(CAUTION, style="dim")


def wind_words(wind: Wind, units: Units) -> str:
    """Return a wind in words: `from 240° at 15.0 kt`."""
    return f"from {format_bearing(wind.from_deg)}° true at {numbers.speed(wind.speed_kmh, units)}"


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
        ("wind", None if sheet.wind is None else wind_words(sheet.wind, printer.units)),
        ("still-air speed", speed and f"{speed} on average, circling included"),
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
    columns = [Column("over", right=True), Column("heading", right=True), Column("ground speed", right=True)]
    columns += [Column(f"{flight.extent} distance", right=True) for flight in flights]
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
