"""What was written to be handed out, and what a hand-out told."""

from __future__ import annotations

from typing import TYPE_CHECKING

from taskdb.cli.render.console import right
from taskdb.cli.render.findings import brief_lines
from taskdb.core.findings import findings_that_matter
from taskdb.core.model import Severity
from taskdb.core.numbers import counted
from taskdb.services.handing_out.plain import sheet_words

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.files.pack import Pack
    from taskdb.services.handing_out.changes import ChangedSheet
    from taskdb.services.handing_out.handout import Handout
    from taskdb.services.handing_out.publishing import Published

MOST_SHOWN = 12
"""So many values of a task are shown on a terminal; the change note and JSON have all."""


def show_handout(printer: Printer, done: Handout) -> None:
    """Say what was handed out, what changed since the last time, and what no longer holds."""
    what = ", ".join(done.tasks) or "a day without a task"
    printer.heading(f"{done.pack.target}: {counted(len(done.pack.files), 'file')} for {what}")
    for withdrawn in done.withdrawn:
        printer.line(f"  {withdrawn.words()}", style="warning")
    told: set[str] = set()
    for sheet in done.sheets:
        _show_sheet(printer, sheet)
        # What two tasks have in common is told with the first of them.
        found = [one for one in findings_that_matter(sheet.page.findings) if one.id not in told]
        told |= {one.id for one in found}
        for severity, text in brief_lines(found):
            printer.line(f"    {severity.value}: {text}", style="error" if severity is Severity.ERROR else "warning")
    printer.line("task-sheet.html brings the zones; CHANGES.txt says what is new; MANIFEST.json lists it all.")


def _show_sheet(printer: Printer, sheet: ChangedSheet) -> None:
    if sheet.is_new or not sheet.changes:
        printer.line(f"  {sheet_words(sheet)}")
        return
    change = sheet.changes[0]
    name = f"{sheet.page.task.name}@{sheet.page.revision}"
    printer.line(f"  {name}: changed since {change.old.at} ({change.old.fingerprint}):")
    decided = [value for value in change.values if not value.follows]
    told = (decided or change.values)[:MOST_SHOWN]
    for value in told:
        printer.line(f"    {value.words()}")
    if len(change.values) > len(told):
        printer.line(f"    and {counted(len(change.values) - len(told), 'value')} more, in CHANGES.txt")


def show_pack(printer: Printer, pack: Pack) -> None:
    """Say what was written, and once what the formats cannot hold."""
    printer.heading(f"{pack.target}: {counted(len(pack.files), 'file')} and a manifest")
    printer.table(
        ["file", "format", "of", *right("bytes")],
        [(file.path, file.format, file.task or file.set, file.bytes) for file in pack.files],
    )
    for format_name in dict.fromkeys(file.format for file in pack.files):
        lost = dict.fromkeys(text for file in pack.files if file.format == format_name for text in file.lost)
        if lost:
            printer.line(f"{format_name} does not hold: {'; '.join(lost)}")
    printer.line("The files bring the points; the task sheet brings the zones.", style="dim")


def show_published(printer: Printer, done: Published) -> None:
    """Say what was published, how much it is, and where it begins."""
    size = sum(file.bytes for file in done.pack.files)
    printer.heading(
        f"{done.pack.target}: {done.what}, {counted(len(done.pack.files), 'file')}, {size / 1_000_000:.1f} MB"
    )
    printer.line(f"It begins with {done.entry}; `taskdb export verify` holds it against its manifest.", style="dim")
