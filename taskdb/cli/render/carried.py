"""What became of carried tasks: one table for a season or a mended day, and what is in doubt."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from taskdb.cli.render import numbers
from taskdb.cli.render.console import gathered, right
from taskdb.cli.render.findings import count_words
from taskdb.core.course.compare import PointChange, PointDifference
from taskdb.core.pasted import command_line, quoted

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.services.contests.update import Updated, UpdatedTask
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
            "task", "from", "to", *right("revision", "before", "after"), "shape", *right("moved most"), "findings",
            "state",
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
    said = []
    for outcome in outcomes:
        for point in outcome.points:
            before, after = f"{point.code} {point.name}", f"{point.new_code} {point.new_name}"
            moved = numbers.short_distance(point.moved_m or 0.0, printer.units) or ""
            if point.matched_by is not None and (before != after or point.moved_m):
                now = "=" if before == after else after
                said.append(((before, now, point.matched_by, moved), outcome.name_after))
    holders = gathered(said)
    if not holders:
        return
    printer.line()
    printer.table(
        ["point", "is now", "matched by", *right("moved"), "in"],
        [(*what, _names(names)) for what, names in sorted(holders.items())],
    )


def _new_findings(printer: Printer, outcomes: Sequence[CarriedTask]) -> None:
    holders = gathered(
        ((finding.severity.value, finding.message, finding.rule), outcome.name_after)
        for outcome in outcomes
        for finding in outcome.new_findings
    )
    if holders:
        printer.line()
    for (severity, message, rule), names in holders.items():
        printer.line(f"{_names(names)}: {severity}: {message} [{rule}]", style="warning")


def _doubts(printer: Printer, outcomes: Sequence[CarriedTask]) -> None:
    """Say each doubt once, with the tasks that wait for it and what decides it."""
    doubts = [(outcome, doubt) for outcome in outcomes for doubt in outcome.unresolved]
    candidates = {(doubt.code, doubt.reason): doubt.candidates for _, doubt in reversed(doubts)}
    holders = gathered(((doubt.code, doubt.reason), f"{outcome.task}, {doubt.label}") for outcome, doubt in doubts)
    for (code, reason), names in holders.items():
        printer.line()
        printer.line(f"{code}: {reason} ({_names(names, '; ')})", style="warning")
        for waypoint in candidates[code, reason]:
            printer.line(f"  --map {quoted(f'{code}={waypoint.code}')}  {waypoint.name}")
    waiting = [outcome for outcome in outcomes if outcome.unresolved]
    if waiting:
        printer.line()
        printer.line(f"Decided by: {way_out(waiting)}", style="dim")


def way_out(waiting: Sequence[CarriedTask]) -> str:
    """Return the command that carries the tasks that wait, each code in doubt to be mapped; into the same contest."""
    first = waiting[0]
    names = [f"{one.contest}:{one.task}" if one.contest else one.task for one in waiting]
    words = ["--to", first.to_set] if first.into is None else ["--contest", first.into]
    words += ["--name", first.name_pattern] if first.name_pattern != "{name}" else []
    codes = dict.fromkeys(doubt.code for one in waiting for doubt in one.unresolved)
    words += [word for code in codes for word in ("--map", f"{code}=NEW")]
    return command_line("task carry", *names, options=words)


def _names(names: Sequence[str], between: str = ", ") -> str:
    """Return names, of many the first few and how many more."""
    distinct = list(dict.fromkeys(names))
    shown = between.join(distinct[:MOST_NAMES])
    return shown if len(distinct) <= MOST_NAMES else f"{shown} and {len(distinct) - MOST_NAMES} more"


_CHANGES = {
    PointChange.ZONE: "another zone",
    PointChange.REPLACED: "replaced",
    PointChange.ADDED: "new",
    PointChange.DROPPED: "dropped",
}


def show_updated(printer: Printer, found: Updated, *, would: bool = False) -> None:
    """Show the day's tasks before and after, one row a task, and what was left undone."""
    if found.is_nothing:
        printer.line(f"Nothing to do: {found.contest} stands on {found.set_after}, and no task of the day is stale.")
        return
    verb = "would stand" if would else "stands"
    if found.set_before == found.set_after:
        printer.heading(f"{found.contest} {verb} on {found.set_after} as before")
    else:
        printer.heading(f"{found.contest} {verb} on {found.set_after}, before on {found.set_before}")
    if found.tasks:
        printer.table(
            ["task", "what changes", *right("before", "after"), "fingerprint before", "after"],
            [_updated_row(printer, task) for task in found.tasks],
        )
    if found.unchanged:
        printer.line(f"unchanged: {', '.join(found.unchanged)}")
    for task in found.tasks:
        for doubt in task.carried.unresolved:
            printer.line(f"{task.before.name}, {doubt.label} ({doubt.code}): {doubt.reason}", style="warning")
        if task.carried.refused is not None:
            printer.line(f"{task.before.name}: {task.carried.refused}", style="warning")


def _updated_row(printer: Printer, task: UpdatedTask) -> tuple[str, str, str | None, str | None, str, str | None]:
    what = (
        "left undone"
        if task.after is None
        else ", ".join(dict.fromkeys(_change_words(printer, p) for p in task.points))
    )
    before_m, after_m = (numbers.distance(value, printer.units, 2) for value in task.task_m)
    return task.before.name, what or "values of its points", before_m, after_m, *task.fingerprints


def _change_words(printer: Printer, point: PointDifference) -> str:
    if point.change is PointChange.MOVED:
        return f"{point.code} moved {numbers.short_distance(point.distance_m, printer.units)}"
    return f"{point.code} {_CHANGES.get(point.change, point.change.value)}"
