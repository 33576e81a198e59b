"""`taskdb task review`: what a setter should know about a task before it is flown."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.core.kinds import Severity

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer


@command("task review")
@click.argument("references", nargs=-1, metavar="NAME[@R]…", shell_complete=names_of("task"))
@click.option(
    "--contest", metavar="C", shell_complete=names_of("contest"), help="The contest; without names all of it."
)
@click.option(
    "--fail-on",
    type=click.Choice([*(s.value for s in Severity), "never"]),
    default="error",
    show_default=True,
    help="Exit 1 for a finding at least this severe.",
)
@click.option("--all", "show_accepted", is_flag=True, help="Show accepted findings too.")
def review(invocation: Invocation, references: tuple[str, ...], contest: str | None, **given: Any) -> Answer:
    """Review tasks before they are flown: zones, legs, times, points, twins.

    Nothing is changed. `taskdb check explain RULE` tells what a rule looks for. A finding is accepted like one of the
    task's set: `taskdb check accept SET FINDING --why TEXT`.
    """
    from taskdb.cli.render.review import CAUTION, show_review
    from taskdb.errors import ExitCode
    from taskdb.services.tasks.plain import review_plain
    from taskdb.services.tasks.task import review_tasks

    tasks = review_tasks(invocation.desk, references, invocation.contest(contest))
    reviews = [(shown, shown.review) for shown in tasks if shown.review is not None]
    show_accepted = given["show_accepted"]

    def people(printer: Printer) -> None:
        for number, (shown, found) in enumerate(reviews):
            if number:
                printer.line()
            show_review(printer, shown, found, show_accepted=show_accepted)
        printer.line(CAUTION, style="dim")

    fail_on = given["fail_on"]
    is_bad = fail_on != "never" and any(found.has_at_or_above(Severity(fail_on)) for _, found in reviews)
    result = {"tasks": [review_plain(shown, found, show_accepted=show_accepted) for shown, found in reviews]}
    return Answer(result, people=people, exit_code=ExitCode.ACT if is_bad else ExitCode.DONE)
