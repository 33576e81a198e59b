"""Flights for people: a line a log, what a task's day adds up to, what is to be said of logs, what was kept."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from taskdb.cli.render import numbers
from taskdb.cli.render.console import Cell, right
from taskdb.cli.render.flown import difference_words, logs_words
from taskdb.core.flights.plain import utc_text
from taskdb.core.numbers import counted
from taskdb.core.quantities import format_duration

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.flights.places import StoodPlace
    from taskdb.core.model import Waypoint
    from taskdb.core.quantities import Units
    from taskdb.services.flights.places import FlightPlaces, Unmarked
    from taskdb.services.flights.reading import FlightShown, FlightsRead, SavedDay, TaskDay

CAUTION = (
    "No scoring: what these logs tell is for the library. The contest's own rules and officials decide what counts."
)


def show_flights(printer: Printer, read: FlightsRead, saved: Sequence[SavedDay] | None) -> None:
    """Show each log with the task that it flew, the days, problems, and what was kept."""
    columns = ["log", "task", *right("start UTC", "finish UTC", "time", "speed", "distance"), "end"]
    printer.table(columns, [_row(shown, printer.units) for shown in read.flights])
    for words in _minimum_times(read):
        printer.line(words, style="dim")
    printer.line()
    for day in read.days:
        printer.line(_day_words(day, printer.units))
    if not read.days:
        printer.line("No flight flew a task that it was held against.")
    if any(shown.flight.problems for shown in read.flights):
        printer.line()
    for shown in read.flights:
        for problem in shown.flight.problems:
            printer.line(f"{shown.log.name}: {problem}", style="warning")
    if saved is not None:
        printer.line()
        _show_saved(printer, saved)
    printer.line()
    printer.line(CAUTION)


def _minimum_times(read: FlightsRead) -> Iterator[str]:
    """Yield by task over which time speeds are told where flights took less: a reader would divide and be puzzled."""
    said = set()
    for shown in read.flights:
        flown, candidate = shown.flight.flown, shown.candidate
        if flown is None or candidate is None or flown.time_s is None or candidate.title in said:
            continue
        least_s = candidate.task.time_s
        if flown.credited is not None and least_s is not None and flown.time_s < least_s:
            said.add(candidate.title)
            yield (
                f"{candidate.task.name}: who took less than the minimum time of {format_duration(least_s)} is told "
                "the speed over that."
            )


def _row(shown: FlightShown, units: Units) -> list[Cell]:
    flight, flown = shown.flight, shown.flight.flown
    if shown.candidate is None or flown is None:
        return [shown.log.name, None, None, None, None, None, None, None]
    start, finish = (_clock(flight.date, at) for at in (flown.start_s, flown.finish_s))
    time = None if flown.time_s is None else format_duration(flown.time_s)
    return [
        shown.log.name, shown.task, start, finish, time, numbers.speed(flown.speed_kmh, units),
        numbers.distance(flown.distance_m, units), _end(shown),
    ]  # fmt: skip


def _end(shown: FlightShown) -> str:
    if not shown.counts:
        return "told by another log"
    if shown.flight.flown is not None and shown.flight.flown.is_finished:
        return "finished"
    return "near no waypoint" if shown.ended_near is None else f"near {shown.ended_near}"


def _clock(date: str | None, at_s: float | None) -> str | None:
    """Return a time of day in UTC, `11:02:03`."""
    return None if at_s is None else utc_text(date, at_s)[-9:-1]


def _day_words(day: TaskDay, units: Units) -> str:
    told = day.told
    speeds = "" if told.best_kmh is None else f", best {numbers.speed(told.best_kmh, units)}"
    if told.median_kmh is not None and told.finishers > 1:
        speeds += f", median {numbers.speed(told.median_kmh, units)}"
    return (
        f"{day.candidate.title} on {day.flown_on}: {told.finishers} of {told.starters} finished{speeds}; "
        f"{logs_words(told)}."
    )


def _show_saved(printer: Printer, saved: Sequence[SavedDay]) -> None:
    for one in saved:
        title = f"{one.contest}:{one.task}" if one.contest else one.task
        state = "kept" if one.changed else "already kept: these logs told the same before"
        printer.line(f"{title} on {one.flown_on}: {state}", style="good" if one.changed else None)
        if differ := difference_words(one.record, printer.units):
            printer.line(differ, style="warning")
    if not saved:
        printer.line("Nothing to keep.")


# -- places ------------------------------------------------------------------------------------------------------


def show_places(printer: Printer, found: FlightPlaces) -> None:
    """Show where gliders stood: at which waypoints, away from which aerodromes, and at no waypoint."""
    units = printer.units
    printer.heading(f"{found.at}: where gliders stood, by {counted(found.logs, 'log')}")
    heads = right("days", "take-offs", "landings", "GNSS altitude")
    if found.marked:
        rows = [_at(*marks.waypoints[0], marks.place, units) for marks in found.marked]
        printer.table(["at", "name", *right("off"), *heads], rows)
    for one in found.misplaced:
        slip = "" if one.slip is None else f"; {one.slip.words}, which leads there"
        others = f" (or of {', '.join(one.others)})" if one.others else ""
        printer.line(
            f"{one.waypoint.code} {one.waypoint.name!r} lies {numbers.short_distance(one.away_m, units)} from where "
            f"gliders took off on {counted(len(one.place.take_off_days), 'day')}{slip}{others}.",
            style="warning",
        )
    if found.unmarked:
        printer.line()
        printer.line("Marked by no waypoint within 1.5 km, candidates to add once somebody has looked at them:")
        rows = [
            [numbers.position(one.place.position), *_stood(one.place), _beside(one, units)] for one in found.unmarked
        ]
        printer.table(["position", *heads, "nearest"], rows)
    if not (found.marked or found.unmarked):
        printer.line("No log tells where its glider stood.")
    printer.line()
    printer.line("Gliders stand where fields are, not where they may be landed on: look before you add or mend.")


def _at(off_m: float, waypoint: Waypoint, place: StoodPlace, units: Units) -> list[Cell]:
    return [waypoint.code, waypoint.name, numbers.short_distance(off_m, units), *_stood(place)]


def _stood(place: StoodPlace) -> list[Cell]:
    altitude = None if place.gnss_altitude_m is None else f"{place.gnss_altitude_m:.0f} m"
    return [len(place.days), place.take_offs or None, place.landings or None, altitude]


def _beside(one: Unmarked, units: Units) -> str | None:
    if one.perhaps:
        return f"perhaps {', '.join(one.perhaps)}"
    if one.nearest is None:
        return None
    away_m, waypoint = one.nearest
    return f"{numbers.short_distance(away_m, units)} from {waypoint.code}"
