"""Where one can land near a course: the landable points of a catalogue within a distance of one of its legs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from taskdb.core.course.regions import counted_position
from taskdb.core.model import Landable, Task, Waypoint
from taskdb.core.projection import Projection, centre_of

NEAR_COURSE_M = 10_000.0
"""How far from a leg a landable point is still near (common practice, no source)."""

_RANK = {Landable.AERODROME: 0, Landable.FIELD: 1, Landable.EMERGENCY: 2}
Flat = tuple[float, float]


@dataclass(frozen=True, slots=True)
class NearPlace:
    """A landable point near a course: how far off its nearest leg, which leads from point `leg` to the next one."""

    waypoint: Waypoint
    leg: int
    off_m: float
    along: float
    """How far along the leg it lies, as a share of it."""


def landable_near(task: Task, catalogue: Sequence[Waypoint], most: int) -> tuple[tuple[NearPlace, ...], int]:
    """Return up to `most` landable points near a task's course besides its own, in order of legs, and how many are.

    Where there are more, aerodromes go before fields and near ones before far ones.
    """
    own = {place.identity or place.position for place in task.places}
    path = [counted_position(point) for point in task.points]
    plane = Projection(centre_of(path))
    legs = [(n, *leg, _about(*leg)) for n, leg in enumerate(pairwise(plane.project(position) for position in path))]
    found = []
    for waypoint in catalogue:
        if waypoint.landable not in _RANK or (waypoint.identity or waypoint.position) in own:
            continue
        at = plane.project(waypoint.position)
        about = [
            (n, *_off(at, start, end))
            for n, start, end, (west, south, east, north) in legs
            if west <= at[0] <= east and south <= at[1] <= north
        ]
        leg, off_m, along = min(about, key=lambda hit: hit[1], default=(0, math.inf, 0.0))
        if off_m <= NEAR_COURSE_M:
            found.append((_RANK[waypoint.landable], NearPlace(waypoint, leg, off_m, along)))
    found.sort(key=lambda hit: (hit[0], hit[1].off_m, hit[1].waypoint.code))
    kept = (near for _, near in found[:most])
    return tuple(sorted(kept, key=lambda near: (near.leg, near.along, near.waypoint.code))), len(found)


def _about(start: Flat, end: Flat) -> tuple[float, float, float, float]:
    """Return west, south, east and north on the plane of all that can be near a leg."""
    (ax, ay), (bx, by) = start, end
    return (
        min(ax, bx) - NEAR_COURSE_M,
        min(ay, by) - NEAR_COURSE_M,
        max(ax, bx) + NEAR_COURSE_M,
        max(ay, by) + NEAR_COURSE_M,
    )


def _off(at: Flat, start: Flat, end: Flat) -> tuple[float, float]:
    """Return how far a place on the plane is from a leg, and how far along the leg that is, as a share of it."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = dx * dx + dy * dy
    along = 0.0 if not length else ((at[0] - start[0]) * dx + (at[1] - start[1]) * dy) / length
    share = min(1.0, max(0.0, along))
    return math.hypot(at[0] - start[0] - share * dx, at[1] - start[1] - share * dy), share
