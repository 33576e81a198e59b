"""`taskdb store backup`, `verify`, `dump`, `load`: keeping the store safe, and knowing that it is whole."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from taskdb.cli.frame.answer import Answer
from taskdb.cli.frame.command import Invocation, command
from taskdb.cli.store.store import SHOWN_TO_PEOPLE, no_note, size_text
from taskdb.cli.typed.options import INPUT, OUTPUT, TARGET

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.services.store.verify import Verified


@command("store backup", writes=True)
@click.argument("file", type=TARGET)
def backup(invocation: Invocation, file: str) -> Answer:
    """Copy the store into a file while it is in use.

    The copy is checked and is a store of its own: --store FILE opens it. A file that is there already is replaced
    only with --yes. A store on PostgreSQL is backed up by pg_dump, or as text by `taskdb store dump`.
    """
    from taskdb.services.store.copies import back_up_store

    with invocation.working(f"copying into {file}"):
        done = back_up_store(invocation.desk, file, invocation.write)
    no_note(invocation, "A backup")
    result = {"store": done.store, "file": done.file, "size_bytes": done.size_bytes}
    text = f"{done.store} copied into {done.file}, {size_text(done.size_bytes)}, checked"
    return Answer(result, people=lambda printer: printer.line(text))


@command("store verify")
def verify(invocation: Invocation) -> Answer:
    """Hold the store's file, rows and measured tasks against its own rules.

    Nothing is written. Every saved task is measured anew from its own points and zones. Exit 7 where something is
    damaged, with the list.
    """
    from taskdb.errors import ExitCode
    from taskdb.services.store.plain import verified_plain
    from taskdb.services.store.verify import verify_store

    with invocation.working("verifying"):
        done = verify_store(invocation.desk)
    return Answer(
        verified_plain(done),
        people=lambda printer: show_verified(printer, done),
        exit_code=ExitCode.STORE_UNUSABLE if done.total else ExitCode.DONE,
    )


def show_verified(printer: Printer, done: Verified) -> None:
    """Say that the store is whole, or list what is not, and the way out."""
    if not done.total:
        printer.line(f"{done.store} is whole; {done.task_revisions} task revisions measured anew")
        return
    printer.heading(f"{done.store} is damaged:")
    printer.table(
        ["rule", "where", "what"], [(one.rule, one.what, one.message) for one in done.problems[:SHOWN_TO_PEOPLE]]
    )
    printer.shown(min(SHOWN_TO_PEOPLE, done.total), done.total, "problems (--json lists more)")
    printer.line("Keep the file, restore the newest backup that `taskdb store verify --store BACKUP` finds whole.")


@command("store dump", writes=True)
@click.argument("file", type=OUTPUT)
def dump(invocation: Invocation, file: str) -> Answer:
    """Write the whole store as text that either engine can load.

    Every row of every table as a line of JSON: equal stores give equal bytes. A file that is there already is
    replaced only with --yes.
    """
    from taskdb.services.store.copies import dump_store

    with invocation.working(f"writing {file}"):
        done = dump_store(invocation.desk, file, invocation.write)
    no_note(invocation, "A dump")
    result = {"store": done.store, "file": done.file, "size_bytes": done.size_bytes, "lines": done.lines}
    text = f"{done.store} written to {done.file}: {done.lines} lines, {size_text(done.size_bytes)}"
    return Answer(result, people=lambda printer: printer.line(text))


@command("store load", writes=True)
@click.argument("file", type=INPUT)
def load(invocation: Invocation, file: str) -> Answer:
    """Fill a new, empty store from a dump.

    All of it or nothing. Numbers, identities and the journal are the dump's. A store that holds anything is refused.
    """
    from taskdb.core.plain import fields_plain
    from taskdb.services.store.copies import load_store

    with invocation.working(f"loading {file}"):
        done = load_store(invocation.desk, file, invocation.write)
    no_note(invocation, "A load")
    text = f"{done.store}: {done.rows} rows loaded from {done.file}"
    return Answer(fields_plain(done), people=lambda printer: printer.line(text))
