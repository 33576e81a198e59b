"""What became of carried tasks, for people: one table for a season, and what is in doubt."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from typing import TYPE_CHECKING

from taskdb.cli.render import numbers
from taskdb.cli.render.console import Column
from taskdb.cli.render.review import count_words

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.services.tasks.carrying import CarriedTask


MOST_NAMES = 6


def show_carried(printer: Printer, outcomes: Sequence[CarriedTask]) -> None:
    """Show one row a task, then every point in doubt with what it may be, and what a review finds that is new."""
    if not outcomes:
        printer.line("Nothing to do: no task is stale.")
        return
    units = printer.units
    printer.table(
        [
            "task", "from", "to", Column("revision", right=True), Column("before", right=True),
            Column("after", right=True), "shape", Column("moved most", right=True), "findings", "state",
        ],
        [
            (
                outcome.name_after, outcome.from_set, outcome.to_set, outcome.revision,
                numbers.distance(outcome.distance_before_m, units),
                numbers.distance(outcome.distance_after_m, units),
                _shape(outcome),
                numbers.short_distance(max((p.moved_m or 0.0 for p in outcome.points), default=0.0), units),
                _findings(outcome),
                "carried" if outcome.revision is not None else "left undone",
            )
            for outcome in outcomes
        ],
    )  # fmt: skip
    _changed_points(printer, outcomes)
    for outcome in outcomes:
        if outcome.refused is not None:
            printer.line()
            printer.line(f"{outcome.task}: {outcome.refused}", style="warning")
    _new_findings(printer, outcomes)
    _doubts(printer, outcomes)


def _findings(outcome: CarriedTask) -> str:
    """Return `none`, `1 warning`, or `1 warning → none` where they differ."""
    before = count_words(outcome.findings_before)
    after = count_words(outcome.findings_after) if outcome.revision is not None else before
    return before if before == after and not outcome.new_findings else f"{before} → {after}"


def _shape(outcome: CarriedTask) -> str:
    if outcome.shape_after is None or outcome.shape_after == outcome.shape_before:
        return outcome.shape_before
    return f"{outcome.shape_before} → {outcome.shape_after}"


def _changed_points(printer: Printer, outcomes: Sequence[CarriedTask]) -> None:
    """Show each point once that is called otherwise or lies elsewhere now, with what matched it and whose it is."""
    holders: dict[tuple[str, ...], list[str]] = {}
    for outcome in outcomes:
        for point in outcome.points:
            before, after = f"{point.code} {point.name}", f"{point.new_code} {point.new_name}"
            moved = numbers.short_distance(point.moved_m or 0.0, printer.units) or ""
            if point.matched_by is not None and (before != after or point.moved_m):
                said = (before, "=" if before == after else after, point.matched_by, moved)
                holders.setdefault(said, []).append(outcome.name_after)
    if not holders:
        return
    printer.line()
    printer.table(
        ["point", "is now", "matched by", Column("moved", right=True), "in"],
        [(*said, _names(names)) for said, names in sorted(holders.items())],
    )


def _new_findings(printer: Printer, outcomes: Sequence[CarriedTask]) -> None:
    holders: dict[tuple[str, ...], list[str]] = {}
    for outcome in outcomes:
        for finding in outcome.new_findings:
            holders.setdefault((finding.severity.value, finding.message, finding.rule), []).append(outcome.name_after)
    if holders:
        printer.line()
    for (severity, message, rule), names in holders.items():
        printer.line(f"{_names(names)}: {severity}: {message} [{rule}]", style="warning")


def _doubts(printer: Printer, outcomes: Sequence[CarriedTask]) -> None:
    """Say each doubt once, with the tasks that wait for it and what decides it."""
    holders: dict[tuple[str, str], list[str]] = {}
    candidates: dict[tuple[str, str], dict[str, str]] = {}
    for outcome in outcomes:
        for doubt in outcome.unresolved:
            key = (doubt.code, doubt.reason)
            holders.setdefault(key, []).append(f"{outcome.task}, {doubt.label}")
            candidates.setdefault(key, {w.code: w.name for w in doubt.candidates})
    for (code, reason), names in holders.items():
        printer.line()
        printer.line(f"{code}: {reason} ({_names(names, '; ')})", style="warning")
        for new, name in candidates[code, reason].items():
            printer.line(f"  --map {code}={new}  {name}")
    waiting = [outcome for outcome in outcomes if outcome.unresolved]
    if waiting:
        printer.line()
        printer.line(f"Decided by: {way_out(waiting)}", style="dim")


def way_out(waiting: Sequence[CarriedTask]) -> str:
    """Return the command that carries the tasks that wait, each code in doubt to be mapped; into the same contest."""
    first = waiting[0]
    names = [f"{one.contest}:{one.task}" if one.contest else one.task for one in waiting]
    words = ["taskdb", "task", "carry", *names]
    words += ["--to", first.to_set] if first.into is None else ["--contest", first.into]
    words += ["--name", first.name_pattern] if first.name_pattern != "{name}" else []
    codes = dict.fromkeys(doubt.code for one in waiting for doubt in one.unresolved)
    return shlex.join([*words, *(word for code in codes for word in ("--map", f"{code}=NEW"))])


def _names(names: Sequence[str], between: str = ", ") -> str:
    """Return names, of many the first few and how many more."""
    distinct = list(dict.fromkeys(names))
    shown = between.join(distinct[:MOST_NAMES])
    return shown if len(distinct) <= MOST_NAMES else f"{shown} and {len(distinct) - MOST_NAMES} more"
