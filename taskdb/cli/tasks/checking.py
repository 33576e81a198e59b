"""`taskdb task check`: is what a pilot has the task that is flown?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.tasks.options import contest_option
from taskdb.cli.typed.options import FILE

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.services.tasks.checking import TaskChecked


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
    for note in checked.notes:
        invocation.warn(note)
    return Answer(
        checked_plain(checked),
        people=lambda printer: _show(printer, checked),
        exit_code=ExitCode.DONE if checked.verdict is Verdict.SAME else ExitCode.ACT,
    )


def _show(printer: Printer, checked: TaskChecked) -> None:
    is_same = checked.verdict.value == "same"
    printer.line(checked.message, style="good" if is_same else "warning")
    for difference in checked.differences[1:]:
        printer.line(f"  {difference.message}")
    if checked.not_held:
        printer.line(f"Not compared, since the file does not say: {', '.join(checked.not_held)}.", style="dim")
