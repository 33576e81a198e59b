"""Found tasks and flown days, for people."""

from __future__ import annotations

from typing import TYPE_CHECKING

from taskdb.cli.render import numbers
from taskdb.cli.render.console import Column

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.services.tasks.finding import FoundTask, FoundTasks
    from taskdb.services.tasks.flown import FlownShown


def show_found_tasks(printer: Printer, found: FoundTasks) -> None:
    """Show found tasks as a table; with a likeness where one was asked for."""
    if not found.total:
        printer.line("No task fits.")
        return
    units = printer.units
    alike = any(task.like is not None for task in found.tasks)
    likeness: list[Column | str] = [Column("alike", right=True), "because"] if alike else []
    rows = []
    for task in found.tasks:
        row = task.row
        rate = task.finish_rate_percent
        cells: list[str | int | None] = [
            row.contest, row.day, row.task, row.status, row.type, numbers.distance(row.task_m, units), row.shape,
            row.flown or None, task.last_flown, None if rate is None else f"{rate:.0f} %", " ".join(row.codes),
        ]  # fmt: skip
        if alike:
            cells += [f"{task.like.score * 100:.0f} %", _because(task, printer)] if task.like else [None, None]
        rows.append(cells)
    columns: list[Column | str] = [
        "contest", Column("day", right=True), "task", "status", "type", Column("distance", right=True), "shape",
        Column("flown", right=True), "last", Column("finished", right=True), "points", *likeness,
    ]  # fmt: skip
    printer.table(columns, rows)
    printer.shown(len(found.tasks), found.total, "tasks")


def _because(task: FoundTask, printer: Printer) -> str:
    assert task.like is not None
    apart = numbers.short_distance(task.like.apart_m, printer.units)
    return f"points {task.like.points * 100:.0f} %, legs {task.like.legs * 100:.0f} %, at most {apart} apart"


def show_flown(printer: Printer, shown: FlownShown) -> None:
    """Show the days on which a task was flown."""
    if not shown.records:
        printer.line(f"There is no flown record of {shown.task!r}.")
        return
    printer.heading(shown.task)
    right = [Column(title, right=True) for title in ("cloud base", "starters", "finishers", "best", "median")]
    printer.table(
        ["day", "wind", *right, "remarks"],
        [
            (
                record.flown_on,
                None
                if record.wind_from_deg is None or record.wind_speed_kmh is None
                else f"{numbers.course(record.wind_from_deg)} {numbers.speed(record.wind_speed_kmh, printer.units)}",
                numbers.elevation(record.cloud_base_m),
                record.starters,
                record.finishers,
                numbers.speed(record.best_kmh, printer.units),
                numbers.speed(record.median_kmh, printer.units),
                record.remarks,
            )
            for record in shown.records
        ],
    )
