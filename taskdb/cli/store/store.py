"""`taskdb store info`, `store upgrade`, `log` and `undo`: the store itself, its journal, and an operation reversed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from taskdb.cli.frame.answer import Answer, limited
from taskdb.cli.frame.command import Invocation, command

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.kept import LoggedOperation
    from taskdb.services.store.store import Journal, StoreInfo
    from taskdb.services.store.undo import Undone
    from taskdb.store.summary import Replica


SHOWN_TO_PEOPLE = 20
NAMED_TO_PEOPLE = 3


@command("store info")
def info(invocation: Invocation) -> Answer:
    """Show which store is used, its schema, and what it holds.

    A store that does not exist yet is shown as an empty one; it is made by the first command that writes.
    """
    from taskdb.services.store.plain import info_plain
    from taskdb.services.store.store import store_info

    found = store_info(invocation.desk)
    return Answer(info_plain(found), people=lambda printer: show_info(printer, found))


def show_info(printer: Printer, found: StoreInfo) -> None:
    """Show what a store is."""
    counts, newest = found.counts, found.newest
    printer.pairs(
        [
            ("store", found.store),
            ("kind", found.kind if found.exists else f"{found.kind}, not made yet: the first command that writes does"),
            ("schema", found.schema),
            ("size", size_text(found.size_bytes) if found.exists else None),
            *((name, getattr(counts, name)) for name in ("sets", "waypoints", "contests", "tasks", "operations")),
            ("newest", f"{newest.at}, {newest.author}: {newest.command}" if newest else None),
            ("replica", replica_text(found.replica) if found.replica else None),
        ]
    )


def replica_text(replica: Replica) -> str:
    """Return in words how far behind its primary a replica is."""
    link = "follows its primary" if replica.is_connected else "not connected to its primary"
    if replica.behind_s == 0:
        return f"takes no writes, {link}: nothing behind"
    if replica.behind_s is None or replica.written_until is None:
        return f"takes no writes, {link}: not known how far behind"
    return f"takes no writes, {link}: at {replica.written_until}, at most {replica.behind_s:,.0f} s behind"


def size_text(size_bytes: int) -> str:
    """Return a size for people: 640 bytes, 12 kB, 3.4 MB (powers of ten)."""
    if size_bytes < 1000:
        return f"{size_bytes} bytes"
    return f"{size_bytes / 1000:.0f} kB" if size_bytes < 999_500 else f"{size_bytes / 1_000_000:.1f} MB"


def no_note(invocation: Invocation, what: str) -> None:
    """Warn of a note that is given and not kept."""
    if invocation.settings.note:
        invocation.warn(f"{what} is no operation, so the note is not kept.")


@command("store upgrade", writes=True)
def upgrade(invocation: Invocation) -> Answer:
    """Bring the store to the newest schema.

    All of it or nothing. It is no operation and cannot be undone; a file is first kept as it was, in the folder
    STORE.backups beside it.
    """
    from taskdb.services.store.store import upgrade as upgrade_store

    done = upgrade_store(invocation.desk, preview=invocation.preview)
    no_note(invocation, "An upgrade")
    invocation.say_backup(done.backup)
    is_changed = done.before is not None and done.before != done.after
    result = {"store": done.store, "before": done.before, "after": done.after, "changed": is_changed}
    if done.before is None:
        text = f"{done.store} is not made yet; the first command that writes makes it with schema {done.after}"
    elif not is_changed:
        text = f"{done.store} has the newest schema, {done.after}, already"
    else:
        text = f"{done.store}: schema {done.before} upgraded to {done.after}"
    return Answer({**result, "backup": done.backup}, people=lambda printer: printer.line(text))


@command("log")
@click.option("--limit", type=click.IntRange(min=0), metavar="N", help="Show the newest N only.")
def log(invocation: Invocation, limit: int | None) -> Answer:
    """Show what was written into the store, newest first.

    Every command that changes something is one operation; `taskdb undo N` reverses the one with number N.
    """
    from taskdb.services.store.plain import operation_plain
    from taskdb.services.store.store import read_journal

    shown = limit if limit is not None or invocation.settings.json else SHOWN_TO_PEOPLE
    journal = read_journal(invocation.desk, shown)
    invocation.warn(*clock_words(journal.back_in_time))
    result = limited("operations", [operation_plain(one) for one in journal.operations], journal.total)
    return Answer(result, people=lambda printer: show_journal(printer, journal))


def clock_words(back_in_time: tuple[int, ...]) -> list[str]:
    """Return what to say of operations that bear an earlier time than the one before them."""
    from taskdb.core.numbers import some_of

    if not back_in_time:
        return []
    listed = some_of([str(number) for number in back_in_time], 5)
    called = "Operation" if len(back_in_time) == 1 else "Operations"
    bears = "bears" if len(back_in_time) == 1 else "bear"
    return [
        f"{called} {listed} {bears} an earlier time than the one before: a clock was set, or differs between machines."
        " Their order is by number; each time is what the clock said."
    ]


def show_journal(printer: Printer, journal: Journal) -> None:
    """Show the journal, newest first."""
    from taskdb.cli.render.console import right

    if not journal.total:
        printer.line("nothing was written yet")
        return
    columns = [*right("number"), "when (UTC)", "author", "command", "wrote", "note"]
    rows = [
        (one.number, one.at, one.author, command_text(one), wrote_text(one.wrote), one.note or "")
        for one in journal.operations
    ]
    printer.table(columns, rows)
    printer.shown(len(journal.operations), journal.total, "operations (--limit N shows more)")


def command_text(one: LoggedOperation) -> str:
    """Return the command with what it undoes, and whether it is undone."""
    undoes = f" of {one.undoes}" if one.undoes is not None else ""
    return f"{one.command}{undoes}{' (undone)' if one.is_undone else ''}"


def wrote_text(wrote: tuple[str, ...]) -> str:
    """Return the first things written and how many more."""
    more = len(wrote) - NAMED_TO_PEOPLE
    return ", ".join(wrote[:NAMED_TO_PEOPLE]) + (f" and {more} more" if more > 0 else "")


@command("undo", writes=True)
@click.argument("operation", required=False, type=click.IntRange(min=1), metavar="[OP]")
def undo(invocation: Invocation, operation: int | None) -> Answer:
    """Undo your newest operation, or operation OP of `taskdb log`.

    Undoing makes new revisions; nothing is lost, and undoing an undo is redoing. An operation of which something was
    changed since is refused with the list. Another author's is undone only when named, and confirmed.
    """
    from taskdb.services.store.plain import undone_plain
    from taskdb.services.store.undo import undo as undo_operation

    done = invocation.confirmed(lambda write: undo_operation(invocation.desk, operation, write))
    invocation.say_backup(done.backup)
    return Answer(undone_plain(done), people=lambda printer: show_undone(printer, done))


def show_undone(printer: Printer, done: Undone) -> None:
    """Say what was undone and what stands now."""
    what, head = ("undone", done.undone) if done.redone is None else ("redone", done.redone)
    note = f" ({head.note})" if head.note else ""
    printer.heading(f"{what}: operation {head.number}, {head.command} by {head.author}, {head.at}{note}")
    printer.line("now stands:")
    for one in done.stands:
        printer.line(f"  {one.what}: {one.state}")
    printer.line(f"to take this back: taskdb undo {done.operation}", style="dim")
