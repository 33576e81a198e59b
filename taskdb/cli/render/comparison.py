"""Variants of a task side by side, for people and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from taskdb.cli.render import numbers
from taskdb.cli.render.console import Cell
from taskdb.cli.render.day import clock, over_words
from taskdb.cli.render.review import count_words
from taskdb.cli.render.tasks import shape_words, shown_plain, speed_words, time_words
from taskdb.core.course.compare import PointChange, PointDifference
from taskdb.core.course.schedule import Extent
from taskdb.core.course.zones import describe_zone
from taskdb.core.plain import metres

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.services.tasks import Compared, TaskShown


_OF_THE_DAY = {*(f"flown over the {extent} distance" for extent in Extent), "last expected finish", "legal end of day"}
"""Rows that are left out where no task has anything to say in them."""


def compared_plain(compared: Compared) -> dict[str, Any]:
    """Return compared tasks as JSON: each as shown, and what differs from the first."""
    first = compared.tasks[0]
    return {
        "tasks": [shown_plain(shown) for shown in compared.tasks],
        "baseline": first.task.name,
        "differences": [
            _difference_plain(first, other, points)
            for other, points in zip(compared.tasks[1:], compared.differences, strict=True)
        ],
    }


def _difference_plain(first: TaskShown, other: TaskShown, points: Sequence[PointDifference]) -> dict[str, Any]:
    before, after = first.course, other.course

    def change(old: float | None, new: float | None) -> float | None:
        return None if old is None or new is None else metres(new - old)

    old_time, new_time = before.time.time_s, after.time.time_s
    return {
        "task": other.task.name,
        "centres_m": change(before.distances.centres_m, after.distances.centres_m),
        "task_m": change(before.distances.task_m, after.distances.task_m),
        "minimum_m": change(before.distances.minimum_m, after.distances.minimum_m),
        "maximum_m": change(before.distances.maximum_m, after.distances.maximum_m),
        "time_s": None if old_time is None or new_time is None else new_time - old_time,
        "points": [
            {
                "number": point.number,
                "change": point.change.value,
                "distance_m": None if point.distance_m is None else metres(point.distance_m),
                "code": point.code,
                "baseline_number": point.baseline_number,
                "baseline_code": point.baseline_code,
            }
            for point in points
        ],
    }


def show_compared(printer: Printer, compared: Compared) -> None:
    """Show variants in columns, then what differs from the first point by point."""
    tasks, units = compared.tasks, printer.units

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
        row("type", lambda s: s.task.type.value),
        row("shape", shape_words),
        row("task distance", lambda s: numbers.distance(s.course.distances.task_m, units)),
        row("by centres", lambda s: numbers.distance(s.course.distances.centres_m, units)),
        row("minimum", lambda s: numbers.distance(s.course.distances.minimum_m, units)),
        row("maximum", lambda s: numbers.distance(s.course.distances.maximum_m, units)),
        row("time", times),
        row("speed", lambda s: speed_words(s, printer) if s.course.time.time_s is not None else None),
        *(row(f"flown over the {e} distance", lambda s, e=e: flight(s, e)) for e in Extent),
        row("last expected finish", last),
        row("legal end of day", legal_end),
        row("fingerprint", lambda s: s.fingerprint),
        row("stale", lambda s: "yes" if s.stale else "no"),
        row("findings", lambda s: count_words(s.review.open) if s.review is not None else None),
    ]
    rows = [line for line in rows if line[0] not in _OF_THE_DAY or any(cell is not None for cell in line[1:])]
    most = max(len(shown.task.points) for shown in tasks)
    for number in range(most):
        rows.append(row(f"point {number}", lambda s, n=number: _point_words(s, n, printer)))
    printer.table(["", *(f"{shown.task.name}@{shown.revision}" for shown in tasks)], rows)
    for other, points in zip(tasks[1:], compared.differences, strict=True):
        printer.line()
        printer.heading(f"{other.task.name} against {tasks[0].task.name}")
        changed = [point for point in points if point.change is not PointChange.SAME]
        for point in changed:
            printer.line(f"  {difference_words(point, tasks[0], other, printer)}")
        if not changed:
            printer.line("  the same points with the same zones")


def _point_words(shown: TaskShown, number: int, printer: Printer) -> str | None:
    if number >= len(shown.task.points):
        return None
    point = shown.task.points[number]
    return f"{point.place.code} {point.place.name}: {describe_zone(point.zone, printer.units)}"


def difference_words(point: PointDifference, first: TaskShown, other: TaskShown, printer: Printer) -> str:
    """Return one difference in words."""
    off = numbers.short_distance(point.distance_m, printer.units)
    if point.change is PointChange.DROPPED:
        return f"− point {point.number} {point.code} is left out"
    zone = other.task.points[point.number].zone.text
    if point.change is PointChange.ADDED:
        return f"+ point {point.number} {point.code} is new ({zone})"
    if point.change is PointChange.ZONE and point.baseline_number is not None:
        return f"~ point {point.number} {point.code}: {first.task.points[point.baseline_number].zone.text} → {zone}"
    if point.change is PointChange.MOVED:
        return f"~ point {point.number} {point.code} moved {off}"
    return f"~ point {point.number} {point.code} ({zone}) instead of {point.baseline_code}, {off} away"
