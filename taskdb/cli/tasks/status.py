"""`taskdb task choose` and `cancel`: which variant is issued, and which is not flown."""

from __future__ import annotations

from typing import Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.frame.completion import names_of
from taskdb.cli.tasks.options import contest_option
from taskdb.errors import UsageError


@command("task choose", writes=True)
@click.argument("reference", metavar="NAME", shell_complete=names_of("task"))
@click.option("--issued", metavar="TIME", help="When it was issued, UTC, e.g. 2027-05-14T08:30:00Z. Default: now.")
@contest_option
def choose(invocation: Invocation, reference: str, issued: str | None, contest: str | None) -> Answer:
    """Issue a variant, and mark what it replaces.

    Another issued task of the same day and class becomes replaced.
    """
    from taskdb.cli.render.tasks import show_task_page
    from taskdb.services.tasks.flown import choose_task
    from taskdb.services.tasks.plain import shown_plain

    where, at = invocation.contest(contest), _utc(issued)
    done = invocation.confirmed(lambda write: choose_task(invocation.desk, reference, at, write, where))

    def people(printer: Any) -> None:
        printer.line(f"issued at {done.issued.task.issued_at}", style="good")
        if done.replaced:
            printer.line(f"it replaces {', '.join(done.replaced)}", style="warning")
        show_task_page(printer, done.issued)

    return Answer({**shown_plain(done.issued), "replaces": list(done.replaced)}, people=people)


def _utc(text: str | None) -> str | None:
    import datetime

    if text is None:
        return None
    try:
        at = datetime.datetime.fromisoformat(text.strip())
    except ValueError:
        at = None
    if at is None or at.tzinfo is None:
        raise UsageError(
            "bad-time", f"--issued: {text!r} is no moment with its zone.", hint="Write 2027-05-14T08:30:00Z (UTC)."
        )
    return at.astimezone(datetime.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


@command("task cancel", writes=True)
@click.argument("reference", metavar="NAME", shell_complete=names_of("task"))
@contest_option
def cancel(invocation: Invocation, reference: str, contest: str | None) -> Answer:
    """Mark a task as cancelled."""
    from taskdb.cli.render.tasks import show_task_page
    from taskdb.services.tasks.flown import cancel_task
    from taskdb.services.tasks.plain import shown_plain

    where = invocation.contest(contest)
    done = invocation.confirmed(lambda write: cancel_task(invocation.desk, reference, write, where))
    return Answer(shown_plain(done), people=lambda printer: show_task_page(printer, done))
