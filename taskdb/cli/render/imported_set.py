"""What an import of waypoints did: counts, what was decided, matches, renumberings, far moves, what was kept finer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from taskdb.cli.render.numbers import short_distance
from taskdb.cli.render.problems import rejected_row
from taskdb.core.history.words import FIELD_WORDS
from taskdb.core.numbers import counted
from taskdb.core.pasted import command_line
from taskdb.core.plain import problem_plain

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.history.told import ToldMatch
    from taskdb.formats.registry import Decided
    from taskdb.services.sets.importing import ImportResult


def show_import(printer: Printer, done: ImportResult) -> None:
    """Say what an import did: counts first, then what was decided; what it renumbered or moved far stands last."""
    changed_nothing = not (done.added or done.changed or done.retired)
    suffix = "; no new revision" if changed_nothing else ""
    printer.heading(f"{done.set_name}@{done.revision}: {counted(done.count, 'waypoint')}{suffix}")
    printer.pairs(
        [
            ("read", done.read),
            ("added", done.added),
            ("changed", done.changed),
            ("unchanged", done.unchanged),
            ("retired", done.retired or None),
            ("renumbered", done.renumbered or None),
            ("rejected", len({p.line for p in done.rejected}) or None),
            ("empty cells that kept a value", done.kept_values or None),
            # A coarser statement is no change, a finer one that agrees is no move.
            ("said coarser, kept as it was", _counts(done.fineness.kept, done.fineness.kept_fields)),
            ("said finer, refined", _counts(done.fineness.refined, done.fineness.refined_fields)),
            ("leading zeros given back", done.restored_codes or None),
            ("bad rows written to", done.rejects_path),
            ("read as", _decided(done.decided)),
        ]
    )
    if done.findings:
        found = ", ".join(counted(number, severity) for severity, number in sorted(done.findings.items()))
        printer.line(
            f"The checks have {found} about what came in: {command_line('check run', done.set_name)}", style="warning"
        )
    if done.filled is not None:
        without = f"; it knows none for {', '.join(done.filled.unknown[:8])}" if done.filled.unknown else ""
        printer.line(f"  {counted(done.filled.count, 'elevation')} filled in: {done.filled.source}{without}")
    for note in done.decided.notes:
        printer.line(f"  {note}")
    if done.decided.ignored:
        printer.line(f"  columns left aside: {', '.join(done.decided.ignored)}")
    for match in done.matches:
        if not (match.is_renumbered or match.is_far_move):
            printer.line(f"  {_line(printer, match)}")
    for problem in done.rejected:
        printer.line(f"  {rejected_row(problem_plain(problem))}")
    _consequences(printer, done.matches)


def _decided(decided: Decided) -> str:
    """Return what was decided about a file, in one line."""
    delimiter = {"\t": "tab", ",": "comma", ";": "semicolon"}.get(decided.delimiter or "", decided.delimiter)
    parts = [decided.format, decided.encoding, f"{delimiter} between columns" if delimiter else None, decided.notation]
    return ", ".join(part for part in parts if part)


def _counts(number: int, fields: Mapping[str, int]) -> str | None:
    if not number:
        return None
    return f"{number} ({', '.join(f'{FIELD_WORDS[name]} {count}' for name, count in sorted(fields.items()))})"


def _consequences(printer: Printer, matches: Sequence[ToldMatch]) -> None:
    """Show what was renumbered and what moved further than 1 km: all of it, and behind everything else."""
    renumbered = sum(match.is_renumbered for match in matches)
    if renumbered:
        printer.line(f"{counted(renumbered, 'waypoint')} renumbered:", style="warning")
    for match in matches:  # each is made when it is asked for: a million are not held
        if match.is_renumbered:
            printer.line(f"  {_line(printer, match)}")
    far = [match for match in matches if match.is_far_move]
    if far:
        printer.line(f"{counted(len(far), 'waypoint')} moved further than 1 km:", style="warning")
    for match in far:
        moved = short_distance(match.moved_m, printer.units)
        how = f"refined by {moved}, within the rounding of what stood" if match.is_refined else f"moved {moved}"
        printer.line(f"  line {match.line}: {match.code} {match.name} {how}")


def _line(printer: Printer, match: ToldMatch) -> str:
    off = short_distance(match.distance_m, printer.units)
    if match.code == match.old_code:
        kept = "; the row says it coarser, and it stays" if not match.moved_m and match.distance_m else ""
        return f"line {match.line}: {match.code} {match.name} stood {off} away, by {match.round.value}{kept}"
    return (
        f"line {match.line}: {match.code} {match.name} is what stood as {match.old_code}, "
        f"by {match.round.value}, {off} away"
    )
