"""What a contest sets for classes and days, and what holds for one of them, for people."""

from __future__ import annotations

from typing import TYPE_CHECKING

from taskdb.core.contests.scopes import WHOLE, Holding, channels_at, day_at, scope_words, scopes_of, value_at, zones_at
from taskdb.core.contests.settings import SETTINGS
from taskdb.core.course.zones import describe_zone
from taskdb.core.model import Contest, Role

if TYPE_CHECKING:
    from taskdb.cli.render.console import Cell, Printer
    from taskdb.services.contests.contest import ContestShown


def show_scopes(printer: Printer, contest: Contest) -> None:
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
    printer.table(
        ["role", "default zone", "in words", "from"],
        [
            (role.value, zone.text, describe_zone(zone, printer.units), origin.value)
            for role, (zone, origin) in ((role, holding.zones[role]) for role in Role)
        ],
    )
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
