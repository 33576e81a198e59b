"""`taskdb contest …`: contests with their pinned set and zone defaults, and what is known of their days."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer, records
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.typed.options import DATE, OneOf, fields_of
from taskdb.cli.typed.setting_options import (
    DAY,
    class_option,
    option_name,
    read,
    scope_of,
    scope_options,
    setting_options,
)
from taskdb.cli.typed.zone_options import contest_zone_changes, contest_zone_options, zone_changes, zones_by_role
from taskdb.core.kinds import Earth
from taskdb.core.pasted import command_line

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.reference.presets import Preset
    from taskdb.services.contests.contest import ContestShown
    from taskdb.services.contests.day import DayShown


@command("contest new", writes=True)
@click.argument("name")
@click.option("--set", "set_reference", metavar="SET[@R]", shell_complete=names_of("set"), help="The set it stands on.")
@click.option("--site", metavar="CODE", shell_complete=names_of("waypoint"), help="Where it is held.")
@click.option("--from", "from_date", type=DATE, metavar="DATE", help="First day, e.g. 2027-05-14.")
@click.option("--to", "to_date", type=DATE, metavar="DATE", help="Last day.")
@click.option("--timezone", metavar="TZ", help="Time zone of its times of day, e.g. Europe/Berlin.")
@click.option("--earth", type=OneOf(Earth), help="The model for lengths (default wgs84).")
@click.option("--preset", metavar="P|FILE.toml", help="Zones and settings to begin with; see `contest presets`.")
@contest_zone_options
def new(invocation: Invocation, name: str, **given: Any) -> Answer:
    """Make a contest on a set revision, with its zone defaults.

    A role without a default takes the built-in zone: start line 1km, turn cylinder 500m, area area 20km, finish
    line 1km.
    """
    from taskdb.services.contests.contest import NewContest, new_contest

    how = {**fields_of(NewContest, given), "zones": zones_by_role(given), "preset": preset_of(given["preset"])}
    request = NewContest(name, **how)
    return page(invocation.confirmed(lambda write: new_contest(invocation.desk, request, write)))


def page(shown: ContestShown) -> Answer:
    """Return the answer that shows a contest."""
    from taskdb.cli.render.contests import show_contest_page
    from taskdb.services.contests.plain import contest_plain

    return Answer(contest_plain(shown), people=lambda printer: show_contest_page(printer, shown))


def preset_of(name: str | None) -> Preset | None:
    """Return the preset of that name, or of a TOML file by its suffix."""
    from taskdb.files.reading import open_input
    from taskdb.reference.presets import read_preset, shipped_preset

    if name is None:
        return None
    if not name.lower().endswith(".toml"):
        return shipped_preset(name)
    with open_input(name, 1 << 20) as stream:
        return read_preset(name, stream.read())


@command("contest zones", writes=True)
@click.argument("name", shell_complete=names_of("contest"))
@contest_zone_changes
@scope_options
def zones(invocation: Invocation, name: str, **given: Any) -> Answer:
    """Change a contest's zone defaults for the roles named.

    With --class or --day for that class or day only; there `default` goes back to what holds for the others, else to
    the built-in zone. The nearer wins: the class on that day, the class, the day, the contest. Saved tasks keep their
    zones; those that took a changed default say that they are stale.
    """
    from taskdb.errors import UsageError
    from taskdb.services.contests.contest import set_contest_zones

    scope, chosen = scope_of(given), zone_changes(given)
    if not chosen:
        raise UsageError(
            "no-zone",
            "No role is named.",
            hint=f"Give one, e.g. {command_line('contest zones', name, options=['--turn', 'cylinder 500m'])}",
        )
    return page(invocation.confirmed(lambda write: set_contest_zones(invocation.desk, name, chosen, write, scope)))


@command("contest pin", writes=True)
@click.argument("name", shell_complete=names_of("contest"))
@click.argument("set_reference", metavar="SET[@R]", shell_complete=names_of("set"))
def pin(invocation: Invocation, name: str, set_reference: str) -> Answer:
    """Move a contest to a set revision.

    No task changes: those that use a point which differs there are named as stale.
    """
    from taskdb.cli.render.contests import show_pinned
    from taskdb.services.contests.contest import pin_contest
    from taskdb.services.contests.plain import contest_plain

    shown = invocation.confirmed(lambda write: pin_contest(invocation.desk, name, set_reference, write))
    invocation.warn(*shown.told)
    changed = {"became_stale": list(shown.became_stale), "became_current": list(shown.became_current)}
    result = {**contest_plain(shown), **changed}
    return Answer(result, people=lambda printer: show_pinned(printer, shown))


@command("contest show")
@click.argument("reference", metavar="NAME[@R]", shell_complete=names_of("contest"))
@click.option("--defaults", is_flag=True, help="Show the settings at their defaults too, with their sources.")
@scope_options
def show(invocation: Invocation, reference: str, defaults: bool, **given: Any) -> Answer:
    """Show a contest: its set, its zone defaults, its rules, what is stale.

    With --class or --day: what holds for that class or on that day, and who set it.
    """
    from taskdb.cli.render.contests import show_contest_page, show_holding
    from taskdb.core.contests.plain import holding_plain
    from taskdb.core.contests.scopes import WHOLE, require_scope, what_holds
    from taskdb.services.contests.contest import show_contest
    from taskdb.services.contests.plain import contest_plain

    scope = scope_of(given)
    shown = show_contest(invocation.desk, reference)
    require_scope(shown.contest, scope)
    holding = what_holds(shown.contest, scope.class_name, scope.day)
    result = {**contest_plain(shown), "holds": holding_plain(holding)}
    if scope == WHOLE:
        return Answer(result, people=lambda printer: show_contest_page(printer, shown, every=defaults))
    return Answer(result, people=lambda printer: show_holding(printer, shown, holding, every=defaults))


@command("contest list")
def list_(invocation: Invocation) -> Answer:
    """List the contests."""
    from taskdb.cli.render.console import right
    from taskdb.services.contests.contest import list_contests

    contests = list_contests(invocation.desk)
    rows = [
        (c.name, c.revision, f"{c.set_name}@{c.set_revision}", c.site, c.from_date, c.to_date, listed.tasks)
        for listed in contests
        for c in [listed.summary]
    ]

    def people(printer: Printer) -> None:
        if not contests:
            printer.line("There is no contest yet. Make one: taskdb contest new NAME --set SET")
            return
        printer.table(["contest", *right("revision"), "set", "site", "from", "to", *right("tasks")], rows)

    keys = ("contest", "revision", "set", "site", "from_date", "to_date", "tasks")
    return Answer({"contests": records(keys, rows)}, people=people)


@command("contest day", writes=True)
@click.argument("name", shell_complete=names_of("contest"))
@click.argument("number", type=click.IntRange(min=1), metavar="N")
@click.option("--date", type=DATE, metavar="DATE", help="Its date, e.g. 2027-05-14.")
@setting_options(DAY)
@class_option
@click.option(
    "--clear",
    "cleared",
    multiple=True,
    type=click.Choice(["date", *(option_name(key).removeprefix("--") for key in DAY)]),
    help="Empty a value; a day with none is taken out.",
)
def day(invocation: Invocation, name: str, number: int, class_name: str | None, **given: Any) -> Answer:
    """Keep a day's date, start, wind, speed and briefing, for all or for a class; show it with the sun.

    Without an option the day is shown. Every task of the day takes these: times over its points, last finish, magnetic
    courses. With --class they hold for that class only, and go before what holds for all; `default` goes back. What
    else differs on a day is set with --day of `contest procedure`, `briefing`, `limits` and `zones`. A planning aid, no
    weather and no promise.
    """
    from taskdb.cli.render.day import show_contest_day
    from taskdb.core.contests.days import DayChange
    from taskdb.services.contests.day import set_day, show_day
    from taskdb.services.contests.plain import contest_day_shown_plain

    names = {option_name(key).removeprefix("--"): key for key in DAY}
    emptied = {names[word]: None for word in given["cleared"] if word != "date"}
    cleared = ("date",) if "date" in given["cleared"] else ()
    change = DayChange(date=given["date"], cleared=cleared, values={**emptied, **read(DAY, given)})
    shown: DayShown = (
        show_day(invocation.desk, name, number, class_name)
        if change.is_empty
        else invocation.confirmed(lambda write: set_day(invocation.desk, name, number, change, write, class_name))
    )
    return Answer(contest_day_shown_plain(shown), people=lambda printer: show_contest_day(printer, shown))
