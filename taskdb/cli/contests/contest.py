"""`taskdb contest …`: contests with their pinned set and zone defaults."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.typed.options import DATE
from taskdb.cli.typed.setting_options import scope_of, scope_options
from taskdb.cli.typed.zone_options import contest_zone_changes, contest_zone_options, zone_changes, zones_by_role
from taskdb.core.kinds import Earth, Role

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.reference.presets import Preset
    from taskdb.services.contests.contest import ContestListed, ContestShown


@command("contest new", writes=True)
@click.argument("name")
@click.option("--set", "set_reference", metavar="SET[@R]", shell_complete=names_of("set"), help="The set it stands on.")
@click.option("--site", metavar="CODE", shell_complete=names_of("waypoint"), help="Where it is held.")
@click.option("--from", "from_date", type=DATE, metavar="DATE", help="First day, e.g. 2027-05-14.")
@click.option("--to", "to_date", type=DATE, metavar="DATE", help="Last day.")
@click.option("--timezone", metavar="TZ", help="Time zone of its times of day, e.g. Europe/Berlin.")
@click.option("--earth", type=click.Choice([e.value for e in Earth]), help="The model for lengths (default wgs84).")
@click.option("--preset", metavar="P|FILE.toml", help="Zones and settings to begin with; see `contest presets`.")
@contest_zone_options
def new(invocation: Invocation, name: str, **given: Any) -> Answer:
    """Make a contest on a set revision, with its zone defaults.

    A role without a default takes the built-in zone: start line 1km, turn cylinder 500m, area area 20km, finish
    line 1km.
    """
    from taskdb.services.contests.contest import NewContest, new_contest

    request = NewContest(
        name=name,
        set_reference=given["set_reference"],
        site=given["site"],
        from_date=given["from_date"],
        to_date=given["to_date"],
        timezone=given["timezone"],
        earth=Earth(given["earth"]) if given["earth"] else None,
        zones=zones_by_role(given),
        preset=preset_of(given["preset"]),
    )
    return page(invocation.confirmed(lambda write: new_contest(invocation.desk, request, write)))


def page(shown: ContestShown) -> Answer:
    """Return the answer that shows a contest."""
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
            "no-zone", "No role is named.", hint=f"Give one, e.g. taskdb contest zones {name!r} --turn 'cylinder 500m'."
        )
    return page(invocation.confirmed(lambda write: set_contest_zones(invocation.desk, name, chosen, write, scope)))


@command("contest pin", writes=True)
@click.argument("name", shell_complete=names_of("contest"))
@click.argument("set_reference", metavar="SET[@R]", shell_complete=names_of("set"))
def pin(invocation: Invocation, name: str, set_reference: str) -> Answer:
    """Move a contest to a set revision.

    No task changes: those that use a point which differs there are named as stale.
    """
    from taskdb.services.contests.contest import pin_contest
    from taskdb.services.contests.plain import contest_plain

    shown = invocation.confirmed(lambda write: pin_contest(invocation.desk, name, set_reference, write))
    for text in shown.told:
        invocation.warn(text)
    result = {
        **contest_plain(shown),
        "became_stale": list(shown.became_stale),
        "became_current": list(shown.became_current),
    }
    return Answer(result, people=lambda printer: show_pinned(printer, shown))


def show_pinned(printer: Printer, shown: ContestShown) -> None:
    """Show a contest whose pin was moved, and which tasks that made stale or good again."""
    show_contest_page(printer, shown)
    for label, tasks in (("becomes stale", shown.became_stale), ("is good again", shown.became_current)):
        for task in tasks:
            printer.line(f"{label}: {task}", style="warning" if tasks is shown.became_stale else "good")


@command("contest show")
@click.argument("reference", metavar="NAME[@R]", shell_complete=names_of("contest"))
@click.option("--defaults", is_flag=True, help="Show the settings at their defaults too, with their sources.")
@scope_options
def show(invocation: Invocation, reference: str, defaults: bool, **given: Any) -> Answer:
    """Show a contest: its set, its zone defaults, its rules, what is stale.

    With --class or --day: what holds for that class or on that day, and who set it.
    """
    from taskdb.cli.render.scopes import show_holding
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
    from taskdb.services.contests.contest import list_contests

    contests = list_contests(invocation.desk)
    result = {
        "contests": [
            {
                "contest": c.name,
                "revision": c.revision,
                "set": f"{c.set_name}@{c.set_revision}",
                "site": c.site,
                "from_date": c.from_date,
                "to_date": c.to_date,
                "tasks": listed.tasks,
            }
            for listed in contests
            for c in [listed.summary]
        ]
    }
    return Answer(result, people=lambda printer: show_list(printer, contests))


def show_list(printer: Printer, contests: tuple[ContestListed, ...]) -> None:
    """Show the contests as a table."""
    from taskdb.cli.render.console import Column

    if not contests:
        printer.line("There is no contest yet. Make one: taskdb contest new NAME --set SET")
        return
    printer.table(
        ["contest", Column("revision", right=True), "set", "site", "from", "to", Column("tasks", right=True)],
        [
            (c.name, c.revision, f"{c.set_name}@{c.set_revision}", c.site, c.from_date, c.to_date, listed.tasks)
            for listed in contests
            for c in [listed.summary]
        ],
    )


def show_contest_page(printer: Printer, shown: ContestShown, *, every: bool = False) -> None:
    """Show a contest: what it is, its zone defaults, what it is set to (`every`: defaults too), and what is stale."""
    from taskdb.cli.render.scopes import show_scopes

    contest = shown.contest
    pinned = f"{contest.set_name}@{contest.set_revision}"
    if shown.newest_set_revision > contest.set_revision:
        pinned += f" (the set has moved on to {contest.set_name}@{shown.newest_set_revision})"
    dates = " to ".join(date for date in (contest.from_date, contest.to_date) if date)
    printer.heading(f"{contest.name}, revision {shown.revision}")
    printer.pairs(
        [
            ("set", pinned),
            ("site", contest.site),
            ("dates", dates or None),
            ("time zone", contest.timezone),
            ("tasks", shown.tasks or "none"),
            ("days", ", ".join(str(day.number) for day in contest.days) or None),
        ]
    )
    printer.line()
    show_zone_defaults(printer, shown)
    printer.line()
    show_settings(printer, shown, every=every)
    show_scopes(printer, contest)
    if shown.stale_tasks:
        printer.line()
        printer.line(f"stale: {', '.join(shown.stale_tasks)}", style="warning")


def show_zone_defaults(printer: Printer, shown: ContestShown) -> None:
    """Show the default zone of each role, and where it comes from."""
    from taskdb.core.contests.scopes import zone_defaults
    from taskdb.core.contests.settings import kept_source
    from taskdb.core.course.zones import describe_zone

    defaults = zone_defaults(shown.contest, None, None)
    printer.table(
        ["role", "default zone", "in words", "from"],
        [
            (
                role.value,
                zone.text,
                describe_zone(zone, printer.units),
                kept_source(shown.contest, role.value) or origin.value,
            )
            for role, (zone, origin) in ((role, defaults[role]) for role in Role)
        ],
    )


def show_settings(printer: Printer, shown: ContestShown, *, every: bool) -> None:
    """Show what is set, and with `every` the rest at its defaults with their sources."""
    from taskdb.core.contests.settings import FREQUENCIES, SETTINGS, source_of, value_of

    contest = shown.contest
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
        said = f"{unset} settings at their defaults: taskdb contest show {contest.name!r} --defaults"
        printer.line(said, style="dim")
