"""What a hand-out wrote and told, for people and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from taskdb.core.shown import Edition, SheetChange, ValueChange, Withdrawn

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.services.handing_out.changes import ChangedSheet
    from taskdb.services.handing_out.handout import Handout

MOST_SHOWN = 12
"""So many values of a task are shown on a terminal; the change note and JSON have all."""


def change_plain(change: ValueChange) -> dict[str, Any]:
    """Return a value that is shown otherwise as JSON."""
    return {
        "where": change.where,
        "what": change.what,
        "old": change.old,
        "new": change.new,
        "follows": change.follows,
    }


def _edition_plain(edition: Edition) -> dict[str, Any]:
    return {"revision": edition.revision, "fingerprint": edition.fingerprint, "at": edition.at}


def _since_plain(change: SheetChange) -> dict[str, Any]:
    return {
        "old": _edition_plain(change.old),
        "new": _edition_plain(change.new),
        "values": [change_plain(value) for value in change.values],
    }


def _withdrawn_plain(withdrawn: Withdrawn) -> dict[str, Any]:
    return {"task": withdrawn.task, "why": withdrawn.why, "handed_out": _edition_plain(withdrawn.edition)}


def handout_plain(done: Handout) -> dict[str, Any]:
    """Return what was handed out as JSON."""
    return {
        **done.pack.plain(),
        "handout": done.number,
        "tasks": list(done.tasks),
        "changes": [*map(_sheet_words, done.sheets), *map(_withdrawn_words, done.withdrawn)],
        "differences": [
            {"task": sheet.page.task.name, "new": sheet.is_new, "since": list(map(_since_plain, sheet.changes))}
            for sheet in done.sheets
        ],
        "withdrawn": list(map(_withdrawn_plain, done.withdrawn)),
        "to_whom": done.to_whom,
    }


def since_words(values: Sequence[ValueChange]) -> str:
    """Return in one line what differs: `unchanged`, or every value that was decided, else how many follow."""
    if not values:
        return "unchanged"
    decided = [value.words() for value in values if not value.follows]
    following = len(values) - len(decided)
    more = f"{following} figure{'s' if following != 1 else ''} that follow{'s' if following == 1 else ''}"
    return "; ".join([*decided, *([more] if following else [])])


def _sheet_words(sheet: ChangedSheet) -> str:
    name = f"{sheet.page.task.name}@{sheet.page.revision}"
    if sheet.is_new:
        return f"{name}: new"
    if not sheet.changes:
        return f"{name}: unchanged"
    change = sheet.changes[0]
    return f"{name}: changed since {change.old.at} ({change.old.fingerprint}): {since_words(change.values)}"


def _withdrawn_words(withdrawn: Withdrawn) -> str:
    return f"{withdrawn.task}@{withdrawn.edition.revision}, handed out {withdrawn.edition.at}: {withdrawn.why}"


def show_handout(printer: Printer, done: Handout) -> None:
    """Say what was handed out, what changed since the last time, and what no longer holds."""
    from taskdb.cli.render.numbers import counted

    what = ", ".join(done.tasks) or "a day without a task"
    printer.heading(f"{done.pack.target}: {counted(len(done.pack.files), 'file')} for {what}")
    for withdrawn in done.withdrawn:
        printer.line(f"  {_withdrawn_words(withdrawn)}", style="warning")
    for sheet in done.sheets:
        _show_sheet(printer, sheet)
    printer.line("task-sheet.html brings the zones; CHANGES.txt says what is new; MANIFEST.json lists it all.")


def _show_sheet(printer: Printer, sheet: ChangedSheet) -> None:
    if sheet.is_new or not sheet.changes:
        printer.line(f"  {_sheet_words(sheet)}")
        return
    from taskdb.cli.render.numbers import counted

    change = sheet.changes[0]
    name = f"{sheet.page.task.name}@{sheet.page.revision}"
    printer.line(f"  {name}: changed since {change.old.at} ({change.old.fingerprint}):")
    decided = [value for value in change.values if not value.follows]
    told = (decided or change.values)[:MOST_SHOWN]
    for value in told:
        printer.line(f"    {value.words()}")
    if len(change.values) > len(told):
        printer.line(f"    and {counted(len(change.values) - len(told), 'value')} more, in CHANGES.txt")
