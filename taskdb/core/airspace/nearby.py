"""Which volumes lie near a course: over it, or with an edge within a distance of it. For showing, not for judging.

Distances are those of a plane about each place, within 1 % at a few tens of kilometres.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from taskdb.core.airspace.ground import Floats, GroundEdges, Ints, are_within, lay_out, off_lines_m, spread_pairs
from taskdb.core.airspace.volume import Volume
from taskdb.core.course.outline import DISPLAY_RADIUS_M
from taskdb.core.course.regions import counted_position, reach_m
from taskdb.core.geodesy import densify
from taskdb.core.model import Position, Task

NEAR_COURSE_M = 10_000.0
"""How far from a leg or a zone airspace is still near (common practice, no source)."""
_STEP_M = 2_000.0
_DEGREE_M = 110_500.0
"""The least that a degree of latitude has, so that nothing near is passed over."""


def volumes_near_course(task: Task, volumes: tuple[Volume, ...], within_m: float = NEAR_COURSE_M) -> tuple[int, ...]:
    """Return the numbers of the volumes within a distance of a leg or a zone, whatever their heights, in order."""
    counted = [counted_position(point) for point in task.points]
    places = [(place, within_m) for a, b in pairwise(counted) for place in densify(a, b, _STEP_M)]
    for point in task.points:
        reach = reach_m(point.zone)
        places.append((point.place.position, within_m + (DISPLAY_RADIUS_M if math.isinf(reach) else reach)))
    return volumes_near(places, volumes)


def volumes_near(places: Sequence[tuple[Position, float]], volumes: tuple[Volume, ...]) -> tuple[int, ...]:
    """Return the numbers of the volumes within its own distance (metres) of any of the places, in order."""
    ground = lay_out(volumes)
    if not places or not len(ground.volume_of):
        return ()
    latitude = np.array([place.latitude_deg for place, _ in places])
    longitude = np.array([place.longitude_deg for place, _ in places])
    within = np.array([distance for _, distance in places])
    found: set[int] = set()
    for turn in (-360.0, 0.0, 360.0):
        near = _near(ground, longitude + turn, latitude, within)
        found.update(int(n) for n in np.unique(ground.volume_of[near]))
    return tuple(sorted(found))


def _near(ground: GroundEdges, x: Floats, y: Floats, within: Floats) -> Ints:
    """Return the polygons within their distance of any of the places."""
    high = within / _DEGREE_M
    wide = high / np.maximum(np.cos(np.radians(np.minimum(np.abs(y) + high, 89.9))), 1e-3)
    west, south, east, north = ground.boxes.T
    place, polygon = np.nonzero(
        ((x - wide)[:, None] <= east)
        & (west <= (x + wide)[:, None])
        & ((y - high)[:, None] <= north)
        & (south <= (y + high)[:, None])
    )
    inside = are_within(ground, polygon, x[place], y[place])
    kept = np.unique(polygon[inside])
    rest = ~np.isin(polygon, kept)
    place, polygon = place[rest], polygon[rest]
    pair, edge = spread_pairs(ground, polygon)
    off = off_lines_m(x[place[pair]], y[place[pair]], ground.edges[:, edge])
    close = np.unique(polygon[pair[off <= within[place[pair]]]])
    return np.concatenate([kept, close])
