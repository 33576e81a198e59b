"""`taskdb task check` and `review`: is it the task that is flown, and what to know before it is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer, acts_if
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.tasks.cover_options import cover_asked, cover_options
from taskdb.cli.tasks.options import contest_option
from taskdb.cli.typed.options import FILE, airspace_option, fail_on_option, terrain_option

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer


@command("task check")
@click.argument("reference", metavar="NAME[@R]", shell_complete=names_of("task"))
@click.argument("given", type=FILE, metavar="FINGERPRINT|FILE")
@contest_option
def check(invocation: Invocation, reference: str, given: str, contest: str | None) -> Answer:
    """Hold a fingerprint, or a file of any format that is read, against the official task.

    It says which revision or which other task was given, and of a file the first point that differs and by how
    much. A format that has no zones, or a declaration's rounding to 0.001 minute, makes no difference.
    """
    from taskdb.errors import ExitCode
    from taskdb.services.tasks.checking import Verdict, check_task
    from taskdb.services.tasks.plain import checked_plain

    checked = check_task(invocation.desk, reference, given, invocation.contest(contest))
    invocation.warn(*checked.notes)
    is_same = checked.verdict is Verdict.SAME

    def people(printer: Printer) -> None:
        printer.line(checked.message, style="good" if is_same else "warning")
        for difference in checked.differences[1:]:
            printer.line(f"  {difference.message}")
        if checked.not_held:
            printer.line(f"Not compared, since the file does not say: {', '.join(checked.not_held)}.", style="dim")

    return Answer(checked_plain(checked), people=people, exit_code=ExitCode.DONE if is_same else ExitCode.ACT)


@command("task review")
@click.argument("references", nargs=-1, metavar="NAME[@R]…", shell_complete=names_of("task"))
@click.option(
    "--contest", metavar="C", shell_complete=names_of("contest"), help="The contest; without names all of it."
)
@click.option("--day", type=click.IntRange(min=1), metavar="N", help="All of this day of the contest.")
@fail_on_option
@airspace_option
@terrain_option
@cover_options
@click.option("--all", "show_accepted", is_flag=True, help="Show accepted findings too.")
def review(invocation: Invocation, references: tuple[str, ...], contest: str | None, **given: Any) -> Answer:
    """Review tasks before they are flown: zones, legs, times, points, twins.

    Legs, zones and points are held against the airspace that the contest pins, or that --airspace names; limits
    above ground are compared where --terrain knows the ground. A task of a contest's day is held against those of its
    other classes: where and when they meet, and whether the last leg leads into the sun. Nothing is changed.
    `taskdb check explain RULE` tells what a rule looks for. A finding is accepted like one of the task's set: `taskdb
    check accept SET FINDING --why TEXT`.

    With a glide ratio and a working altitude, here or in the contest's limits, it tells from where on the course no
    field is in reach: see `taskdb task cover`.
    """
    from taskdb.cli.render.findings import reviewed_words, show_reviews
    from taskdb.services.tasks.plain import review_plain
    from taskdb.services.tasks.task import review_tasks

    tasks = review_tasks(
        invocation.desk,
        references,
        invocation.contest(contest),
        given["airspace"],
        given["terrain"],
        cover=cover_asked(given),
        day=given["day"],
    )
    reviews = [(shown, shown.review) for shown in tasks if shown.review is not None]
    show_accepted = given["show_accepted"]

    def people(printer: Printer) -> None:
        show_reviews(printer, reviews, show_accepted=show_accepted)
        printer.line(reviewed_words(found for _, found in reviews), style="dim")

    fail_on = given["fail_on"]
    is_bad = fail_on is not None and any(found.has_at_or_above(fail_on) for _, found in reviews)
    result = {"tasks": [review_plain(shown, found, show_accepted=show_accepted) for shown, found in reviews]}
    return Answer(result, people=people, exit_code=acts_if(is_bad))
