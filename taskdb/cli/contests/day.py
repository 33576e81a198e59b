"""`taskdb contest day`: what is known of a day, for all or for a class, kept so that no command retypes it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.typed.options import DATE
from taskdb.cli.typed.setting_options import DAY, class_option, option_name, read, setting_options

if TYPE_CHECKING:
    from taskdb.services.contests.day import DayShown


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
