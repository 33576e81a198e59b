"""Which radii the areas of a task are given: in whole steps, in which shares, and up to where. Nothing is flown here.

A cap keeps areas apart: where two begin to overlap, or one begins to hold the start or the finish, it is reached.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from taskdb.core.course.regions import reach_m
from taskdb.core.course.zones import is_round
from taskdb.core.geodesy import distance_m
from taskdb.core.model import Place, Role, Task
from taskdb.core.quantities import Step

Radii = Mapping[int, float]
"""Metres by the number of the area."""

_LONGEST_M = 1_000_000.0
"""No zone is larger (`core.course.zones`)."""


@dataclass(frozen=True, slots=True)
class Sizes:
    """How areas grow together: `shares` by number, the largest 1; what is not among them keeps its zone.

    The area with share 1 has a whole number of steps, each other its share of it, rounded to whole steps, at least one.
    """

    shares: Mapping[int, float]
    step: Step

    def steps(self, count: int) -> dict[int, int]:
        """Return the whole steps of each area where the largest has `count`."""
        return {number: max(1, math.floor(share * count + 0.5)) for number, share in self.shares.items()}

    def radii(self, count: int) -> dict[int, float]:
        """Return the radii where the largest area has `count` steps."""
        return {number: self.step.metres(steps) for number, steps in self.steps(count).items()}

    def exact(self, metres: float) -> dict[int, float]:
        """Return the radii where the largest area has `metres`, not rounded to steps."""
        return {number: share * metres for number, share in self.shares.items()}


@dataclass(frozen=True, slots=True)
class Cap:
    """The radius of the largest area at which areas begin to overlap, or to hold start or finish; and which points do.

    `numbers` are an area and the other point: of another area, or the start or the finish that it would hold.
    """

    metres: float
    numbers: tuple[int, int]
    is_overlap: bool


@dataclass(frozen=True, slots=True)
class _Bound:
    """Two areas that are to stay apart (`reach_m` of the second where it keeps its size), or an area and an end."""

    area: int
    other: int
    apart_m: float
    is_overlap: bool

    def largest_m(self, sizes: Sizes) -> float:
        per_metre = sizes.shares[self.area] + (sizes.shares.get(self.other, 0.0) if self.is_overlap else 0.0)
        return self.apart_m / per_metre

    def is_kept(self, radii: Radii) -> bool:
        return radii[self.area] + (radii.get(self.other, 0.0) if self.is_overlap else 0.0) < self.apart_m


def common(task: Task, step: Step, kept: Sequence[int] = ()) -> Sizes:
    """Return one radius for all areas but those that keep their zone."""
    return Sizes(dict.fromkeys(free_areas(task, kept), 1.0), step)


def in_proportion(task: Task, step: Step, kept: Sequence[int] = ()) -> Sizes:
    """Return radii in proportion to what they are in the task; the outer one of a ring."""
    return in_shares({number: reach_m(task.points[number].zone) for number in free_areas(task, kept)}, step)


def in_shares(shares: Mapping[int, float], step: Step) -> Sizes:
    """Return radii in stated shares, all positive."""
    largest = max(shares.values())
    return Sizes({number: share / largest for number, share in shares.items()}, step)


def area_numbers(task: Task) -> list[int]:
    """Return the numbers of the areas of a task."""
    return [number for number, point in enumerate(task.points) if point.role is Role.AREA]


def free_areas(task: Task, kept: Sequence[int]) -> list[int]:
    """Return the numbers of the areas that are to be sized."""
    return [number for number in area_numbers(task) if number not in kept]


def unsized(task: Task, kept: Sequence[int]) -> list[int]:
    """Return the numbers of the areas that have no one radius, and are not kept as they are."""
    return [number for number in free_areas(task, kept) if not is_round(task.points[number].zone)]


def cap_of(task: Task, sizes: Sizes) -> Cap:
    """Return where areas begin to overlap or to hold start or finish, by the circles round their points.

    Two areas at one place that do not follow each other are one place turned twice, and may share it.
    """
    bounds = _bounds(task, sizes)
    tightest = min(bounds, key=lambda bound: bound.largest_m(sizes))
    return Cap(max(0.0, tightest.largest_m(sizes)), (tightest.area, tightest.other), tightest.is_overlap)


def _bounds(task: Task, sizes: Sizes) -> list[_Bound]:
    areas, points = area_numbers(task), task.points
    found = []
    for area in sizes.shares:
        for end in (0, len(points) - 1):
            found.append(_Bound(area, end, _apart(points[area].place, points[end].place), is_overlap=False))
    for first, second in combinations(areas, 2):
        area, other = (first, second) if first in sizes.shares else (second, first)
        is_turned_twice = points[first].place.position == points[second].place.position and second > first + 1
        if area not in sizes.shares or is_turned_twice:
            continue
        kept_m = 0.0 if other in sizes.shares else reach_m(points[other].zone)
        apart = _apart(points[area].place, points[other].place) - kept_m
        found.append(_Bound(area, other, apart, is_overlap=True))
    return found


def _apart(a: Place, b: Place) -> float:
    return distance_m(a.position, b.position)


def whole_steps(task: Task, sizes: Sizes) -> range:
    """Return the whole steps of the largest area under the cap, above the inner radii of rings; empty where none is."""
    bounds = _bounds(task, sizes)
    most = math.ceil(min(cap_of(task, sizes).metres, _LONGEST_M) / sizes.step.metres()) + 1
    while most > 0 and not all(bound.is_kept(sizes.radii(most)) for bound in bounds):
        most -= 1
    inner = {number: task.points[number].zone.inner_radius_m or 0.0 for number in sizes.shares}
    least = 1
    while least <= most and any(radius <= inner[number] for number, radius in sizes.radii(least).items()):
        least += 1
    return range(least, most + 1)


def resized(task: Task, radii: Radii) -> Task:
    """Return a task whose areas have these radii: to be measured, its zones' texts are not those of the radii."""
    points = list(task.points)
    for number, radius in radii.items():
        points[number] = replace(points[number], zone=replace(points[number].zone, radius_m=radius))
    return replace(task, points=tuple(points))
