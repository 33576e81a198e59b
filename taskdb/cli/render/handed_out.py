"""What a hand-out wrote and told, for people."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.services.handing_out.changes import ChangedSheet
    from taskdb.services.handing_out.handout import Handout

MOST_SHOWN = 12
"""So many values of a task are shown on a terminal; the change note and JSON have all."""


def show_handout(printer: Printer, done: Handout) -> None:
    """Say what was handed out, what changed since the last time, and what no longer holds."""
    from taskdb.cli.render.numbers import counted

    what = ", ".join(done.tasks) or "a day without a task"
    printer.heading(f"{done.pack.target}: {counted(len(done.pack.files), 'file')} for {what}")
    for withdrawn in done.withdrawn:
        printer.line(f"  {withdrawn.words()}", style="warning")
    for sheet in done.sheets:
        _show_sheet(printer, sheet)
    printer.line("task-sheet.html brings the zones; CHANGES.txt says what is new; MANIFEST.json lists it all.")


def _show_sheet(printer: Printer, sheet: ChangedSheet) -> None:
    if sheet.is_new or not sheet.changes:
        from taskdb.services.handing_out.plain import sheet_words

        printer.line(f"  {sheet_words(sheet)}")
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
