"""A task of a day as it meets others, and a meeting of two: the values that all kinds of meetings share."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from taskdb.core.geodesy import distance_m, turn_deg
from taskdb.core.judgement.approach import Band, FlownLeg
from taskdb.core.judgement.presence import Presence, Times
from taskdb.core.model import Position, Task

OPPOSITE_WITHIN_DEG = 30.0
"""Courses that differ from opposite ones by less come against each other (common practice, no source)."""

OTHER_SIDE_DEG = 120.0
"""Whoever arrives on courses that differ by more comes from the other side (common practice, no source)."""


STRETCH_OF_SEPARATION = 5
"""Legs come against each other for a stretch where that is so many times their separation (common practice, no source).

Shorter, two legs that leave one point a little apart would be told at every turn."""


@dataclass(frozen=True)
class DayTask:
    """A task that may be flown on a day: `label` and `who` name it for people, `ways` are where and when it is flown.

    `who` is its class and name, `Open (A2)`, or its name alone.
    """

    label: str
    who: str
    task: Task
    ways: tuple[Presence, ...]


class Kind(StrEnum):
    """How two tasks meet: against each other, at a turn from both sides, at their ends, or in passing."""

    OPPOSED = "opposed"
    BOTH_SIDES = "both-sides"
    ENDS = "ends"
    PASSING = "passing"


@dataclass(frozen=True, slots=True)
class Span:
    """From when to when both can be there, minutes after midnight.

    Where the first of the one come after the last of the other, `to_min` is before `from_min` by the time between.
    """

    from_min: float
    to_min: float

    @property
    def gap_min(self) -> float:
        """How long after the last of the one the first of the other come; 0 where they can be there together."""
        return max(0.0, self.from_min - self.to_min)


@dataclass(frozen=True, slots=True)
class Planned:
    """Where two planned flights, each begun when its start opens, are nearest at one moment."""

    at_min: float
    apart_m: float


@dataclass(frozen=True, slots=True)
class Meeting:
    """Where and when two tasks meet. `numbers` are a leg (by its first point) or a point of each.

    `apart_m` is the least distance over all ways that were looked at, `apart_most_m` the largest of their least ones,
    which differs only for areas. `place` is where the first task's pilots are then; `is_even`: they are as near all
    along. `stretches_m` holds how far along each leg they are beside each other, from and to; `when` is None where no
    times are known.
    """

    kind: Kind
    tasks: tuple[DayTask, DayTask]
    numbers: tuple[int, int]
    apart_m: float
    apart_most_m: float
    place: Position
    angle_deg: float
    when: Span | None
    planned: Planned | None = None
    stretches_m: tuple[tuple[float, float], tuple[float, float]] | None = None
    is_even: bool = False
    is_facing: bool = False
    roles: tuple[str, str] = ("", "")


def legs_of(way: Presence, *, planned: bool = False) -> list[FlownLeg]:
    """Return the legs of a way with their bands of times, or with the times of the planned flight alone."""
    bands = _bands(way.times, planned=planned)
    return [FlownLeg.between(a, b, next(bands)) for a, b in pairwise(way.path)]


def _bands(times: Times | None, *, planned: bool) -> Iterator[Band | None]:
    if times is None:
        while True:
            yield None
    firsts, lasts = (times.planned, times.planned) if planned else (times.earliest, times.latest)
    for (first, end_first), (last, end_last) in zip(pairwise(firsts), pairwise(lasts), strict=True):
        yield Band(first, last, max(first, end_first), max(last, end_last))


def overlap(a: tuple[float, float], b: tuple[float, float]) -> Span:
    """Return from when to when two bands of time are both on."""
    return Span(max(a[0], b[0]), min(a[1], b[1]))


def both_at(a: DayTask, b: DayTask, n: int, m: int) -> Span | None:
    """Return when pilots of two tasks can be at a point of each, over all their ways; None where it is not known."""
    bands = []
    for one, number in ((a, n), (b, m)):
        times = [way.times for way in one.ways if way.times is not None]
        if len(times) < len(one.ways) or not times:
            return None
        bands.append((min(t.earliest[number] for t in times), max(t.latest[number] for t in times)))
    return overlap(bands[0], bands[1])


def differ_deg(course: float, other: float) -> float:
    """Return the angle between two courses, 0 to 180."""
    return abs(turn_deg(course, other))


def nearest_point(tasks: Sequence[DayTask], place: Position) -> tuple[str, float]:
    """Return the code of the point of the tasks next to a place, and how far off that is."""
    best = ("", math.inf)
    for one in tasks:
        for point in one.task.points:
            off = distance_m(place, point.place.position)
            if off < best[1]:
                best = (point.place.code, off)
    return best
