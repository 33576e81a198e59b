"""Variants of a task side by side, for people."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from taskdb.cli.render import numbers
from taskdb.cli.render.console import Cell, gathered
from taskdb.cli.render.day import clock, over_words
from taskdb.cli.render.findings import brief_lines, count_words
from taskdb.cli.render.tasks import flown_words, shape_words, speed_words, time_words
from taskdb.core.course.compare import PointChange, PointDifference, align_points
from taskdb.core.course.schedule import Extent
from taskdb.core.course.zones import describe_zone, same_geometry

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.services.tasks.keeping import TaskShown
    from taskdb.services.tasks.task import Compared


_MAY_BE_MISSING = {
    *(f"flown over the {extent} distance" for extent in Extent), "last expected finish", "legal end of day", "contest",
    "FAI margin", "time", "speed", "flown",
}  # fmt: skip
"""Rows that are left out where no task has anything to say in them."""
_IF_THEY_DIFFER = {"contest", "set", "status"}
_LABEL, _NARROWEST = 16, 20
"""How wide the first column is, and how narrow that of a task may be before it goes into a further table."""


def show_compared(printer: Printer, compared: Compared) -> None:
    """Show variants in columns with what differs from the first, then that in words, then what reviews find."""
    tasks = compared.tasks
    for numbers_of in _blocks(len(tasks), printer.width):
        shown = [tasks[i] for i in numbers_of]
        rows = [*_value_rows(shown, printer), *_point_rows(compared, numbers_of, printer)]
        printer.table(["", *(called(one) for one in shown)], rows)
        printer.line()
    printer.line("= same   ~ changed   + new   − left out, each against the first", style="dim")
    for other, points in zip(tasks[1:], compared.differences, strict=True):
        printer.line()
        printer.heading(f"{called(other)} against {called(tasks[0])}")
        told = [words for point in points if (words := difference_words(point, tasks[0], other, printer))]
        for words in told:
            printer.line(f"  {words}")
        if not told:
            printer.line("  the same points with the same zones")
    _findings(printer, tasks)


def called(shown: TaskShown) -> str:
    """Return what a compared task is called: `A1@2`."""
    return f"{shown.task.name}@{shown.revision}"


def _blocks(count: int, width: int | None) -> list[list[int]]:
    """Return which tasks stand beside each other: the first in every block, beside as many as the width takes."""
    if width is None:
        return [list(range(count))]
    others = max(1, (width - _LABEL) // _NARROWEST - 1)
    return [[0, *range(start, min(start + others, count))] for start in range(1, count, others)]


def _value_rows(tasks: Sequence[TaskShown], printer: Printer) -> list[list[Cell]]:
    units = printer.units

    def row(label: str, value: Any) -> list[Cell]:
        return [label, *(value(shown) for shown in tasks)]

    def times(shown: TaskShown) -> str | None:
        time = shown.course.time
        return None if time.time_s is None else f"{time.kind}: {time_words(shown)}"

    def flight(shown: TaskShown, extent: Extent) -> str | None:
        found = shown.day.flight(extent) if shown.day is not None else None
        return None if found is None or shown.day is None else over_words(shown.day, found, -1)

    def last(shown: TaskShown) -> str | None:
        finish = shown.day.last_finish if shown.day is not None else None
        return None if finish is None else finish.at() or "cannot be made"

    def legal_end(shown: TaskShown) -> str | None:
        return None if shown.day is None else clock(shown.day.legal_end_at)

    rows = [
        row("contest", lambda s: s.task.contest),
        row("set", lambda s: f"{s.task.set_name}@{s.task.set_revision}"),
        row("status", lambda s: s.task.status.value),
        row("type", lambda s: s.task.type.value),
        row("shape", shape_words),
        row("FAI margin", _margin),
        row("task distance", lambda s: numbers.distance(s.course.distances.task_m, units)),
        row("by centres", lambda s: numbers.distance(s.course.distances.centres_m, units)),
        row("minimum", lambda s: numbers.distance(s.course.distances.minimum_m, units)),
        row("maximum", lambda s: numbers.distance(s.course.distances.maximum_m, units)),
        row("legs", lambda s: " + ".join(str(numbers.distance(leg.distance_m, units)) for leg in s.course.legs)),
        row("time", times),
        row("speed", lambda s: speed_words(s, printer) if s.course.time.time_s is not None else None),
        *(row(f"flown over the {e} distance", lambda s, e=e: flight(s, e)) for e in Extent),
        row("last expected finish", last),
        row("legal end of day", legal_end),
        row("flown", lambda s: flown_words(s, printer)),
        row("fingerprint", lambda s: s.fingerprint),
        row("stale", lambda s: "yes" if s.stale else "no"),
        row("findings", lambda s: count_words(s.review.open) if s.review is not None else None),
    ]
    told = [line for line in rows if line[0] not in _MAY_BE_MISSING or any(cell is not None for cell in line[1:])]
    return [line for line in told if line[0] not in _IF_THEY_DIFFER or len(set(line[1:])) > 1]


def _margin(shown: TaskShown) -> str | None:
    margin = shown.course.shape.fai_margin_percent
    return None if margin is None else f"{abs(margin):.2f} points {'inside' if margin >= 0 else 'short'}"


def _point_rows(compared: Compared, numbers_of: Sequence[int], printer: Printer) -> list[list[Cell]]:
    """Return a row a point, aligned over points: those of the first, and behind them what others have there."""
    first = compared.tasks[0]
    others = [compared.tasks[i] for i in numbers_of[1:]]
    rows: list[list[Cell]] = []
    for number, steps in align_points(len(first.task.points), [compared.differences[i - 1] for i in numbers_of[1:]]):
        own = None if number is None else _point_words(first, number, printer)
        cells = [_step_words(s, first, o, printer) for s, o in zip(steps, others, strict=True)]
        rows.append(["added" if number is None else f"point {number}", own, *cells])
    return rows


def _point_words(shown: TaskShown, number: int, printer: Printer) -> str:
    point = shown.task.points[number]
    return f"{point.place.code} {point.place.name}: {describe_zone(point.zone, printer.units)}"


def _step_words(step: PointDifference | None, first: TaskShown, other: TaskShown, printer: Printer) -> str | None:
    """Return a cell: a sign, what the task has there, and its own number where that is another."""
    if step is None:
        return None
    if step.change is PointChange.DROPPED:
        return "− left out"
    words = _point_words(other, step.number, printer)
    sign = {PointChange.SAME: "=", PointChange.ADDED: "+"}.get(step.change, "~")
    if step.change is PointChange.MOVED:
        words = f"{words}, moved {numbers.short_distance(step.distance_m, printer.units)}"
    moved_up = "" if step.number == step.baseline_number else f" (its point {step.number})"
    return f"{sign} {words}{moved_up}"


def difference_words(point: PointDifference, first: TaskShown, other: TaskShown, printer: Printer) -> str | None:
    """Return one difference in words, with all that differs; None where nothing does, not the name either."""
    off = numbers.short_distance(point.distance_m, printer.units)
    if point.change is PointChange.DROPPED:
        return f"− point {point.number} {point.code} is left out"
    after = other.task.points[point.number]
    if point.change is PointChange.ADDED or point.baseline_number is None:
        return f"+ point {point.number} {point.code} is new ({after.zone.text})"
    if point.change is PointChange.REPLACED:
        return f"~ point {point.number} {point.code} ({after.zone.text}) instead of {point.baseline_code}, {off} away"
    before = first.task.points[point.baseline_number]
    names = [f"{p.place.code} {p.place.name}" for p in (before, after)]
    parts = [
        f"moved {off}" if point.change is PointChange.MOVED else "",
        "" if same_geometry(before.zone, after.zone) else f"{before.zone.text} → {after.zone.text}",
        "" if names[0] == names[1] else f"was {names[0]}",
        "" if before.role is after.role else f"{before.role} → {after.role}",
    ]
    told = ", ".join(part for part in parts if part)
    return f"~ point {point.number} {point.code}: {told}" if told else None


def _findings(printer: Printer, tasks: Sequence[TaskShown]) -> None:
    """Say each finding once, with the tasks that have it."""
    holders = gathered(
        ((severity.value, text), called(shown))
        for shown in tasks
        if shown.review is not None
        for severity, text in brief_lines(shown.review.open)
    )
    if not holders:
        return
    printer.line()
    printer.heading("Findings")
    for (word, text), names in holders.items():
        whose = "all" if len(names) == len(tasks) else ", ".join(names)
        printer.line(f"  {whose}: {word}: {text}")
