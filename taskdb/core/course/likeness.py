"""How like two courses are: shared points in whatever order, shared legs in whatever direction, nearness.

The score is a sum of named shares, so that a person can read why a task was offered.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from taskdb.core.geodesy import distance_m
from taskdb.core.matching.nearness import near_distance_m, xyz
from taskdb.core.model import Position

SAME_POINT_M = 100.0
"""Two points nearer than this are one point of the landscape, whatever lists they come from."""
NEAR_COURSE_M = 20_000.0
"""From here on the nearness of two courses adds nothing to their likeness."""
POINTS_WEIGHT, LEGS_WEIGHT, NEARNESS_WEIGHT = 0.5, 0.3, 0.2


@dataclass(frozen=True, slots=True)
class Likeness:
    """The shares of points and legs in common (0 to 1, of all that either has) and how far the courses part.

    `apart_m` is the greatest distance from a point of either course to the nearest point of the other.
    """

    points: float
    legs: float
    apart_m: float

    @property
    def score(self) -> float:
        """From 0 to 1: half shared points, three tenths shared legs, two tenths nearness."""
        near = max(0.0, 1.0 - self.apart_m / NEAR_COURSE_M)
        return POINTS_WEIGHT * self.points + LEGS_WEIGHT * self.legs + NEARNESS_WEIGHT * near


def likeness(first: Sequence[Position], second: Sequence[Position]) -> Likeness:
    """Return how like two courses are; courses without points are not alike."""
    if not first or not second:
        return Likeness(0.0, 0.0, float("inf"))
    mine, places = _numbered(first, [])
    theirs, places = _numbered(second, places)
    # Over chords rather than geodesics: a search asks this of thousands of courses, and up to NEAR_COURSE_M, where it
    # counts, the two are the same to 1.5 mm.
    there = [xyz(position) for position in second]
    nearest = [[near_distance_m(a, b) for b in there] for a in map(xyz, first)]
    apart = max(max(min(row) for row in nearest), max(min(column) for column in zip(*nearest, strict=True)))
    return Likeness(_share(set(mine), set(theirs)), _share(_legs(mine), _legs(theirs)), apart)


def _numbered(points: Sequence[Position], places: list[Position]) -> tuple[list[int], list[Position]]:
    """Return for each point the number of its place; a point near a known place is that place."""
    numbers = []
    for point in points:
        number = next((i for i, place in enumerate(places) if _is_near(point, place)), None)
        if number is None:
            places = [*places, point]
            number = len(places) - 1
        numbers.append(number)
    return numbers, places


def _is_near(a: Position, b: Position) -> bool:
    if a == b:
        return True
    # 0.002 degrees of latitude are over 200 m everywhere: no geodesic is needed to tell the two apart.
    return abs(a.latitude_deg - b.latitude_deg) < 0.002 and distance_m(a, b) < SAME_POINT_M


def _legs(numbers: Sequence[int]) -> set[frozenset[int]]:
    return {frozenset(leg) for leg in pairwise(numbers) if leg[0] != leg[1]}


def _share(a: set[Any], b: set[Any]) -> float:
    union = a | b
    return len(a & b) / len(union) if union else 0.0
