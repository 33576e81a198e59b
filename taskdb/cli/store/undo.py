"""`taskdb undo`: reverse an operation by making new revisions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.kept import OperationHead
    from taskdb.services.store.undo import Undone


@command("undo", writes=True)
@click.argument("operation", required=False, type=click.IntRange(min=1), metavar="[OP]")
def undo(invocation: Invocation, operation: int | None) -> Answer:
    """Undo your newest operation, or operation OP of `taskdb log`.

    Undoing makes new revisions; nothing is lost, and undoing an undo is redoing. An operation of which something was
    changed since is refused with the list. Another author's is undone only when named, and confirmed.
    """
    from taskdb.services.store.undo import undo as undo_operation

    done = invocation.confirmed(lambda write: undo_operation(invocation.desk, operation, write))
    invocation.say_backup(done.backup)
    return Answer(undone_plain(done), people=lambda printer: show_undone(printer, done))


def undone_plain(done: Undone) -> dict[str, Any]:
    """Return what was undone, and what stands now, as JSON; `redone` is what undoing an undo brought back."""
    return {
        "operation": done.operation,
        "undone": _head_plain(done.undone),
        "redone": None if done.redone is None else _head_plain(done.redone),
        "stands": [{"what": one.what, "state": one.state} for one in done.stands],
        "backup": done.backup,
    }


def _head_plain(head: OperationHead) -> dict[str, Any]:
    return {
        "operation": head.number,
        "at": head.at,
        "author": head.author,
        "command": head.command,
        "note": head.note,
        "undoes": head.undoes,
    }


def show_undone(printer: Printer, done: Undone) -> None:
    """Say what was undone and what stands now."""
    what, head = ("undone", done.undone) if done.redone is None else ("redone", done.redone)
    note = f" ({head.note})" if head.note else ""
    printer.heading(f"{what}: operation {head.number}, {head.command} by {head.author}, {head.at}{note}")
    printer.line("now stands:")
    for one in done.stands:
        printer.line(f"  {one.what}: {one.state}")
    printer.line(f"to take this back: taskdb undo {done.operation}", style="dim")
