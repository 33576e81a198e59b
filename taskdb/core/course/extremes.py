"""The shortest and the longest path through a task's zones, with the points that attain them.

Says which zones a path has to touch and measures what the search finds by geodesics. Deductions and what a contest
counts are not its concern.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from taskdb.core.course.boundary import Edge, bulging_edges, corner, edges
from taskdb.core.course.overlaps import Stop
from taskdb.core.course.regions import counted_position, reach_m
from taskdb.core.course.search import best_paths
from taskdb.core.course.tracks import lay_tracks
from taskdb.core.geodesy import length_m, path_length_m
from taskdb.core.model import Earth, Position, Role, Task, TaskPoint


@dataclass(frozen=True, slots=True)
class Path:
    """A path from start to finish, one position a point (not rounded), and the length of each leg in metres."""

    points: tuple[Position, ...]
    legs_m: tuple[float, ...]

    @property
    def length_m(self) -> float:
        return math.fsum(self.legs_m)


def path_through(points: Sequence[Position], earth: Earth) -> Path:
    """Return the path through the points, measured by geodesics on the earth model."""
    return Path(tuple(points), tuple(length_m(a, b, earth) for a, b in pairwise(points)))


def shortest_path(task: Task) -> Path:
    """Return the shortest path with a point in each zone of role area; other points count at their place.

    Without an area it is the path through the counted positions. Points must be resolved (ValueError otherwise).
    """
    return _through_areas(task, longest=False)


def longest_path(task: Task) -> Path:
    """Return the longest path with a point in each zone of role area; other points count at their place.

    Without an area it is the path through the counted positions. Points must be resolved, and every zone of role
    area bounded (ValueError otherwise).
    """
    return _through_areas(task, longest=True)


def _through_areas(task: Task, *, longest: bool) -> Path:
    if not any(p.role is Role.AREA for p in task.points):
        return path_through([counted_position(p) for p in task.points], task.rules.earth)
    return _search([_area_stop(p, longest=longest) for p in task.points], task.rules.earth, -1.0 if longest else 1.0)


def shortest_touching_path(task: Task) -> Path:
    """Return the shortest path that touches every zone in order, start and finish included, whatever its shape.

    A sector without a radius counts as far as a path of this task could need it.
    """
    if len(task.points) < 2:
        return path_through([p.place.position for p in task.points], task.rules.earth)
    through = path_length_m([p.place.position for p in task.points], Earth.WGS84)
    reaches = [reach_m(p.zone) for p in task.points]
    enough = min(9e6, max(50_000.0, 2 * (through + sum(r for r in reaches if math.isfinite(r)))))
    stops = [_stop(p, edges(p.zone, enough)) for p in task.points]
    return _search(stops, task.rules.earth, 1.0)


def _stop(point: TaskPoint, zone_edges: Sequence[Edge]) -> Stop:
    at = point.place.position
    return Stop(at, lay_tracks(zone_edges, at), point.zone)


def _area_stop(point: TaskPoint, *, longest: bool) -> Stop:
    if point.role is not Role.AREA:
        at = counted_position(point)
        return Stop(at, lay_tracks([corner(0.0, 0.0)], at), None)
    if math.isinf(reach_m(point.zone)):
        raise ValueError(f"the zone {point.zone.text!r} of role area has no end")
    return _stop(point, bulging_edges(point.zone) if longest else edges(point.zone, 0.0))


def _search(stops: Sequence[Stop], earth: Earth, sign: float) -> Path:
    """Return the best path: the shortest for sign 1, the longest for −1."""
    measured = [path_through(points, earth) for points in best_paths(stops, earth, sign)]
    return min(measured, key=lambda path: sign * path.length_m)
