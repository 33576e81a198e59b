"""Points for a wanted length: where to fly in the areas of a task for a distance between its minimum and maximum.

Moves all areas together from the shortest path through the middles to the longest one, and finds the place on that
way where the counted length is the wanted one. It gives one sensible answer of many, not the best in any weather.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from taskdb.core.course.deductions import dues, take
from taskdb.core.course.extremes import Path, longest_path, path_through, shortest_path
from taskdb.core.course.regions import Wedge, counted_position, wedges
from taskdb.core.geodesy import destination, inverse, turn_deg, wrap_bearing
from taskdb.core.model import Position, Role, Task, TaskPoint
from taskdb.errors import RefusedError

_WITHIN_M = 1e-3
_MOST_HALVINGS = 60


@dataclass(frozen=True, slots=True)
class WantedPath:
    """A path of a wanted length: its points from start to finish (not rounded), and its length as the task counts."""

    points: tuple[Position, ...]
    length_m: float


@dataclass(frozen=True, slots=True)
class _Way:
    """How one point moves: along bearing and distance from its place, first to the middle, then on; or not at all."""

    at: Position
    to_middle: tuple[tuple[float, float], tuple[float, float]] | None
    beyond: tuple[tuple[float, float], tuple[float, float]] | None

    def position(self, progress: float) -> Position:
        """Return the position for 0 (shortest) over 1 (middle) to 2 (longest)."""
        if self.to_middle is None or self.beyond is None:
            return self.at
        (bearing, away), (to_bearing, to_away) = self.to_middle if progress < 1 else self.beyond
        part = progress if progress < 1 else progress - 1
        return destination(self.at, bearing + (to_bearing - bearing) * part, away + (to_away - away) * part)


def path_of_length(task: Task, wanted_m: float) -> WantedPath:
    """Return points in the areas for a counted length of `wanted_m` (after deductions), to within 1 mm.

    For "the points for 3:00 at 95 km/h" ask for 285 000 m. Points must be resolved. Raises RefusedError `no-areas`
    where the task has none to choose in, `length-out-of-reach` below its minimum or above its maximum.
    """
    if not any(p.role is Role.AREA for p in task.points):
        raise RefusedError(
            "no-areas",
            f"Task {task.name} has no assigned areas: its length is not a matter of choice.",
            hint="Ask for a wanted length in an assigned-area task.",
        )
    shortest, longest = shortest_path(task), longest_path(task)
    low, high = _counted_m(task, shortest.points), _counted_m(task, longest.points)
    if not low - _WITHIN_M <= wanted_m <= high + _WITHIN_M:
        raise RefusedError(
            "length-out-of-reach",
            f"{wanted_m / 1000:.1f} km is not between the minimum {low / 1000:.1f} km and the maximum "
            f"{high / 1000:.1f} km of task {task.name}.",
            hint="Choose a time and speed between these, or change the areas.",
            details={"wanted_m": wanted_m, "minimum_m": low, "maximum_m": high},
        )
    ways = _ways(task.points, shortest, longest)
    points = _at_length(task, ways, wanted_m)
    return WantedPath(points, _counted_m(task, points))


def _counted_m(task: Task, points: Sequence[Position]) -> float:
    return take(path_through(points, task.rules.earth).legs_m, dues(task))[0]


def _at_length(task: Task, ways: Sequence[_Way], wanted_m: float) -> tuple[Position, ...]:
    """Return the points where the length is the wanted one: it changes without jumps, so halving finds such a place."""

    def points(progress: float) -> tuple[Position, ...]:
        return tuple(way.position(progress) for way in ways)

    is_beyond_middle = _counted_m(task, points(1.0)) < wanted_m
    below, above = (1.0, 2.0) if is_beyond_middle else (0.0, 1.0)
    middle = below
    for _ in range(_MOST_HALVINGS):
        middle = (below + above) / 2
        length = _counted_m(task, points(middle))
        if abs(length - wanted_m) < _WITHIN_M / 10:
            break
        below, above = (middle, above) if length < wanted_m else (below, middle)
    return points(middle)


def _ways(points: Sequence[TaskPoint], shortest: Path, longest: Path) -> list[_Way]:
    return [
        _way(point, near, far) if point.role is Role.AREA else _Way(counted_position(point), None, None)
        for point, near, far in zip(points, shortest.points, longest.points, strict=True)
    ]


def _way(point: TaskPoint, near: Position, far: Position) -> _Way:
    at = point.place.position
    wedge = wedges(point.zone)[0]
    first, last = _polar(at, near), _polar(at, far)
    if wedge.inner_m <= 0:
        # Every such zone is a star about its point: in along one radial, out along the other.
        return _Way(at, (first, (first[0], 0.0)), ((last[0], 0.0), last))
    if wedge.is_full:
        last = (first[0] + turn_deg(first[0], last[0]), last[1])
        middle = ((first[0] + last[0]) / 2, (first[1] + last[1]) / 2)
        return _Way(at, (first, middle), (middle, last))
    middle = (wedge.from_deg + wedge.width_deg / 2, (wedge.inner_m + wedge.outer_m) / 2)
    return _Way(at, (_within(first, wedge), middle), (middle, _within(last, wedge)))


def _polar(at: Position, position: Position) -> tuple[float, float]:
    line = inverse(at, position)
    return line.bearing_deg or 0.0, line.distance_m


def _within(polar: tuple[float, float], wedge: Wedge) -> tuple[float, float]:
    """Return the place with its bearing counted on from the wedge's first radial, so that no way leaves the wedge."""
    into = wrap_bearing(polar[0] - wedge.from_deg)
    if into > wedge.width_deg:  # on the edge, but for the last digit
        into = 0.0 if into > (wedge.width_deg + 360) / 2 else wedge.width_deg
    return wedge.from_deg + into, polar[1]
