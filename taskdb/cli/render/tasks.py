"""Tasks for people: the page of one with what a declared course is worth, lists of tasks, the log."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from taskdb.cli.render import numbers
from taskdb.cli.render.console import Cell, right
from taskdb.cli.render.day import show_day_sheet
from taskdb.cli.render.findings import show_findings_briefly
from taskdb.core.course.declared import ends_words
from taskdb.core.course.free import free_words
from taskdb.core.course.zones import describe_zone
from taskdb.core.model import Earth, ShapeKind
from taskdb.core.numbers import counted
from taskdb.core.quantities import format_duration
from taskdb.core.shown import since_words

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.course.declared import DeclaredCourse
    from taskdb.core.course.shape import CourseShape
    from taskdb.core.kept import TaskSummaryRow
    from taskdb.services.handing_out.handout import TaskHandedOut
    from taskdb.services.tasks.finding import FoundTask, FoundTasks
    from taskdb.services.tasks.keeping import TaskShown
    from taskdb.services.tasks.task import TaskLogged

CAUTION = "A planning aid, not for primary navigation: check airspace, NOTAM, weather and the contest's own rules."
NO_PROMISE = "What the geometry would meet, and no promise: the Sporting Code in force and an official observer decide."


def show_task_page(printer: Printer, shown: TaskShown) -> None:
    """Show one task: what it is, points with zones, legs, distances, shape, time, what is stale."""
    task = shown.task
    belongs = [("contest", task.contest), ("day", task.day), ("class", task.class_name), ("variant", task.variant)]
    printer.heading(f"{task.name}, revision {shown.revision}: {task_words(shown)}")
    printer.pairs(
        [
            ("for", ", ".join(f"{label} {value}" for label, value in belongs if value is not None) or None),
            ("status", task.status.value),
            ("set", f"{task.set_name}@{task.set_revision}"),
            ("fingerprint", shown.fingerprint),
            ("take-off", task.take_off.name if task.take_off else None),
            ("landing", task.landing.name if task.landing else None),
            ("tags", ", ".join(task.tags) or None),
            ("flown", flown_words(shown, printer)),
        ]
    )
    printer.line()
    _points(printer, shown)
    if task.free is not None:
        printer.line(free_words(task.free, printer.units))
    printer.line()
    _legs(printer, shown)
    printer.line()
    _figures(printer, shown)
    if shown.course.declared is not None:
        printer.line()
        _declared(printer, shown.course.declared)
    if shown.day is not None:
        printer.line()
        show_day_sheet(printer, shown.day)
    for reason in shown.stale:
        printer.line(f"stale: {reason}", style="warning")
    for remark in shown.beside:
        printer.line(f"note: {remark}")
    if shown.review is not None:
        show_findings_briefly(printer, shown.review)
    printer.line(CAUTION, style="dim")


def flown_words(shown: TaskShown, printer: Printer) -> str | None:
    """Return what is known of the days on which a task was flown, in words; None where it never was."""
    if shown.flown is None:
        return None
    return shown.flown.words(numbers.speed(shown.flown.best_kmh, printer.units))


def task_words(shown: TaskShown) -> str:
    """Return the type and the shape of a task in words."""
    names = {"assigned-area": "assigned area task", "modified": "modified assigned task", "racing": "racing task"}
    return f"{names.get(shown.task.type, 'declared course')}, {shape_words(shown)}"


def shape_words(shown: TaskShown) -> str:
    """Return the shape in words: `FAI triangle`, `closed course with 4 turns`."""
    shape = shown.course.shape
    if shape.kind is not ShapeKind.MULTI_TURN:
        return shape_name(shape)
    turns = counted(len(shown.task.points) - 2, "turn")
    return f"{'closed course' if shape.is_closed else 'course'} with {turns}"


def shape_name(shape: CourseShape) -> str:
    """Return what a shape is called: `FAI triangle`, `out and return`, `several turns`."""
    if shape.kind is ShapeKind.TRIANGLE:
        return "FAI triangle" if shape.is_fai_triangle else "triangle, not an FAI triangle"
    if shape.kind is ShapeKind.MULTI_TURN:
        return "several turns"
    return {"goal": "goal", "dog-leg": "dog-leg", "out-and-return": "out and return"}[shape.kind]


def margin_words(shape: CourseShape) -> str:
    """Return by how much a triangle is or is not an FAI triangle, behind its sides; empty for other shapes."""
    margin = shape.fai_margin_percent
    return "" if margin is None else f"; {abs(margin):.2f} points {'inside' if margin >= 0 else 'short of'} the limit"


def _points(printer: Printer, shown: TaskShown) -> None:
    printer.table(
        [*right("no."), "role", "code", "name", "position", *right("elevation"), "zone", "from"],
        [
            (
                number,
                point.role.value,
                point.place.code,
                point.place.name,
                numbers.position(point.place.position),
                None if point.place.elevation_m is None else f"{point.place.elevation_m:.0f} m",
                describe_zone(point.zone, printer.units),
                point.zone_from.value,
            )
            for number, point in enumerate(shown.task.points)
        ],
    )


def _legs(printer: Printer, shown: TaskShown) -> None:
    total = 0.0
    rows: list[Sequence[Cell]] = []
    magnetic = shown.magnetic_between_points
    for number, leg in enumerate(shown.course.between_points):
        total += leg.distance_m
        rows.append(
            (
                f"{leg.from_number} to {leg.to_number}",
                numbers.distance(leg.distance_m, printer.units),
                numbers.course(leg.course_true_deg),
                *([numbers.course(magnetic[number])] if magnetic else []),
                numbers.distance(total, printer.units),
            )
        )
    titles = ["distance", "course true", *(["magnetic"] if magnetic else []), "so far"]
    printer.table(["leg", *right(*titles)], rows)


def _figures(printer: Printer, shown: TaskShown) -> None:
    distances, shape, time = shown.course.distances, shown.course.shape, shown.course.time
    units = printer.units
    earth = "WGS84 ellipsoid" if shown.task.rules.earth is Earth.WGS84 else "FAI sphere, radius 6371 km"
    areas = distances.minimum_m != distances.task_m or distances.maximum_m != distances.task_m
    rows: list[tuple[str, Cell]] = [
        ("task distance", f"{numbers.distance(distances.task_m, units)} ({earth})"),
        ("by centres", numbers.distance(shown.course.points_m, units)),
    ]
    if shown.course.legs != shown.course.between_points:
        # What an instrument shows is the length through the points; the contest counts another one.
        rows.append(("through the middle of ring segments", numbers.distance(distances.centres_m, units)))
    rows += [
        ("less", f"{numbers.distance(taken.metres, units)} at point {taken.number}: {taken.reason}")
        for taken in distances.deductions
    ]
    if areas:
        rows += [
            ("minimum", numbers.distance(distances.minimum_m, units)),
            ("maximum", numbers.distance(distances.maximum_m, units)),
        ]
    rows.append(("shortest through the zones", numbers.distance(distances.shortest_touching_m, units)))
    rows += _shape_rows(shape)
    if not shape.is_closed:
        rows.append(("start to finish", numbers.short_distance(shape.gap_m, units)))
    if time.time_s is not None:
        rows.append((f"{time.kind} time", time_words(shown)))
        rows.append(("speed for it", speed_words(shown, printer)))
    printer.pairs(rows)


def time_words(shown: TaskShown) -> str | None:
    """Return the task's time: a set one as it is, one from a speed to the minute, with what it rests on."""
    time_s = shown.course.time.time_s
    if time_s is None:
        return None
    if shown.task.time_s is not None:
        return format_duration(time_s)
    in_wind = shown.day is not None and shown.day.air is not None and shown.course.time.kind == "expected"
    return f"{format_duration(round(time_s / 60) * 60)} ({'in the wind of the day' if in_wind else 'by its speed'})"


def _shape_rows(shape: CourseShape) -> list[tuple[str, Cell]]:
    """Return the sides of a triangle and the margin by which it is or is not an FAI triangle."""
    if shape.kind is not ShapeKind.TRIANGLE:
        return [("shape", shape.note or None)]
    sides = " / ".join(f"{side:.2f} %" for side in shape.side_percent)
    return [("sides", sides + margin_words(shape)), ("", shape.note or None)]


def speed_words(shown: TaskShown, printer: Printer) -> str:
    """Return the speeds over minimum, task and maximum distance, or the one where they are the same."""
    time, distances = shown.course.time, shown.course.distances
    task = numbers.speed(time.task_kmh, printer.units)
    if distances.minimum_m == distances.task_m and distances.maximum_m == distances.task_m:
        return str(task)
    parts = [("minimum", time.minimum_kmh), ("task", time.task_kmh), ("maximum", time.maximum_kmh)]
    return ", ".join(f"{numbers.speed(value, printer.units)} ({name})" for name, value in parts if value is not None)


def _declared(printer: Printer, course: DeclaredCourse) -> None:
    """Show the distances side by side, then each award within reach with what else it requires."""
    units = printer.units
    printer.table(
        ["turns claimed by", *right("distance", "loss of height that costs nothing")],
        [
            (zones.zones, numbers.distance(zones.distance_m, units), numbers.elevation(zones.allowed_loss_m))
            for zones in (course.sectors, course.cylinders)
        ],
    )
    if course.ends:
        printer.line(f"in both: {ends_words(course, units)}")
    for obstacle in course.obstacles:
        printer.line(f"against it: {obstacle}", style="warning")
    for award in course.awards:
        ways = [name for name, is_met in (("sectors", award.by_sectors), ("cylinders", award.by_cylinders)) if is_met]
        printer.line(
            f"{award.name}: its distance is met by {' and by '.join(ways)}; besides {'; '.join(award.requires)}"
        )
    printer.line(NO_PROMISE, style="dim")


def show_task_list(printer: Printer, rows: Sequence[TaskSummaryRow]) -> None:
    """Show tasks as a table."""
    if not rows:
        printer.line("There is no task yet. Make one: taskdb task new NAME POINT POINT …")
        return
    units = printer.units
    printer.table(
        [
            "contest", *right("day"), "class", "task", "variant", "status", "type",
            *right("distance"), "minimum to maximum", "shape", "points",
        ],
        [
            (
                row.contest, row.day, row.class_name, row.task, row.variant, row.status, row.type,
                numbers.distance(row.task_m, units),
                None
                if row.minimum_m is None or row.minimum_m == row.maximum_m
                else f"{numbers.distance(row.minimum_m, units)} to {numbers.distance(row.maximum_m, units) or 'open'}",
                row.shape, " ".join(row.codes),
            )
            for row in rows
        ],
    )  # fmt: skip


def show_task_log(
    printer: Printer, name: str, revisions: Sequence[TaskLogged], handed_out: Sequence[TaskHandedOut] = ()
) -> None:
    """Show a task's revisions as a table, and when it was handed out with what differs from that now."""
    printer.heading(name)
    printer.table(
        [*right("revision"), "at", "by", "status", *right("distance"), "fingerprint",
         "what changed", "note"],
        [
            (
                logged.info.number, logged.info.at, logged.info.author,
                "retired" if logged.info.retired else logged.status.value,
                numbers.distance(logged.task_m, printer.units), logged.fingerprint, "; ".join(logged.changes) or None,
                logged.info.note,
            )
            for logged in revisions
        ],
    )  # fmt: skip
    for handed in handed_out:
        entry = handed.entry
        whom = f" to {entry.to_whom}" if entry.to_whom else ""
        printer.line(
            f"handed out{whom} at {entry.at} as {name}@{entry.revision} in {entry.target}: {since_words(handed.values)}"
        )


def show_found_tasks(printer: Printer, found: FoundTasks) -> None:
    """Show found tasks as a table; with a likeness where one was asked for."""
    if not found.total:
        printer.line("No task fits.")
        return
    units = printer.units
    alike = any(task.like is not None for task in found.tasks)
    rows = []
    for task in found.tasks:
        row, rate = task.row, task.finish_rate_percent
        cells: list[Cell] = [
            row.contest, row.day, row.task, row.status, row.type, numbers.distance(row.task_m, units), row.shape,
            row.flown or None, task.last_flown, None if rate is None else f"{rate:.0f} %", " ".join(row.codes),
        ]  # fmt: skip
        if alike:
            cells += [f"{task.like.score * 100:.0f} %", _because(task, printer)] if task.like else [None, None]
        rows.append(cells)
    columns = [
        "contest", *right("day"), "task", "status", "type", *right("distance"), "shape", *right("flown"), "last",
        *right("finished"), "points",
    ]  # fmt: skip
    printer.table([*columns, *right("alike"), "because"] if alike else columns, rows)
    printer.shown(len(found.tasks), found.total, "tasks")


def _because(task: FoundTask, printer: Printer) -> str:
    assert task.like is not None
    apart = numbers.short_distance(task.like.apart_m, printer.units)
    return f"points {task.like.points * 100:.0f} %, legs {task.like.legs * 100:.0f} %, at most {apart} apart"
