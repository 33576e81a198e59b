"""Legs of two tasks that are flown against each other: nearly opposite courses, beside each other for a stretch."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from taskdb.core.geodesy import distance_m, inverse, turn_deg
from taskdb.core.judgement.approach import FlownLeg, closest, foot_m, may_meet, side_by_side
from taskdb.core.judgement.meeting import (
    OPPOSITE_WITHIN_DEG,
    STRETCH_OF_SEPARATION,
    DayTask,
    Kind,
    Meeting,
    Planned,
    Span,
    differ_deg,
    legs_of,
    overlap,
)
from taskdb.core.judgement.presence import Presence

EVEN_WITHIN_M = 100.0
"""Where the distance changes by less along a stretch, no place of it is the nearest one."""

_BENT_DEG = 10.0
"""By no more does the course of a leg differ from that in its middle where the angle is looked at (500 km, 60° N)."""


def opposed(a: DayTask, b: DayTask, apart_m: float, within_min: float) -> Iterator[Meeting]:
    """Yield a meeting for each pair of legs that run against each other within a distance, for a stretch.

    Where times are known, only for those on which both can be within a time of each other. In tasks with areas the
    legs of all ways that are known are held against each other, and the least distance is told with the largest.
    """
    found: dict[tuple[int, int], list[Meeting]] = {}
    for way_a in a.ways:
        for way_b in b.ways:
            for meeting in _of_ways(a, b, way_a, way_b, apart_m, within_min):
                found.setdefault(meeting.numbers, []).append(meeting)
    for numbers in sorted(found):
        yield merged(found[numbers])


def merged(meetings: list[Meeting]) -> Meeting:
    """Return one meeting for those of two legs on several ways: the nearest, with all the time.

    What they come to on the ways on which they do not meet counts for the largest distance too.
    """
    nearest = min(meetings, key=lambda one: one.apart_m)
    spans = [one.when for one in meetings if one.when is not None]
    when = Span(min(one.from_min for one in spans), max(one.to_min for one in spans)) if spans else None
    planned = min((one.planned for one in meetings if one.planned), key=lambda one: one.apart_m, default=None)
    ways = [(way_a, way_b) for way_a in nearest.tasks[0].ways for way_b in nearest.tasks[1].ways]
    if len(ways) == 1:
        return replace(nearest, when=when, planned=planned)
    found = (closest(_leg(way_a, nearest.numbers[0]), _leg(way_b, nearest.numbers[1])) for way_a, way_b in ways)
    most = max(one.apart_m for one in found if one is not None)
    return replace(nearest, when=when, planned=planned, apart_most_m=max(most, nearest.apart_m))


def _leg(way: Presence, number: int) -> FlownLeg:
    return FlownLeg.between(way.path[number], way.path[number + 1])


def _of_ways(
    a: DayTask, b: DayTask, way_a: Presence, way_b: Presence, apart_m: float, within_min: float
) -> Iterator[Meeting]:
    plans = legs_of(way_a, planned=True), legs_of(way_b, planned=True)
    legs_b = legs_of(way_b)
    shortest = STRETCH_OF_SEPARATION * apart_m
    for n, leg_a in enumerate(legs_of(way_a)):
        for m, leg_b in enumerate(legs_b):
            if not may_meet(leg_a, leg_b, apart_m) or not _may_be_opposed(leg_a, leg_b):
                continue
            first = side_by_side(leg_a, leg_b, apart_m)
            if first is None or first[1] - first[0] < shortest:
                continue
            second = _beside(leg_b, leg_a, first)
            part_a, part_b = leg_a.cut(*first), leg_b.cut(*second)
            near = closest(part_a, part_b, within_min, apart_m)
            if near is None or near.angle_deg < 180 - OPPOSITE_WITHIN_DEG:
                continue
            yield Meeting(
                kind=Kind.OPPOSED,
                tasks=(a, b),
                numbers=(n, m),
                apart_m=near.apart_m,
                apart_most_m=near.apart_m,
                place=part_a.at(near.along_a_m)[0],
                angle_deg=near.angle_deg,
                when=_when(part_a, part_b),
                planned=planned_meeting(plans[0][n].cut(*first), plans[1][m].cut(*second)),
                stretches_m=(first, second),
                is_even=_is_even(part_a, leg_b, near.apart_m),
            )


def _is_even(part: FlownLeg, other: FlownLeg, apart_m: float) -> bool:
    """Say whether a leg runs as near to another at both of its ends as where it is nearest."""
    ends = ((at := part.at(along)[0], other.at(foot_m(other, at))[0]) for along in (0.0, part.length_m))
    return all(distance_m(*pair) - apart_m <= EVEN_WITHIN_M for pair in ends)


def _beside(leg: FlownLeg, other: FlownLeg, stretch: tuple[float, float]) -> tuple[float, float]:
    """Return the part of a leg beside a stretch of the other."""
    feet = sorted(foot_m(leg, other.at(along)[0]) for along in stretch)
    return max(0.0, feet[0]), min(leg.length_m, feet[1])


def _may_be_opposed(a: FlownLeg, b: FlownLeg) -> bool:
    line = inverse(a.middle, b.middle)
    course_b = b.at(b.length_m / 2)[1]
    if line.bearing_deg is not None and line.arrival_deg is not None:
        course_b -= turn_deg(line.bearing_deg, line.arrival_deg)
    return differ_deg(a.at(a.length_m / 2)[1], course_b) >= 180 - OPPOSITE_WITHIN_DEG - _BENT_DEG


def _when(a: FlownLeg, b: FlownLeg) -> Span | None:
    if a.band is None or b.band is None:
        return None
    return overlap((a.band.from_start, a.band.to_end), (b.band.from_start, b.band.to_end))


def planned_meeting(a: FlownLeg, b: FlownLeg) -> Planned | None:
    """Return where two planned legs are nearest at one moment; None where they are not flown at one time."""
    if a.band is None or b.band is None:
        return None
    near = closest(a, b, 0.0)
    return None if near is None else Planned(a.times(near.along_a_m)[0], near.apart_m)
