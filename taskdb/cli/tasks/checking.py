"""`taskdb task check`: is what a pilot has the task that is flown?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

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

    checked = check_task(invocation.desk, reference, given, invocation.contest(contest))
    for note in checked.notes:
        invocation.warn(note)
    return Answer(
        _plain(checked),
        people=lambda printer: _show(printer, checked),
        exit_code=ExitCode.DONE if checked.verdict is Verdict.SAME else ExitCode.ACT,
    )


def _plain(checked: TaskChecked) -> dict[str, Any]:
    from taskdb.core.plain import metres

    return {
        "task": checked.task,
        "contest": checked.contest,
        "revision": checked.revision,
        "fingerprint": checked.fingerprint,
        "given": checked.given,
        "same": checked.verdict.value == "same",
        "verdict": checked.verdict.value,
        "message": checked.message,
        "matches": [{"task": m.task, "contest": m.contest, "revision": m.revision} for m in checked.matches],
        "differences": [
            {
                "number": d.number,
                "what": d.what,
                "off_m": None if d.off_m is None else metres(d.off_m),
                "message": d.message,
            }
            for d in checked.differences
        ],
        "not_held": list(checked.not_held),
    }


def _show(printer: Printer, checked: TaskChecked) -> None:
    is_same = checked.verdict.value == "same"
    printer.line(checked.message, style="good" if is_same else "warning")
    for difference in checked.differences[1:]:
        printer.line(f"  {difference.message}")
    if checked.not_held:
        printer.line(f"Not compared, since the file does not say: {', '.join(checked.not_held)}.", style="dim")
