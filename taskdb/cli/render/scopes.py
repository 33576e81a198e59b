"""What a contest sets for classes and days, and what holds for one of them: for people and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from taskdb.core.contests.scopes import WHOLE, Holding, channels_at, day_at, scope_words, scopes_of, value_at, zones_at
from taskdb.core.contests.settings import SETTINGS
from taskdb.core.course.zones import describe_zone
from taskdb.core.model import Contest, Role
from taskdb.core.plain import plain, zone_plain

if TYPE_CHECKING:
    from taskdb.cli.render.console import Cell, Printer
    from taskdb.services.contests.contest import ContestShown


def scopes_plain(contest: Contest) -> list[dict[str, Any]]:
    """Return what is set for each class, day and class on a day, as JSON; scopes that set nothing are left out."""
    found = []
    for scope in scopes_of(contest):
        values = {s.key: value for s in SETTINGS if (value := value_at(contest, scope, s.key)) is not None}
        zones, channels = zones_at(contest, scope), channels_at(contest, scope)
        if scope != WHOLE and (values or zones or channels):
            found.append(
                {
                    "class": scope.class_name,
                    "day": scope.day,
                    "zones": {role.value: zone_plain(zone) for role, zone in zones.items()},
                    "settings": plain(values),
                    "frequencies": dict(channels),
                }
            )
    return found


def holding_plain(holding: Holding) -> dict[str, Any]:
    """Return what holds for a class on a day as JSON: each value with whose it is (`from`), `default` included."""
    return {
        "class": holding.class_name,
        "day": holding.day,
        "zones": {
            role.value: {"zone": zone_plain(zone), "zone_from": origin.value}
            for role, (zone, origin) in holding.zones.items()
        },
        "settings": {
            key: {"value": plain(held.value), "from": held.whose, "source": held.source}
            for key, held in holding.values.items()
        },
        "frequencies": dict(holding.channels),
    }


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
