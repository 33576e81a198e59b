"""The shape of a course: what kind it is, whether it closes, and whether its triangle is an FAI triangle, by how much.

Source of the triangle rules: FAI Sporting Code Section 3, 1.4.3d (edition of about 2008); their numbers are settings
(`TriangleRules`). Nothing is ever rounded across a limit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from taskdb.core.course.regions import counted_position
from taskdb.core.geodesy import destination, inverse, length_m
from taskdb.core.model import Position, Shape, ShapeKind, Task, TriangleRules, Zone


@dataclass(frozen=True, slots=True)
class CourseShape:
    """What a course looks like. `side_percent` and the margin belong to a triangle; else empty and None.

    `fai_margin_percent` is the distance to the tightest limit in percent points, negative where it is missed.
    `note` says in a sentence what a reader must know about it, or None.
    """

    kind: ShapeKind
    is_closed: bool
    gap_m: float
    side_percent: tuple[float, ...] = ()
    is_fai_triangle: bool = False
    fai_margin_percent: float | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class TriangleShares:
    """A triangle's sides in percent of its perimeter, and by how many percent points it meets the rules."""

    percent: tuple[float, ...]
    margin_percent: float
    is_fai: bool


def triangle_shares(sides_m: tuple[float, float, float], rules: TriangleRules) -> TriangleShares:
    """Return how a triangle with these sides (metres, all positive) stands to the rules; on a limit it meets it."""
    perimeter = math.fsum(sides_m)
    percent = tuple(100 * side / perimeter for side in sides_m)
    if perimeter >= rules.large_from_m:
        margin = min(min(percent) - rules.large_shortest_percent, rules.large_longest_percent - max(percent))
    else:
        margin = min(percent) - rules.small_shortest_percent
    return TriangleShares(percent, margin, margin >= 0)


def round_share(percent: float, rules: TriangleRules) -> float:
    """Return a share rounded to 0.1 for show, but never onto or across a limit that it does not itself meet.

    27.96 % shows as 27.9 where the limit is 28, and 45.04 % as 45.1 where it is 45.
    """
    shown = round(percent, 1)
    if any(percent < least <= shown for least in (rules.small_shortest_percent, rules.large_shortest_percent)):
        return math.floor(percent * 10.0) / 10.0
    if shown <= rules.large_longest_percent < percent:
        return math.ceil(percent * 10.0) / 10.0
    return shown


def course_shape(task: Task) -> CourseShape:
    """Return the shape of a task's course through its counted positions; fewer than two points are a goal of no length.

    Closed: start and finish are the same waypoint, or within the contest's tolerance of each other.
    """
    points = task.points
    at = [counted_position(p) for p in points]
    turns = max(0, len(points) - 2)
    if len(points) < 2:
        return CourseShape(ShapeKind.GOAL, False, 0.0)
    gap = length_m(at[0], at[-1], task.rules.earth)
    first, last = points[0].place.identity, points[-1].place.identity
    is_closed = gap <= task.rules.closed_within_m or (first is not None and first == last)
    note = _gap_note(gap) if is_closed and turns else None
    if turns == 0:
        return CourseShape(ShapeKind.GOAL, is_closed, gap)
    if turns == 1:
        kind = ShapeKind.OUT_AND_RETURN if is_closed else ShapeKind.DOG_LEG
        return CourseShape(kind, is_closed, gap, note=note)
    corners = _corners(task, at) if is_closed else None
    if corners is None:
        return CourseShape(ShapeKind.MULTI_TURN, is_closed, gap, note=note)
    return _triangle(task, corners, gap, note)


def _triangle(task: Task, corners: tuple[Position, Position, Position], gap_m: float, note: str | None) -> CourseShape:
    a, b, c = corners
    earth = task.rules.earth
    sides = (length_m(a, b, earth), length_m(b, c, earth), length_m(c, a, earth))
    if min(sides) <= 0:
        return CourseShape(ShapeKind.MULTI_TURN, True, gap_m, note="two corners of the triangle are the same place")
    shares = triangle_shares(sides, task.rules.triangle)
    notes = [n for n in (note, _side_note(task, shares)) if n]
    return CourseShape(
        ShapeKind.TRIANGLE, True, gap_m, shares.percent, shares.is_fai, shares.margin_percent, "; ".join(notes) or None
    )


def _gap_note(gap_m: float) -> str | None:
    if gap_m <= 0:
        return None
    return f"start and finish are {gap_m:.0f} m apart: for records and badges that is no closed course"


def _side_note(task: Task, shares: TriangleShares) -> str | None:
    if len(task.points) != 5:
        return None
    before, after = task.points[3].place.code, task.points[1].place.code
    return f"triangle of the turn points, with the start on the side from {before} to {after}"


def _corners(task: Task, at: list[Position]) -> tuple[Position, Position, Position] | None:
    """Return the corners: start and two turn points, or three turn points with start and finish on a side."""
    if len(at) == 4:
        return at[0], at[1], at[2]
    if len(at) != 5 or not task.rules.triangle.start_on_side:
        return None
    tolerance = on_side_within_m(task.points[0].zone, task.rules.closed_within_m)
    is_on_side = all(_distance_to_side_m(p, at[3], at[1]) <= tolerance for p in (at[0], at[-1]))
    return (at[1], at[2], at[3]) if is_on_side else None


def on_side_within_m(zone: Zone, otherwise_m: float) -> float:
    """Return how far off the side a start with a zone may lie: its radius or half its line."""
    if zone.shape is Shape.LINE and zone.length_m is not None:
        return zone.length_m / 2
    radius = zone.core_radius_m if zone.shape is Shape.KEYHOLE else zone.radius_m
    return otherwise_m if radius is None else radius


def _distance_to_side_m(p: Position, a: Position, b: Position) -> float:
    """Return the distance from a position to the geodesic between two others (golden section: it has one minimum)."""
    side = inverse(a, b)
    if side.bearing_deg is None:
        return inverse(p, a).distance_m
    bearing = side.bearing_deg

    def off(along_m: float) -> float:
        return inverse(p, destination(a, bearing, along_m)).distance_m

    low, high = 0.0, side.distance_m
    ratio = (math.sqrt(5) - 1) / 2
    while high - low > 0.01:
        left, right = high - ratio * (high - low), low + ratio * (high - low)
        if off(left) <= off(right):
            high = right
        else:
            low = left
    return min(off(0.0), off(side.distance_m), off((low + high) / 2))
