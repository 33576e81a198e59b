"""A contest's day before and after a mended coordinate: one table for people."""

from __future__ import annotations

from typing import TYPE_CHECKING

from taskdb.cli.render import numbers
from taskdb.cli.render.console import Column
from taskdb.core.course.compare import PointChange, PointDifference

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.services.contests.update import Updated, UpdatedTask

_WORDS = {
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
            [
                "task", "what changes", Column("before", right=True), Column("after", right=True),
                "fingerprint before", "after",
            ],
            [_row(printer, task) for task in found.tasks],
        )  # fmt: skip
    if found.unchanged:
        printer.line(f"unchanged: {', '.join(found.unchanged)}")
    for task in found.tasks:
        for doubt in task.carried.unresolved:
            printer.line(f"{task.before.name}, {doubt.label} ({doubt.code}): {doubt.reason}", style="warning")
        if task.carried.refused is not None:
            printer.line(f"{task.before.name}: {task.carried.refused}", style="warning")


def _row(printer: Printer, task: UpdatedTask) -> tuple[str, str, str | None, str | None, str, str | None]:
    what = "left undone" if task.after is None else ", ".join(dict.fromkeys(_words(printer, p) for p in task.points))
    before_m, after_m = (numbers.distance(value, printer.units, 2) for value in task.task_m)
    return task.before.name, what or "values of its points", before_m, after_m, *task.fingerprints


def _words(printer: Printer, point: PointDifference) -> str:
    if point.change is PointChange.MOVED:
        return f"{point.code} moved {numbers.short_distance(point.distance_m, printer.units)}"
    return f"{point.code} {_WORDS.get(point.change, point.change.value)}"
