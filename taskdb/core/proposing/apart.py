"""How far courses part: from many courses over one list of places to one other course, as `course.likeness` has it.

A course leads from home over its turn points back home. Two courses part by the greatest distance from a point of
either to the nearest point of the other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from taskdb.core.geodesy import earth_vectors
from taskdb.core.matching.nearness import arc_m
from taskdb.core.model import Position

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp] | npt.NDArray[np.int32]
Bools = npt.NDArray[np.bool_]


class Places:
    """The places that courses lead over: turn points by their numbers, home as the last one, which -1 names too."""

    def __init__(self, turn_points: Sequence[Position], home: Position) -> None:
        self.positions = (*turn_points, home)
        self.latitudes = np.array([place.latitude_deg for place in self.positions])
        self.longitudes = np.array([place.longitude_deg for place in self.positions])
        self._points, _ = earth_vectors(self.latitudes, self.longitudes)

    def __len__(self) -> int:
        """Return how many there are besides home."""
        return len(self.positions) - 1

    def distances_m(self, course: Sequence[Position]) -> Floats:
        """Return how far each point of a course (a row each) is from each place, metres: by chords, right to 50 km."""
        latitudes = np.array([position.latitude_deg for position in course])
        longitudes = np.array([position.longitude_deg for position in course])
        points, _ = earth_vectors(latitudes, longitudes)
        steps = points[:, :, None] - self._points[:, None, :]
        chords: Floats = np.sqrt(np.square(steps).sum(axis=0))
        arcs: Floats = arc_m(chords)
        return arcs

    def nearer_than(self, turns: Ints, course: Sequence[Position], limit_m: float) -> Bools:
        """Return which courses over `turns` part from another course by less than the limit: quick where few do."""
        near: Any = self.distances_m(course) < limit_m  # for mypy this may be a single value
        found = np.zeros(len(turns), dtype=np.bool_)
        if not near[:, -1].any():
            return found
        rows = np.flatnonzero(near.any(axis=0)[turns].all(axis=1))
        for point in near[~near[:, -1]]:
            rows = rows[point[turns[rows]].any(axis=1)]
        found[rows] = True
        return found


def that_differ(
    places: Places, turns: Ints, apart_m: float, admits: Callable[[int], bool] = lambda row: True
) -> Iterator[int]:
    """Yield the numbers of courses, best first, of which none is nearer than `apart_m` to one that was yielded.

    `turns` has the courses in order, the best one first; those that are not admitted are passed over. Each is compared
    with those taken before it alone, so that whoever has enough simply stops.
    """
    left = np.arange(len(turns))
    while len(left):
        taken = int(left[0])
        if not admits(taken):
            left = left[1:]
            continue
        yield taken
        course = (places.positions[-1], *(places.positions[n] for n in turns[taken].tolist()))
        near = places.nearer_than(turns[left], course, apart_m)
        near[0] = True
        left = left[~near]
