"""Tasks for people and as JSON: the page of one, the list, the log."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from taskdb.cli.render import numbers
from taskdb.cli.render.console import Cell, Column
from taskdb.cli.render.day import show_day_sheet
from taskdb.cli.render.declared import declared_plain, show_declared
from taskdb.cli.render.handed_out import change_plain, since_words
from taskdb.cli.render.review import show_findings_briefly
from taskdb.core.course.day import magnetic_courses
from taskdb.core.course.declared import assess_declared
from taskdb.core.course.free import free_words
from taskdb.core.course.zones import describe_zone
from taskdb.core.day_plain import day_sheet_plain
from taskdb.core.model import Earth, ShapeKind, TaskType
from taskdb.core.plain import course_degrees, finding_plain, metres, task_plain
from taskdb.core.quantities import format_duration

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer
    from taskdb.core.kept import TaskSummaryRow
    from taskdb.services.handing_out.handout import TaskHandedOut
    from taskdb.services.tasks.task import TaskLogged, TaskShown

CAUTION = "A planning aid, not for primary navigation: check airspace, NOTAM, weather and the contest's own rules."


def shown_plain(shown: TaskShown) -> dict[str, Any]:
    """Return a task as `task show` answers it in JSON."""
    plain = task_plain(
        shown.task, shown.course, revision=shown.revision, fingerprint=shown.fingerprint, stale=shown.stale
    )
    if shown.day is not None:
        for leg, magnetic in zip(plain["legs"], shown.day.magnetic_deg, strict=False):
            leg["course_magnetic_deg"] = None if magnetic is None else course_degrees(magnetic)
    declared = assess_declared(shown.task) if shown.task.type is TaskType.DECLARED else None
    return {
        **plain,
        "declared": None if declared is None else declared_plain(declared),
        "beside": list(shown.beside),
        "retired": shown.info.retired,
        "day_sheet": day_sheet_plain(shown.day),
        "findings": [] if shown.review is None else [finding_plain(finding) for finding in shown.review.open],
    }


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
    if task.type is TaskType.DECLARED:
        printer.line()
        show_declared(printer, assess_declared(task))
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


def task_words(shown: TaskShown) -> str:
    """Return the type and the shape of a task in words."""
    names = {"assigned-area": "assigned area task", "modified": "modified assigned task", "racing": "racing task"}
    return f"{names.get(shown.task.type, 'declared course')}, {shape_words(shown)}"


def shape_words(shown: TaskShown) -> str:
    """Return the shape in words: `FAI triangle`, `closed course with 4 turns`."""
    shape = shown.course.shape
    if shape.kind is ShapeKind.TRIANGLE:
        return "FAI triangle" if shape.is_fai_triangle else "triangle, not an FAI triangle"
    if shape.kind is ShapeKind.MULTI_TURN:
        turns = numbers.counted(len(shown.task.points) - 2, "turn")
        return f"{'closed course' if shape.is_closed else 'course'} with {turns}"
    return {"goal": "goal", "dog-leg": "dog-leg", "out-and-return": "out and return"}[shape.kind]


def _points(printer: Printer, shown: TaskShown) -> None:
    printer.table(
        [
            Column("no.", right=True),
            "role",
            "code",
            "name",
            "position",
            Column("elevation", right=True),
            "zone",
            "from",
        ],
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
    magnetic = _magnetic(shown)
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
    right = [Column("distance", right=True), Column("course true", right=True)]
    right += [Column("magnetic", right=True)] if magnetic else []
    printer.table(["leg", *right, Column("so far", right=True)], rows)


def _magnetic(shown: TaskShown) -> tuple[float | None, ...]:
    """Return the magnetic courses of the legs from point to point; empty where none is known."""
    if shown.day is None or not shown.day.magnetic_deg:
        return ()
    return magnetic_courses(replace(shown.course, legs=shown.course.between_points), shown.day.declinations)


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
    rows += shape_rows(shown)
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


def shape_rows(shown: TaskShown) -> list[tuple[str, Cell]]:
    """Return the sides of a triangle and the margin by which it is or is not an FAI triangle."""
    shape = shown.course.shape
    if shape.kind is not ShapeKind.TRIANGLE:
        return [("shape", shape.note or None)]
    sides = " / ".join(f"{side:.2f} %" for side in shape.side_percent)
    margin = shape.fai_margin_percent
    held = "" if margin is None else f"; {abs(margin):.2f} points {'inside' if margin >= 0 else 'short of'} the limit"
    return [("sides", sides + held), ("", shape.note or None)]


def speed_words(shown: TaskShown, printer: Printer) -> str:
    """Return the speeds over minimum, task and maximum distance, or the one where they are the same."""
    time, distances = shown.course.time, shown.course.distances
    task = numbers.speed(time.task_kmh, printer.units)
    if distances.minimum_m == distances.task_m and distances.maximum_m == distances.task_m:
        return str(task)
    parts = [("minimum", time.minimum_kmh), ("task", time.task_kmh), ("maximum", time.maximum_kmh)]
    return ", ".join(f"{numbers.speed(value, printer.units)} ({name})" for name, value in parts if value is not None)


def task_row_plain(row: TaskSummaryRow) -> dict[str, Any]:
    """Return a row of a list of tasks as JSON."""
    return {
        "task": row.task,
        "revision": row.revision,
        "contest": row.contest,
        "day": row.day,
        "class": row.class_name,
        "variant": row.variant,
        "status": row.status,
        "type": row.type,
        "task_m": metres(row.task_m),
        "minimum_m": None if row.minimum_m is None else metres(row.minimum_m),
        "maximum_m": None if row.maximum_m is None else metres(row.maximum_m),
        "shape": row.shape,
        "codes": list(row.codes),
        "flown": row.flown,
    }


def show_task_list(printer: Printer, rows: Sequence[TaskSummaryRow]) -> None:
    """Show tasks as a table."""
    if not rows:
        printer.line("There is no task yet. Make one: taskdb task new NAME POINT POINT …")
        return
    units = printer.units
    printer.table(
        [
            "contest", Column("day", right=True), "class", "task", "variant", "status", "type",
            Column("distance", right=True), "minimum to maximum", "shape", "points",
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


def handed_out_plain(handed: TaskHandedOut) -> dict[str, Any]:
    """Return a hand-out of a task as JSON."""
    entry = handed.entry
    return {
        "handout": entry.handout_id,
        "at": entry.at,
        "author": entry.author,
        "to_whom": entry.to_whom,
        "target": entry.target,
        "revision": entry.revision,
        "fingerprint": entry.fingerprint,
        "since": since_words(handed.values),
        "changes": [change_plain(value) for value in handed.values],
    }


def show_task_log(
    printer: Printer, name: str, revisions: Sequence[TaskLogged], handed_out: Sequence[TaskHandedOut] = ()
) -> None:
    """Show a task's revisions as a table, and when it was handed out with what differs from that now."""
    printer.heading(name)
    printer.table(
        [Column("revision", right=True), "at", "by", "status", Column("distance", right=True), "fingerprint",
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
