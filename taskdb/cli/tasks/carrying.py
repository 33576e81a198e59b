"""`taskdb task carry` and `task refresh`: saved tasks brought onto another state of the catalogue."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.typed.options import assignments

if TYPE_CHECKING:
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
    return _answer(invocation.confirmed(lambda write: carry_tasks(invocation.desk, request, write)))


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
    from taskdb.errors import ExitCode
    from taskdb.services.tasks.plain import carried_plain

    undone = any(outcome.revision is None for outcome in outcomes)
    return Answer(
        {"tasks": [carried_plain(outcome) for outcome in outcomes]},
        people=lambda printer: show_carried(printer, outcomes),
        exit_code=ExitCode.ACT if undone else ExitCode.DONE,
    )
