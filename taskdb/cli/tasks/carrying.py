"""`taskdb task carry`, `refresh` and `update`: saved tasks brought onto another state of the catalogue."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer, acts_if
from taskdb.cli.frame.command import Invocation, can_ask, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.typed.options import assignments
from taskdb.core.pasted import command_line
from taskdb.errors import RefusedError

if TYPE_CHECKING:
    from taskdb.services.contests.update import Updated
    from taskdb.services.tasks.carrying import CarriedTask


@command("task carry", writes=True)
@click.argument("references", nargs=-1, metavar="NAME…", shell_complete=names_of("task"))
@click.option("--from-contest", metavar="OLD", shell_complete=names_of("contest"), help="All tasks of this contest.")
@click.option("--to", metavar="SET[@R]", shell_complete=names_of("set"), help="The set to carry them to.")
@click.option("--contest", metavar="NEW", shell_complete=names_of("contest"), help="Copy them into this contest.")
@click.option("--name", "pattern", default="{name}", metavar="PATTERN", help="Names of the copies, e.g. '{name} old'.")
@click.option("--map", "mapping", multiple=True, metavar="OLD=NEW", help="Decide a point: old code = new code.")
def carry(invocation: Invocation, references: tuple[str, ...], **given: Any) -> Answer:
    """Carry tasks over to another set or revision, point by point.

    Without --contest each task gets a new revision; with it a copy in that contest, and the old one stays untouched.
    A task with a point in doubt is left undone and told: decide with --map, or confirm moves over 1 km with --yes.
    Before a task that was flown gets a new revision it is asked; --yes answers that too.
    """
    from taskdb.services.tasks.carrying import CarryRequest, carry_tasks

    request = CarryRequest(
        references=references,
        from_contest=given["from_contest"],
        to=given["to"],
        contest=given["contest"],
        name_pattern=given["pattern"],
        mapping=assignments(given["mapping"], option="--map", form="OLD=NEW"),
        # A yes to the question about flown tasks is none to moves that nobody has looked at.
        confirm_far=invocation.settings.yes,
    )
    with invocation.working("carrying over") as progress:
        done = invocation.confirmed(lambda write: carry_tasks(invocation.desk, request, write, progress))
    return _answer(done)


@command("task refresh", writes=True)
@click.argument("references", nargs=-1, metavar="NAME…", shell_complete=names_of("task"))
@click.option("--contest", metavar="C", shell_complete=names_of("contest"), help="All stale tasks of this contest.")
def refresh(invocation: Invocation, references: tuple[str, ...], contest: str | None) -> Answer:
    """Bring stale tasks up to the set revision and zone defaults that count now.

    Zones set by hand stay. Tasks that are not stale are passed over.
    """
    from taskdb.services.tasks.carrying import refresh_tasks

    where = invocation.contest(contest)
    return _answer(invocation.confirmed(lambda write: refresh_tasks(invocation.desk, references, where, write)))


def _answer(outcomes: tuple[CarriedTask, ...]) -> Answer:
    from taskdb.cli.render.carried import show_carried
    from taskdb.services.tasks.plain import carried_plain

    undone = any(outcome.revision is None for outcome in outcomes)
    return Answer(
        {"tasks": [carried_plain(outcome) for outcome in outcomes]},
        people=lambda printer: show_carried(printer, outcomes),
        exit_code=acts_if(undone),
    )


@command("task update", writes=True)
@click.option("--contest", metavar="C", shell_complete=names_of("contest"), help="The contest.")
@click.option("--day", type=click.IntRange(min=1), metavar="N", help="Its day; without it all its tasks.")
@click.option("--to", metavar="SET@R", help="The set revision to stand on; without it the newest.")
def update(invocation: Invocation, contest: str | None, **given: Any) -> Answer:
    """After a mended coordinate: pin a contest's set and refresh a day's tasks.

    Shows what each task is before and after, asks once, and does it as one operation; then hand the day out again.
    """
    from dataclasses import replace

    from taskdb.cli.render.carried import show_updated
    from taskdb.services.contests.plain import updated_plain
    from taskdb.services.contests.update import UpdateRequest, update_day

    name = invocation.required_contest(contest)
    request = UpdateRequest(name, given["day"], given["to"])
    look = replace(invocation.write, preview=True, confirmed=True)
    found = update_day(invocation.desk, request, look)
    if not found.is_nothing and not invocation.preview:
        if not invocation.settings.yes:
            ask_over_table(invocation, found)
        keep = replace(invocation.write, confirmed=True)
        found = update_day(invocation.desk, request, keep, looked_at=found)
    invocation.warn(*found.told)
    for task in found.stale_elsewhere:
        state = "would be stale" if invocation.preview else "is stale now"
        invocation.warn(f"{task} {state}: `{command_line('task refresh', task, options=['--contest', name])}`.")
    undone = any(task.after is None for task in found.tasks)
    return Answer(
        updated_plain(found),
        people=lambda printer: show_updated(printer, found),
        exit_code=acts_if(undone),
    )


def ask_over_table(invocation: Invocation, found: Updated) -> None:
    """Show what would be done and ask once; RefusedError for a no, and where there is nobody to ask."""
    from taskdb.cli.render.carried import show_updated
    from taskdb.cli.render.console import Printer, stream_width
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
