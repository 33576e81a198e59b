"""A contest for people: its page, what it sets for classes and days, and what holds for one of them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from taskdb.core.contests.scopes import (
    WHOLE,
    Holding,
    channels_at,
    day_at,
    scope_words,
    scopes_of,
    value_at,
    zone_defaults,
    zones_at,
)
from taskdb.core.contests.settings import FREQUENCIES, SETTINGS, kept_source, source_of, value_of
from taskdb.core.course.zones import describe_zone
from taskdb.core.model import Contest, Role, Zone
from taskdb.core.pasted import command_line

if TYPE_CHECKING:
    from taskdb.cli.render.console import Cell, Printer
    from taskdb.services.contests.contest import ContestShown


def show_contest_page(printer: Printer, shown: ContestShown, *, every: bool = False) -> None:
    """Show a contest: what it is, its zone defaults, what it is set to (`every`: defaults too), and what is stale."""
    contest = shown.contest
    pinned = f"{contest.set_name}@{contest.set_revision}"
    if shown.newest_set_revision > contest.set_revision:
        pinned += f" (the set has moved on to {contest.set_name}@{shown.newest_set_revision})"
    dates = " to ".join(date for date in (contest.from_date, contest.to_date) if date)
    printer.heading(f"{contest.name}, revision {shown.revision}")
    printer.pairs(
        [
            ("set", pinned),
            ("airspace", ", ".join(map(str, contest.airspace)) or None),
            ("site", contest.site),
            ("dates", dates or None),
            ("time zone", contest.timezone),
            ("tasks", shown.tasks or "none"),
            ("days", ", ".join(str(day.number) for day in contest.days) or None),
        ]
    )
    printer.line()
    _zone_defaults(printer, zone_defaults(contest, None, None), contest)
    printer.line()
    _settings(printer, contest, every=every)
    _scopes(printer, contest)
    if shown.stale_tasks:
        printer.line()
        printer.line(f"stale: {', '.join(shown.stale_tasks)}", style="warning")


def _zone_defaults(printer: Printer, zones: Mapping[Role, tuple[Zone, Any]], contest: Contest | None = None) -> None:
    """Show the default zone of each role with where it comes from; of a contest with the source that it kept."""
    rows = []
    for role in Role:
        zone, origin = zones[role]
        source = kept_source(contest, role.value) if contest is not None else None
        rows.append((role.value, zone.text, describe_zone(zone, printer.units), source or origin.value))
    printer.table(["role", "default zone", "in words", "from"], rows)


def _settings(printer: Printer, contest: Contest, *, every: bool) -> None:
    """Show what is set, and with `every` the rest at its defaults with their sources."""
    rows = []
    unset = 0
    for setting in SETTINGS:
        value, is_set = value_of(contest, setting)
        if not (is_set or every):
            unset += 1
            continue
        rows.append((setting.group, setting.words, setting.show(value), source_of(contest, setting.key)))
    for item in contest.classes:
        speeds = [f"{speed:g} km/h" if speed else "" for speed in (item.slowest_kmh, item.fastest_kmh)]
        rows.append(("classes", item.name, " to ".join(speeds) if any(speeds) else "", "set here"))
    for purpose, channel in contest.settings.get(FREQUENCIES, {}).items():
        rows.append(("frequencies", purpose, channel, "set here"))
    if rows:
        printer.table(["", "setting", "value", "where from"], rows)
    if unset:
        said = (
            f"{unset} settings at their defaults: {command_line('contest show', contest.name, options=['--defaults'])}"
        )
        printer.line(said, style="dim")


def show_pinned(printer: Printer, shown: ContestShown) -> None:
    """Show a contest whose pin was moved, and which tasks that made stale or good again."""
    show_contest_page(printer, shown)
    for label, tasks in (("becomes stale", shown.became_stale), ("is good again", shown.became_current)):
        for task in tasks:
            printer.line(f"{label}: {task}", style="warning" if tasks is shown.became_stale else "good")


def _scopes(printer: Printer, contest: Contest) -> None:
    """Show what is set for classes and days, one row a value; nothing where nothing is."""
    rows: list[tuple[Cell, ...]] = []
    for scope in scopes_of(contest):
        if scope == WHOLE:
            continue
        who, day = scope_words(scope), day_at(contest, scope)
        rows += [(who, "date", day.date)] if day is not None and day.date is not None else []
        rows += [(who, f"{role} zone", zone.text) for role, zone in zones_at(contest, scope).items()]
        values = ((setting, value_at(contest, scope, setting.key)) for setting in SETTINGS)
        rows += [(who, setting.words, setting.show(value)) for setting, value in values if value is not None]
        rows += [(who, f"channel for {what}", channel) for what, channel in channels_at(contest, scope).items()]
    if rows:
        printer.line()
        printer.table(["for", "setting", "value"], rows)


def show_holding(printer: Printer, shown: ContestShown, holding: Holding, *, every: bool) -> None:
    """Show what holds for a class on a day, and whose each value is; with `every` what is at its default too."""
    who = [f"class {holding.class_name}"] if holding.class_name is not None else []
    who += [f"day {holding.day}"] if holding.day is not None else []
    printer.heading(f"{shown.contest.name}, revision {shown.revision}: what holds for {', '.join(who)}")
    _zone_defaults(printer, holding.zones)
    rows: list[tuple[Cell, ...]] = [
        (setting.group, setting.words, setting.show(held.value), held.source if held.scope is None else held.whose)
        for setting in SETTINGS
        for held in [holding.values[setting.key]]
        if held.scope is not None or every
    ]
    rows += [("frequencies", purpose, channel, "") for purpose, channel in holding.channels.items()]
    if rows:
        printer.line()
        printer.table(["", "setting", "value", "whose"], rows)
    else:
        printer.line("Nothing is set: the defaults hold (--defaults shows them).", style="dim")
