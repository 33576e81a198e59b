"""What an import did to waypoints that stood: matches, renumberings, far moves, what was kept finer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from taskdb.core.history.words import FIELD_WORDS
from taskdb.core.plain import metres

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.history.import_plan import Fineness, ToldMatch


def match_plain(match: ToldMatch) -> dict[str, Any]:
    """Return a match as JSON: how far the row lies from what stood, and how far that moved."""
    return {
        "line": match.line,
        "code": match.code,
        "old_code": match.old_code,
        "name": match.name,
        "round": match.round.value,
        "distance_m": metres(match.distance_m),
        "moved_m": metres(match.moved_m),
        "refined": match.is_refined,
    }


def fineness_plain(fineness: Fineness) -> dict[str, Any]:
    """Return how many waypoints kept a finer value or became finer, and how often each field did."""
    return {
        "kept_finer": fineness.kept,
        "refined": fineness.refined,
        "finer_fields": {"kept": dict(fineness.kept_fields), "refined": dict(fineness.refined_fields)},
    }


def fineness_pairs(fineness: Fineness) -> list[tuple[str, str | None]]:
    """Return the lines of the counts: a coarser statement is no change, a finer one that agrees is no move."""
    return [
        ("said coarser, kept as it was", _counts(fineness.kept, fineness.kept_fields)),
        ("said finer, refined", _counts(fineness.refined, fineness.refined_fields)),
    ]


def _counts(number: int, fields: Mapping[str, int]) -> str | None:
    if not number:
        return None
    return f"{number} ({', '.join(f'{FIELD_WORDS[name]} {count}' for name, count in sorted(fields.items()))})"


def show_other_matches(printer: Printer, matches: Sequence[ToldMatch]) -> None:
    """Show matches that are worth a look and change neither a code nor move far."""
    for match in matches:
        if not (match.is_renumbered or match.is_far_move):
            printer.line(f"  {_line(printer, match)}")


def show_consequences(printer: Printer, matches: Sequence[ToldMatch]) -> None:
    """Show what was renumbered and what moved further than 1 km: all of it, and behind everything else."""
    from taskdb.cli.render.numbers import counted, short_distance

    renumbered = [match for match in matches if match.is_renumbered]
    if renumbered:
        printer.line(f"{counted(len(renumbered), 'waypoint')} renumbered:", style="warning")
    for match in renumbered:
        printer.line(f"  {_line(printer, match)}")
    far = [match for match in matches if match.is_far_move]
    if far:
        printer.line(f"{counted(len(far), 'waypoint')} moved further than 1 km:", style="warning")
    for match in far:
        moved = short_distance(match.moved_m, printer.units)
        how = f"refined by {moved}, within the rounding of what stood" if match.is_refined else f"moved {moved}"
        printer.line(f"  line {match.line}: {match.code} {match.name} {how}")


def _line(printer: Printer, match: ToldMatch) -> str:
    from taskdb.cli.render.numbers import short_distance

    off = short_distance(match.distance_m, printer.units)
    if match.code == match.old_code:
        kept = "; the row says it coarser, and it stays" if not match.moved_m and match.distance_m else ""
        return f"line {match.line}: {match.code} {match.name} stood {off} away, by {match.round.value}{kept}"
    return (
        f"line {match.line}: {match.code} {match.name} is what stood as {match.old_code}, "
        f"by {match.round.value}, {off} away"
    )
