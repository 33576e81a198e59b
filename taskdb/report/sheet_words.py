"""What a task sheet says, as words and figures: heading, points, legs, distances, cross-check, cautions.

Turns values into sentences for people and lays nothing out. Figures are rounded for show here and nowhere else.
"""

from __future__ import annotations

from dataclasses import dataclass

from taskdb.core.course.deductions import CYLINDER_CORRECTION_M, between_rings_m
from taskdb.core.course.measure import Course
from taskdb.core.course.regions import counts_off_its_point
from taskdb.core.course.shape import round_share
from taskdb.core.flown import FlownSummary
from taskdb.core.geodesy import path_length_m
from taskdb.core.model import (
    Earth,
    Position,
    ShapeKind,
    Task,
    TaskType,
)
from taskdb.core.notation import Axis, Notation, format_angle
from taskdb.core.quantities import FOOT_M, Units, format_bearing, format_distance, format_duration
from taskdb.report.lettering import CODE_LIMIT, NAME_LIMIT, shown
from taskdb.report.symbols import point_tag

SENTENCE_LIMIT = 2000
"""Room for a sentence with the longest names (200 letters) in it: what a review found is never cut short."""
_TYPE_WORDS = {
    TaskType.RACING: "Racing task",
    TaskType.ASSIGNED_AREA: "Assigned area task",
    TaskType.MODIFIED: "Modified assigned task",
    TaskType.DECLARED: "Declared course",
}
_SHAPE_WORDS = {
    ShapeKind.GOAL: "goal",
    ShapeKind.DOG_LEG: "dog-leg",
    ShapeKind.OUT_AND_RETURN: "out and return",
    ShapeKind.TRIANGLE: "triangle",
    ShapeKind.MULTI_TURN: "several turn points",
}
_EARTH_WORDS = {
    Earth.WGS84: "geodesics on the WGS84 ellipsoid",
    Earth.FAI_SPHERE: "great circles on the FAI sphere, radius 6371 km",
}
CAUTIONS = (
    "Not for primary navigation.",
    "Check current airspace, NOTAM, weather and local rules before flight.",
    "The pilot in command and the contest's own officials decide.",
    "Files bring the points and their order to the instrument; this sheet brings the zones. Set them by hand and "
    "compare fingerprint and distance.",
)


@dataclass(frozen=True, slots=True)
class PointRow:
    """A point with the leg that leads to it; the leg's cells are empty at the start."""

    tag: str
    code: str
    name: str
    latitude: str
    longitude: str
    elevation_m: str
    elevation_ft: str
    leg: str
    course: str
    total: str


def type_words(task: Task) -> str:
    return _TYPE_WORDS[task.type]


def position_words(position: Position) -> tuple[str, str]:
    """Return latitude and longitude in degrees and minutes with three decimals (1.9 m); never prints 60 minutes."""
    return (
        format_angle(position.latitude_e7, Axis.LATITUDE, Notation.MINUTES, 3),
        format_angle(position.longitude_e7, Axis.LONGITUDE, Notation.MINUTES, 3),
    )


def _elevation(elevation_m: float | None) -> tuple[str, str]:
    if elevation_m is None:
        return "–", "–"
    return f"{elevation_m:.0f} m", f"{elevation_m / FOOT_M:.0f} ft"


def point_rows(task: Task, course: Course, units: Units) -> tuple[PointRow, ...]:
    """Return the points in order, each with its incoming leg and the running total (added before rounding).

    A leg is that between the two points as they stand in the table: what an instrument shows that was handed them.
    """
    rows = []
    total = 0.0
    for n, point in enumerate(task.points):
        leg = course.between_points[n - 1] if n else None
        total += leg.distance_m if leg is not None else 0.0
        heading = None if leg is None else leg.course_true_deg
        rows.append(
            PointRow(
                point_tag(point.role, n),
                shown(point.place.code, CODE_LIMIT),
                shown(point.place.name, NAME_LIMIT),
                *position_words(point.place.position),
                *_elevation(point.place.elevation_m),
                "" if leg is None else format_distance(leg.distance_m, units),
                "" if heading is None else f"{format_bearing(heading)}°",
                "" if leg is None else format_distance(total, units),
            )
        )
    return tuple(rows)


def time_words(course: Course) -> tuple[str, str]:
    """Return what the time is called and its figure: `Minimum time`, `3:00`; both say so where there is none."""
    time = course.time
    if time.kind is None or time.time_s is None:
        return "Time", "none set"
    if time.kind == "minimum":
        return "Minimum time", format_duration(time.time_s)
    # An expected time that follows from a speed is no better than to the minute.
    return "Expected time", format_duration(max(60, round(time.time_s / 60) * 60) if time.time_s % 60 else time.time_s)


def _speed(speed_kmh: float) -> str:
    return f"{speed_kmh:.1f} km/h"


def speed_words(course: Course) -> str | None:
    """Return the speeds over the task's distances in its time, or None where no time is set."""
    time = course.time
    if time.task_kmh is None:
        return None
    words = f"{_speed(time.task_kmh)} over the task distance"
    if time.kind == "minimum" and time.minimum_kmh is not None and time.maximum_kmh is not None:
        words = f"{_speed(time.minimum_kmh)} over the minimum, {_speed(time.maximum_kmh)} over the maximum distance"
    return f"In this time {words}."


def _at(task: Task, number: int) -> str:
    tag = point_tag(task.points[number].role, number)
    return f"at point {tag}" if tag.isdigit() else f"at the {tag.lower()}"


def distance_words(task: Task, course: Course, units: Units) -> tuple[str, ...]:
    """Return the sentences under the distances: earth model, what comes off where and why, shape, speeds."""
    said = [f"Distances are {_EARTH_WORDS[task.rules.earth]}; courses are true, where the leg begins."]
    if any(counts_off_its_point(point.zone) for point in task.points):
        said.append(
            "The legs of the table and what an instrument shows go through the points, which the files carry; the "
            "contest counts, and the map draws, through the middle of each ring segment (mid radius, mid radial)."
        )
    said.append(_taken_off(task, course, units))
    said.append(shape_words(task, course))
    speeds = speed_words(course)
    return (*said, speeds) if speeds else tuple(said)


def _taken_off(task: Task, course: Course, units: Units) -> str:
    """Return what comes off where and why; of a declared course the sum at each point."""
    deductions = course.distances.deductions
    if not deductions:
        return "Nothing is taken off."
    if task.type is not TaskType.DECLARED:
        taken = [f"{format_distance(t.metres, units)} {_at(task, t.number)} ({t.reason})" for t in deductions]
        return f"Taken off: {'; '.join(taken)}."
    off_m: dict[int, float] = {}
    for one in deductions:
        off_m[one.number] = off_m.get(one.number, 0.0) + one.metres
    places = ", ".join(f"{format_distance(metres, units)} {_at(task, number)}" for number, metres in off_m.items())
    wider = any(one.metres > CYLINDER_CORRECTION_M for one in deductions)
    each = "0.5 km, or its radius where that is larger," if wider else "0.5 km"
    return f"Taken off: {places} (a cylinder takes {each} off each leg that crosses it)."


def shape_words(task: Task, course: Course) -> str:
    """Return the course's shape in words; shares of a triangle are never rounded across a limit."""
    shape = course.shape
    words = f"Shape: {_SHAPE_WORDS[shape.kind]}"
    if shape.side_percent:
        sides = " / ".join(f"{round_share(share, task.rules.triangle):.1f}" for share in shape.side_percent)
        verdict = "an FAI triangle" if shape.is_fai_triangle else "no FAI triangle"
        words += f", sides {sides} %, {verdict}"
    return f"{words} ({shape.note})." if shape.note else f"{words}."


def cross_check(task: Task, course: Course, units: Units) -> tuple[tuple[str, str], ...]:
    """Return what an instrument may show for the same course, by how it measures: (how, distance).

    All by the points themselves: files carry the point of a ring segment and not its middle.
    """
    other = Earth.WGS84 if task.rules.earth is Earth.FAI_SPHERE else Earth.FAI_SPHERE
    lengths = (
        ("by centres", course.points_m),
        ("by ring edges, start and finish", between_rings_m(task, course.points_m)),
        ("shortest, touching every zone", course.distances.shortest_touching_m),
        (
            "by centres, on the ellipsoid" if other is Earth.WGS84 else "by centres, on the sphere",
            path_length_m((point.place.position for point in task.points), other),
        ),
    )
    return tuple((how, format_distance(metres, units)) for how, metres in lengths if metres is not None)


def end_rows(task: Task) -> tuple[tuple[str, str, str], ...]:
    """Return take-off and landing, where they are declared: (what, code and name, position and elevation)."""
    rows = []
    for what, place in (("Take-off", task.take_off), ("Landing", task.landing)):
        if place is not None:
            names = f"{shown(place.code, CODE_LIMIT)} {shown(place.name, NAME_LIMIT)}"
            rows.append(
                (what, names, f"{' '.join(position_words(place.position))}, {_elevation(place.elevation_m)[0]}")
            )
    return tuple(rows)


def counted_through(task: Task, course: Course, units: Units) -> tuple[str, str] | None:
    """Return the contest's figure through the middle of ring segments, (how, distance); None where it is no other."""
    if not any(counts_off_its_point(point.zone) for point in task.points):
        return None
    how = "the contest counts, through the middle of ring segments"
    return how, format_distance(course.distances.centres_m, units)


def flown_before(summary: FlownSummary | None) -> str:
    """Return on which days a task was flown and how it went; empty where it never was."""
    if summary is None:
        return ""
    return summary.words(None if summary.best_kmh is None else f"{summary.best_kmh:.0f} km/h")
