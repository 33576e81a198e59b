"""`taskdb contest procedure`, `briefing`, `limits`, `classes`, `edit`, `copy`, `log`, `presets`: what differs."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.contests.contest import page
from taskdb.cli.frame.answer import Answer, acts_if
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.typed.options import DATE, SPEED, assignments, fields_of
from taskdb.cli.typed.setting_options import (
    BRIEFING,
    EDIT,
    LIMITS,
    PROCEDURE,
    read,
    scope_of,
    scope_options,
    setting_options,
)
from taskdb.errors import UsageError

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.model import ContestClass


def _set(
    invocation: Invocation, name: str, table: Collection[str], given: dict[str, Any], example: str, **more: Any
) -> Answer:
    """Set what was typed of a table for its scope, and channels; UsageError with an example where nothing is given."""
    from taskdb.services.contests.settings import set_settings

    scope, values, channels = scope_of(given), read(table, given), more.get("channels", {})
    _require(values or channels, example)
    return page(invocation.confirmed(lambda write: set_settings(invocation.desk, name, values, channels, write, scope)))


@command("contest procedure", writes=True)
@click.argument("name", shell_complete=names_of("contest"))
@setting_options(PROCEDURE)
@click.option("--frequency", "frequencies", multiple=True, metavar="PURPOSE=CHANNEL", help="A channel; empty: none.")
@scope_options
def procedure(invocation: Invocation, name: str, frequencies: tuple[str, ...], **given: Any) -> Answer:
    """Set a contest's start, finish and day; each value may be `default`.

    With --class or --day for that class or day only; there `default` goes back to what holds for the others. The nearer
    wins: the class on that day, the class, the day, the contest. Sheets show what holds now.
    """
    channels = assignments(frequencies, option="--frequency", form="PURPOSE=CHANNEL")
    return _set(invocation, name, PROCEDURE, given, "--start-closes 15:30", channels=channels)


@command("contest briefing", writes=True)
@click.argument("name", shell_complete=names_of("contest"))
@setting_options(BRIEFING)
@scope_options
def briefing(invocation: Invocation, name: str, **given: Any) -> Answer:
    """Set what pilots are told: times, programme, telephone, finish, landing, remarks.

    Each value may be `default`. With --class or --day for that class or day only. All of it stands on the task sheet. A
    text in the next command takes the place of the one before.
    """
    return _set(invocation, name, BRIEFING, given, "--briefing-at 10:00")


@command("contest limits", writes=True)
@click.argument("name", shell_complete=names_of("contest"))
@setting_options(LIMITS)
@scope_options
def limits(invocation: Invocation, name: str, **given: Any) -> Answer:
    """Set the speeds and limits that reviews hold tasks against, and the triangle's.

    Each value may be `default`. Speeds are averages achieved in still air. With --class or --day for that class or day
    only; the triangle's limits and what closes a course are the whole contest's.
    """
    return _set(invocation, name, LIMITS, given, "--shortest-leg 10km")


@command("contest classes", writes=True)
@click.argument("name", shell_complete=names_of("contest"))
@click.option("--class", "classes", multiple=True, metavar="NAME=V..V", help="E.g. Club=60km/h..110km/h.")
@click.option("--drop", "dropped", multiple=True, metavar="NAME", help="Take a class out.")
def classes(invocation: Invocation, name: str, classes: tuple[str, ...], dropped: tuple[str, ...]) -> Answer:
    """Set a contest's classes with the slowest and fastest speeds expected in them.

    Speeds are averages achieved in still air. A class that is dropped takes along all that is set for it.
    """
    from taskdb.services.contests.settings import set_classes

    _require(classes or dropped, "--class Club=60km/h..110km/h")
    made = [contest_class(word) for word in classes]
    return page(invocation.confirmed(lambda write: set_classes(invocation.desk, name, made, dropped, write)))


def contest_class(word: str) -> ContestClass:
    """Return the class that `NAME` or `NAME=SLOWEST..FASTEST` means."""
    from taskdb.core.model import ContestClass
    from taskdb.core.names import require_name

    name, equals, speeds = word.partition("=")
    name = require_name(name, what="class")
    if not equals:
        return ContestClass(name)
    slowest, dots, fastest = speeds.partition("..")
    if not dots:
        raise UsageError("bad-range", f"--class: {speeds!r} is no range.", hint="Write Club=60km/h..110km/h.")
    low, high = (SPEED.parse(end) if end.strip() else None for end in (slowest, fastest))
    if low is not None and high is not None and low > high:
        raise UsageError("bad-range", f"--class: {speeds!r} ends before it begins.", hint="Exchange its ends.")
    return ContestClass(name, low, high)


@command("contest edit", writes=True)
@click.argument("name", shell_complete=names_of("contest"))
@click.option("--name", "new_name", metavar="NEW", help="Another name.")
@click.option("--site", metavar="CODE", shell_complete=names_of("waypoint"), help="Where it is held.")
@click.option("--from", "from_date", type=DATE, metavar="DATE", help="First day.")
@click.option("--to", "to_date", type=DATE, metavar="DATE", help="Last day.")
@click.option("--timezone", metavar="TZ", help="Time zone of its times of day.")
@click.option(
    "--airspace",
    multiple=True,
    metavar="NAME[@R]",
    shell_complete=names_of("airspace"),
    help="What its tasks are held against; repeat it: all anew.",
)
@click.option("--no-airspace", is_flag=True, help="Its tasks are held against no airspace.")
@setting_options(EDIT)
def edit(invocation: Invocation, name: str, **given: Any) -> Answer:
    """Change a contest's name, site, dates, time zone, airspace, earth model or units.

    Airspace is pinned at a revision: NAME takes the newest. No task becomes stale by it; a review says what changed
    since.
    """
    from taskdb.services.contests.settings import ContestEdit, edit_contest

    if given["airspace"] and given["no_airspace"]:
        raise UsageError("airspace-or-none", "--airspace and --no-airspace exclude each other.", hint="Give one.")
    pinned = given["airspace"] or (() if given["no_airspace"] else None)
    how = {**fields_of(ContestEdit, given), "airspace": pinned}
    change = ContestEdit(values=read(EDIT, given) or None, **how)
    _require(change != ContestEdit(), "--site CODE")
    return page(invocation.confirmed(lambda write: edit_contest(invocation.desk, name, change, write)))


@command("contest copy", writes=True)
@click.argument("old", metavar="OLD[@R]", shell_complete=names_of("contest"))
@click.argument("new", metavar="NEW")
@click.option("--set", "set_reference", metavar="SET[@R]", shell_complete=names_of("set"), help="On this set revision.")
@click.option("--from", "from_date", type=DATE, metavar="DATE", help="First day.")
@click.option("--to", "to_date", type=DATE, metavar="DATE", help="Last day.")
@click.option("--tasks", "with_tasks", is_flag=True, help="Carry its tasks over too.")
@click.option(
    "--name", "name_pattern", default="{name}", metavar="PATTERN", help="Names of its tasks, e.g. '{name} 2026'."
)
def copy(invocation: Invocation, old: str, new: str, **given: Any) -> Answer:
    """Make next season's contest from an old one.

    Zones, settings and classes are copied, days are not. With --tasks its tasks are carried over, each fully decided or
    left and told.
    """
    from taskdb.cli.render.carried import show_carried
    from taskdb.cli.render.contests import show_contest_page
    from taskdb.services.contests.plain import contest_plain
    from taskdb.services.contests.settings import ContestCopy, copy_contest
    from taskdb.services.tasks.plain import carried_plain

    how = ContestCopy(new, **fields_of(ContestCopy, given))
    with invocation.working(f"copying {old}") as progress:
        done = invocation.confirmed(lambda write: copy_contest(invocation.desk, old, how, write, progress))
    invocation.warn(*done.shown.told)

    def people(printer: Printer) -> None:
        show_contest_page(printer, done.shown)
        if done.tasks:
            printer.line()
            show_carried(printer, done.tasks)

    undone = any(outcome.revision is None for outcome in done.tasks)
    result = {**contest_plain(done.shown), "carried": [carried_plain(outcome) for outcome in done.tasks]}
    return Answer(result, people=people, exit_code=acts_if(undone))


@command("contest log")
@click.argument("name", shell_complete=names_of("contest"))
def log(invocation: Invocation, name: str) -> Answer:
    """List a contest's revisions, newest first."""
    from taskdb.cli.render.console import right
    from taskdb.services.contests.settings import contest_log

    name, revisions = contest_log(invocation.desk, name)
    result = {
        "contest": name,
        "revisions": [
            {
                "revision": logged.info.number,
                "author": logged.info.author,
                "created_at": logged.info.at,
                "note": logged.info.note,
                "retired": logged.info.retired,
                "changes": list(logged.changes),
            }
            for logged in revisions
        ],
    }

    def people(printer: Printer) -> None:
        printer.heading(name)
        printer.table(
            [*right("revision"), "at", "by", "what changed", "note"],
            [(r.info.number, r.info.at, r.info.author, "; ".join(r.changes) or None, r.info.note) for r in revisions],
        )

    return Answer(result, people=people)


@command("contest presets")
@click.argument("name", required=False, metavar="[PRESET]")
def presets(invocation: Invocation, name: str | None) -> Answer:
    """List the presets for `contest new`, or show one with its sources."""
    from taskdb.reference.presets import preset_names, shipped_preset

    shown = [shipped_preset(item) for item in ([name] if name else preset_names())]
    result = {
        "presets": [
            {
                "preset": preset.name,
                "summary": preset.summary,
                "zones": dict(preset.zones),
                "settings": dict(preset.settings),
                "sources": dict(preset.sources),
                "classes": {
                    name: {"zones": dict(own.zones), "settings": dict(own.settings), "sources": dict(own.sources)}
                    for name, own in preset.classes.items()
                },
            }
            for preset in shown
        ]
    }

    def people(printer: Printer) -> None:
        if name is None:
            printer.table(["preset", "what it is"], [(preset.name, preset.summary) for preset in shown])
            return
        printer.heading(f"{shown[0].name}: {shown[0].summary}")
        rows = [(k, v, shown[0].sources[k]) for k, v in {**shown[0].zones, **shown[0].settings}.items()]
        for class_name, own in shown[0].classes.items():
            rows += [(f"class {class_name}: {k}", v, own.sources[k]) for k, v in {**own.zones, **own.settings}.items()]
        printer.table(["setting", "value", "source"], rows)

    return Answer(result, people=people)


def _require(given: object, example: str) -> None:
    if not given:
        raise UsageError("nothing-given", "Nothing is given to change.", hint=f"E.g. {example}.")
