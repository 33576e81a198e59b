"""`taskdb handout`: a contest day in everyone's hands, in one command."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.answer import Answer
from taskdb.cli.command import Invocation, command
from taskdb.cli.completion import names_of
from taskdb.cli.export import warn_of_declarations
from taskdb.cli.options import DISTANCE, FILE
from taskdb.errors import UsageError

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.services.handout_day import Handout


@command("handout", writes=True)
@click.option("--contest", metavar="C", shell_complete=names_of("contest"), help="The contest.")
@click.option("--day", type=click.IntRange(min=1), metavar="N", help="Its day; without it all its tasks.")
@click.option("--to", required=True, type=FILE, metavar="DIR|FILE.zip", help="A folder, or a zip by its name.")
@click.option("--to-whom", metavar="TEXT", help="Who gets it; kept with what was in it.")
@click.option("--points-within", "within_m", type=DISTANCE, metavar="D", help="Points round the site too, e.g. 150km.")
def handout(invocation: Invocation, contest: str | None, **given: Any) -> Answer:
    """Write a day's tasks in every format, with sheet, maps, points and what changed.

    Asks while a task is stale or has an open error. The store keeps what was handed out: `task log` says what differs
    from it now.
    """
    from taskdb.services.handout_day import HandoutRequest, hand_out

    name = invocation.contest(contest)
    if name is None:
        raise UsageError("no-contest", "No contest is named.", hint="Give --contest NAME.")
    request = HandoutRequest(
        name, given["day"], given["to"], given["to_whom"], given["within_m"], units=invocation.units_given
    )
    done = invocation.confirmed(lambda write: hand_out(invocation.desk, request, write))
    warn_of_declarations(invocation, done.pack)
    result = {
        **done.pack.plain(),
        "handout": done.number,
        "tasks": list(done.tasks),
        "changes": list(done.changes),
        "to_whom": done.to_whom,
    }
    return Answer(result, people=lambda printer: show_handout(printer, done))


def show_handout(printer: Printer, done: Handout) -> None:
    """Say what was handed out, and what changed since the last time."""
    from taskdb.cli.render.numbers import counted

    printer.heading(f"{done.pack.target}: {counted(len(done.pack.files), 'file')} for {', '.join(done.tasks)}")
    for change in done.changes:
        printer.line(f"  {change}")
    printer.line("task-sheet.html brings the zones; CHANGES.txt says what is new; MANIFEST.json lists it all.")
