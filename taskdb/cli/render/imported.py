"""What became of tasks taken from files, and how a task compares with what was given, for people."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from taskdb.cli.render.console import right
from taskdb.core.matching.limits import SAME_ROUNDED_WITHIN_M
from taskdb.core.numbers import counted
from taskdb.core.pasted import command_line
from taskdb.core.quantities import format_short_distance

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.services.tasks.importing import ImportedTask, TaskImported

MOST_OWN_TOLD = 50
"""Points of the tasks' own that are told one by one."""


def warnings_of(result: TaskImported) -> list[str]:
    """Return what a person has to know of tasks taken in, a sentence each."""
    told = []
    for task in result.tasks:
        told += [f"{task.task}: {note}." for note in task.notes]
        if task.renamed_from is not None:
            told.append(f"There is a task {task.renamed_from!r} already; this one is {task.task!r}.")
        if not task.made:
            told.append(f"{task.task} stands already and is not made again; --name PATTERN makes another of it.")
        elif task.equals is not None:
            told.append(f"{task.task} is the same as {task.equals}, which stood already.")
        told += [
            f"{task.task}, {p.label} ({p.code}): the file's position was {format_short_distance(p.off_m)} off;"
            f" it is the place of {result.set_at} now."
            for p in task.points
            if p.off_m is not None and p.off_m > SAME_ROUNDED_WITHIN_M
        ]
    owns = [
        f"{task.task}, {p.label} ({p.code}) is the task's own: {p.reason}."
        for task in result.tasks
        for p in task.unmatched
    ]
    told += owns[:MOST_OWN_TOLD]
    if len(owns) > MOST_OWN_TOLD:
        told.append(f"{len(owns) - MOST_OWN_TOLD:,} more points are the tasks' own; --json lists them all.")
    own = next(((task, point) for task in result.tasks for point in task.unmatched if point.number is not None), None)
    if own is not None:
        places = command_line("task edit", own[0].task, options=["--point", f"{own[1].number}=CODE"])
        told.append(f"A waypoint takes the place of a task's own point with e.g. {places}")
    told += [f"{one.file}{f', {one.name}' if one.name else ''} left out: {one.reason}" for one in result.skipped]
    return told


def show_imported(printer: Printer, result: TaskImported) -> None:
    """Show one row a task: its points, how many files declare it, how far off they were."""
    where = f" in {result.contest}" if result.contest else ""
    made = sum(task.made for task in result.tasks)
    stood = f"; {len(result.tasks) - made} stood already" if made < len(result.tasks) else ""
    printer.heading(f"{counted(made, 'task')} made{where} on {result.set_at}{stood}")
    printer.table(
        ["task", "fingerprint", "points", *right("files"), "matched by", *right("furthest off"), "own points"],
        [
            (
                task.task,
                task.fingerprint,
                " ".join(p.code for p in task.points if p.number is not None),
                len(task.files),
                _matched(task),
                _furthest(task),
                " ".join(p.code for p in task.unmatched) or None,
            )
            for task in result.tasks
        ],
    )
    if result.skipped:
        printer.line(f"{len(result.skipped)} left out, each told with its reason", style="warning")


def _matched(task: ImportedTask) -> str | None:
    """Return how the points were matched, e.g. `3 name, 1 position`."""
    counts = Counter(point.matched_by for point in task.points if point.matched_by is not None)
    return ", ".join(f"{number} {by}" for by, number in sorted(counts.items())) or None


def _furthest(task: ImportedTask) -> str | None:
    offs = [point.off_m for point in task.points if point.off_m is not None]
    return format_short_distance(max(offs)) if offs else None
