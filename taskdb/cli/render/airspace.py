"""Airspace for people: lists, pages, logs, what an import did and what differs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from taskdb.cli.render.console import right
from taskdb.core.airspace.extent import area_km2
from taskdb.core.numbers import counted

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.airspace.volume import Volume
    from taskdb.core.kept import AirspaceInfo
    from taskdb.services.airspace.airspace import AirspaceDiffered, AirspaceShown
    from taskdb.services.airspace.importing import AirspaceImported

CAUTION = "Airspace is from your own files and may be old: current charts and NOTAM decide."


def show_imported(printer: Printer, done: AirspaceImported) -> None:
    """Say what an import did: counts first, then how the file was read, what was mended and taken for granted."""
    changed_nothing = not (done.added or done.changed or done.retired)
    printer.heading(f"{done.airspace}@{done.revision}{': no new revision' if changed_nothing else ''}")
    read_as = [f"{field} from {name!r}" for field, name in done.properties.items()]
    printer.pairs(
        [
            ("read", done.read),
            ("added", done.added),
            ("changed", done.changed),
            ("unchanged", done.unchanged),
            ("retired", done.retired or None),
            ("read as", ", ".join([done.format, *read_as])),
        ]
    )
    for told in done.mended:
        printer.line(f"mended: {told}", style="warning")
    for note in done.notes:
        printer.line(f"  {note}")
    printer.line(CAUTION, style="dim")


def show_list(printer: Printer, infos: Sequence[AirspaceInfo]) -> None:
    """Show the list of airspaces."""
    if not infos:
        printer.line("There is no airspace yet. Import one: taskdb airspace import FILE --into NAME")
        return
    rows = [(info.name, info.number, info.count, info.source, info.at, info.author) for info in infos]
    printer.table(["airspace", *right("revision", "volumes"), "from", "changed", "by"], rows)


def show_airspace_page(printer: Printer, shown: AirspaceShown) -> None:
    """Show an airspace: where it is from, and a row a volume."""
    info = shown.info
    printer.heading(f"{info.name}@{info.number}: {counted(info.count, 'volume')}")
    printer.pairs([("from", info.source), ("written", f"{info.at} by {info.author}"), ("note", info.note)])
    if shown.volumes:
        printer.line()
        titles = ["volume", "kind", "floor", "ceiling", *right("km²"), "times", "frequency"]
        printer.table(titles, [_row(volume) for volume in shown.volumes])
    printer.line(CAUTION, style="dim")


def _row(volume: Volume) -> tuple[str | None, ...]:
    limits = volume.floor.text, volume.ceiling.text
    return volume.name, volume.kind.value, *limits, f"{area_km2(volume):.1f}", volume.times, volume.frequency


def show_log(printer: Printer, name: str, infos: Sequence[AirspaceInfo]) -> None:
    """Show an airspace's revisions, newest first."""
    printer.heading(name)
    rows = [(i.number, i.at, i.author, i.added, i.changed, i.retired, i.source, i.note) for i in infos]
    counts = right("added", "changed", "retired")
    printer.table([*right("revision"), "at", "by", *counts, "from", "note"], rows)


def show_differed(printer: Printer, differed: AirspaceDiffered) -> None:
    """Show what differs between two revisions, a line a volume."""
    changes = differed.changes
    printer.heading(f"{differed.old} → {differed.new}")
    if not changes:
        printer.line("Nothing differs.")
    for volume in changes.added:
        printer.line(f"added    {_named(volume)}")
    for volume in changes.retired:
        printer.line(f"retired  {_named(volume)}")
    for change in changes.changed:
        printer.line(f"changed  {change.after.name}: {'; '.join(change.words)}")


def _named(volume: Volume) -> str:
    return f"{volume.name} ({volume.kind}, {volume.floor.text} to {volume.ceiling.text})"
