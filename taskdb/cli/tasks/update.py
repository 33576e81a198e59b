"""`taskdb task update`: a contest's day after a mended coordinate, with one table and one question."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, can_ask, command
from taskdb.cli.frame.completion import names_of
from taskdb.errors import ExitCode, RefusedError, UsageError

if TYPE_CHECKING:
    from taskdb.services.contests.update import Updated


@command("task update", writes=True)
@click.option("--contest", metavar="C", shell_complete=names_of("contest"), help="The contest.")
@click.option("--day", type=click.IntRange(min=1), metavar="N", help="Its day; without it all its tasks.")
@click.option("--to", metavar="SET@R", help="The set revision to stand on; without it the newest.")
def update(invocation: Invocation, contest: str | None, **given: Any) -> Answer:
    """After a mended coordinate: pin a contest's set and refresh a day's tasks.

    Shows what each task is before and after, asks once, and does it as one operation; then hand the day out again.
    """
    from dataclasses import replace

    from taskdb.cli.render.updated import show_updated
    from taskdb.services.contests.plain import updated_plain
    from taskdb.services.contests.update import UpdateRequest, update_day

    name = invocation.contest(contest)
    if name is None:
        raise UsageError("no-contest", "No contest is named.", hint="Give --contest NAME.")
    request = UpdateRequest(name, given["day"], given["to"])
    look = replace(invocation.write, preview=True, confirmed=True)
    found = update_day(invocation.desk, request, look)
    if not found.is_nothing and not invocation.preview:
        if not invocation.settings.yes:
            ask_over_table(invocation, found)
        keep = replace(invocation.write, confirmed=True)
        found = update_day(invocation.desk, request, keep, looked_at=found)
    for text in found.told:
        invocation.warn(text)
    for task in found.stale_elsewhere:
        state = "would be stale" if invocation.preview else "is stale now"
        invocation.warn(f"{task} {state}: `taskdb task refresh {task!r} --contest {name!r}`.")
    undone = any(task.after is None for task in found.tasks)
    return Answer(
        updated_plain(found),
        people=lambda printer: show_updated(printer, found),
        exit_code=ExitCode.ACT if undone else ExitCode.DONE,
    )


def ask_over_table(invocation: Invocation, found: Updated) -> None:
    """Show what would be done and ask once; RefusedError for a no, and where there is nobody to ask."""
    from taskdb.cli.render.console import Printer, stream_width
    from taskdb.cli.render.updated import show_updated
    from taskdb.services.contests.plain import updated_plain

    if not can_ask():
        raise RefusedError(
            "needs-confirmation",
            question(found),
            hint="Look with --preview; give --yes to go ahead.",
            details={"option": "--yes", "would": updated_plain(found)},
        )
    width = stream_width(sys.stderr)
    show_updated(Printer(sys.stderr, width=width, units=invocation.units), found, would=True)
    sys.stderr.flush()
    invocation.ask(question(found))


def question(found: Updated) -> str:
    """Return the one question that is asked."""
    done = sum(task.after is not None for task in found.tasks)
    pin = f"Pin {found.contest} to {found.set_after}" if found.set_before != found.set_after else "Go ahead"
    return f"{pin} and update {done} task{'s' if done != 1 else ''}?"
