"""`taskdb store …` and `taskdb log`: the store itself and its journal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.kept import LoggedOperation
    from taskdb.services.store.store import Journal, StoreInfo, StoreUpgraded

SHOWN_TO_PEOPLE = 20
NAMED_TO_PEOPLE = 3


@command("store info")
def info(invocation: Invocation) -> Answer:
    """Show which store is used, its schema, and what it holds.

    A store that does not exist yet is shown as an empty one; it is made by the first command that writes.
    """
    from taskdb.services.store.store import store_info

    found = store_info(invocation.desk)
    return Answer(info_plain(found), people=lambda printer: show_info(printer, found))


def info_plain(found: StoreInfo) -> dict[str, Any]:
    """Return what a store is as JSON."""
    counts = found.counts
    return {
        "store": found.store,
        "kind": found.kind,
        "exists": found.exists,
        "schema": found.schema,
        "newest_schema": found.newest_schema,
        "size_bytes": found.size_bytes,
        "sets": counts.sets,
        "waypoints": counts.waypoints,
        "contests": counts.contests,
        "tasks": counts.tasks,
        "operations": counts.operations,
        "newest_operation": operation_plain(found.newest) if found.newest else None,
    }


def show_info(printer: Printer, found: StoreInfo) -> None:
    """Show what a store is."""
    counts, newest = found.counts, found.newest
    printer.pairs(
        [
            ("store", found.store),
            ("kind", found.kind if found.exists else f"{found.kind}, not made yet: the first command that writes does"),
            ("schema", found.schema),
            ("size", size_text(found.size_bytes) if found.exists else None),
            ("sets", counts.sets),
            ("waypoints", counts.waypoints),
            ("contests", counts.contests),
            ("tasks", counts.tasks),
            ("operations", counts.operations),
            ("newest", f"{newest.at}, {newest.author}: {newest.command}" if newest else None),
        ]
    )


def size_text(size_bytes: int) -> str:
    """Return a size for people: 640 bytes, 12 kB, 3.4 MB (powers of ten)."""
    if size_bytes < 1000:
        return f"{size_bytes} bytes"
    return f"{size_bytes / 1000:.0f} kB" if size_bytes < 999_500 else f"{size_bytes / 1_000_000:.1f} MB"


@command("store upgrade", writes=True)
def upgrade(invocation: Invocation) -> Answer:
    """Bring the store to the newest schema.

    All of it or nothing. It is no operation and cannot be undone; a file is first kept as it was, in the folder
    STORE.backups beside it.
    """
    from taskdb.services.store.store import upgrade as upgrade_store

    done = upgrade_store(invocation.desk, preview=invocation.preview)
    if invocation.settings.note:
        invocation.warn("An upgrade is no operation, so the note is not kept.")
    invocation.say_backup(done.backup)
    result = {
        "store": done.store,
        "before": done.before,
        "after": done.after,
        "changed": is_changed(done),
        "backup": done.backup,
    }
    return Answer(result, people=lambda printer: printer.line(upgrade_text(done)))


def is_changed(done: StoreUpgraded) -> bool:
    """Say whether an upgrade had something to do."""
    return done.before is not None and done.before != done.after


def upgrade_text(done: StoreUpgraded) -> str:
    """Return what an upgrade did, in one line."""
    if done.before is None:
        return f"{done.store} is not made yet; the first command that writes makes it with schema {done.after}"
    if not is_changed(done):
        return f"{done.store} has the newest schema, {done.after}, already"
    return f"{done.store}: schema {done.before} upgraded to {done.after}"


@command("log")
@click.option("--limit", type=click.IntRange(min=0), metavar="N", help="Show the newest N only.")
def log(invocation: Invocation, limit: int | None) -> Answer:
    """Show what was written into the store, newest first.

    Every command that changes something is one operation; `taskdb undo N` reverses the one with number N.
    """
    from taskdb.services.store.store import read_journal

    shown = limit if limit is not None or invocation.settings.json else SHOWN_TO_PEOPLE
    journal = read_journal(invocation.desk, shown)
    result = {
        "operations": [operation_plain(one) for one in journal.operations],
        "total": journal.total,
        "truncated": len(journal.operations) < journal.total,
    }
    return Answer(result, people=lambda printer: show_journal(printer, journal))


def operation_plain(one: LoggedOperation) -> dict[str, Any]:
    """Return a row of the journal as JSON."""
    return {
        "operation": one.number,
        "at": one.at,
        "author": one.author,
        "command": one.command,
        "note": one.note,
        "undoes": one.undoes,
        "undone": one.is_undone,
        "wrote": list(one.wrote),
    }


def show_journal(printer: Printer, journal: Journal) -> None:
    """Show the journal, newest first."""
    from taskdb.cli.render.console import Column

    if not journal.total:
        printer.line("nothing was written yet")
        return
    columns: list[Column | str] = [Column("number", right=True), "when (UTC)", "author", "command", "wrote", "note"]
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
