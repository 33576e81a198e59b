"""Where two tasks pass each other at one time, crossing or side by side: what is neither opposed nor at their ends."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

from taskdb.core.course.regions import reach_m
from taskdb.core.geodesy import distance_m
from taskdb.core.judgement.approach import Approach, FlownLeg, closest, foot_m, may_meet
from taskdb.core.judgement.ends import LARGEST_REACH_M
from taskdb.core.judgement.meeting import DayTask, Kind, Meeting, Planned, legs_of, overlap
from taskdb.core.judgement.opposing import merged, planned_meeting
from taskdb.core.judgement.presence import Presence


@dataclass(frozen=True, slots=True)
class _Hit:
    """Where two legs come near each other in time, the meeting that it would be by itself, and the legs as planned."""

    numbers: tuple[int, int]
    meeting: Meeting
    plans: tuple[FlownLeg, FlownLeg]


def passing(
    a: DayTask, b: DayTask, apart_m: float, within_min: float, told: Sequence[Meeting] = ()
) -> Iterator[Meeting]:
    """Yield a meeting for each run of legs on which pilots of both can be within a distance and a time of each other.

    Round their starts and finishes two tasks meet by rights: places where both are near an end of their own are left
    out, as are tasks whose times are not known. A run is told once, at its nearest place, and not at all next to what
    is `told` already.
    """
    opposed = {one.numbers for one in told if one.kind is Kind.OPPOSED}
    hits: list[_Hit] = []
    for way_a in a.ways:
        for way_b in b.ways:
            if way_a.times is not None and way_b.times is not None:
                hits += _of_ways(a, b, way_a, way_b, apart_m, within_min, opposed)
    for run in _runs(hits):
        nearest = min((hit.meeting for hit in run), key=lambda one: one.apart_m)
        if all(_off(nearest, one) > apart_m for one in told):
            same = [hit for hit in run if hit.numbers == nearest.numbers]
            yield merged([replace(hit.meeting, planned=_planned(hit, apart_m)) for hit in same])


def _planned(hit: _Hit, apart_m: float) -> Planned | None:
    """Return where the planned flights are nearest on what was looked at of two legs."""
    found = [
        planned
        for pair in _parts(*hit.meeting.tasks, hit.numbers, hit.plans, apart_m)
        if (planned := planned_meeting(*pair)) is not None
    ]
    return min(found, key=lambda one: one.apart_m, default=None)


def _off(meeting: Meeting, told: Meeting) -> float:
    """Return how far a meeting lies from what is told: from the stretch of opposed legs, else from its place."""
    there, stretch = told.place, told.stretches_m
    if stretch is not None:
        path = told.tasks[0].ways[0].path
        leg = FlownLeg.between(path[told.numbers[0]], path[told.numbers[0] + 1])
        there = leg.at(min(max(foot_m(leg, meeting.place), stretch[0][0]), stretch[0][1]))[0]
    return distance_m(meeting.place, there)


def _of_ways(
    a: DayTask,
    b: DayTask,
    way_a: Presence,
    way_b: Presence,
    apart_m: float,
    within_min: float,
    but: Collection[tuple[int, int]],
) -> Iterator[_Hit]:
    legs_a, legs_b = legs_of(way_a), legs_of(way_b)
    plans_a, plans_b = legs_of(way_a, planned=True), legs_of(way_b, planned=True)
    for n, leg_a in enumerate(legs_a):
        for m, leg_b in enumerate(legs_b):
            if (n, m) in but or not may_meet(leg_a, leg_b, apart_m):
                continue
            near = _nearest(_parts(a, b, (n, m), (leg_a, leg_b), apart_m), within_min, apart_m)
            if near is None:
                continue
            (part_a, part_b), found = near
            when = overlap(part_a.times(found.along_a_m), part_b.times(found.along_b_m))
            meeting = Meeting(
                kind=Kind.PASSING,
                tasks=(a, b),
                numbers=(n, m),
                apart_m=found.apart_m,
                apart_most_m=found.apart_m,
                place=part_a.at(found.along_a_m)[0],
                angle_deg=found.angle_deg,
                when=when,
            )
            yield _Hit((n, m), meeting, (plans_a[n], plans_b[m]))


def _parts(
    a: DayTask, b: DayTask, numbers: tuple[int, int], legs: tuple[FlownLeg, FlownLeg], apart_m: float
) -> list[tuple[FlownLeg, FlownLeg]]:
    """Return the pairs of parts of two legs that together leave out where both are near an end of their task."""
    cut_a, cut_b = _off_the_ends(a, numbers[0], legs[0], apart_m), _off_the_ends(b, numbers[1], legs[1], apart_m)
    if cut_a == legs[0] or cut_b == legs[1]:
        return [legs]
    first = [(cut_a, legs[1])] if cut_a is not None else []
    return [*first, (legs[0], cut_b)] if cut_b is not None else first


def _off_the_ends(one: DayTask, number: int, leg: FlownLeg, apart_m: float) -> FlownLeg | None:
    """Return a leg without what lies within the zone of a start or finish, or near it; None where nothing is left."""
    points = one.task.points
    begin = min(reach_m(points[0].zone), LARGEST_REACH_M) + apart_m if number == 0 else 0.0
    end = min(reach_m(points[-1].zone), LARGEST_REACH_M) + apart_m if number == len(points) - 2 else 0.0
    if begin + end >= leg.length_m:
        return None if begin or end else leg
    return leg.cut(begin, leg.length_m - end) if begin or end else leg


def _nearest(
    parts: list[tuple[FlownLeg, FlownLeg]], within_min: float, apart_m: float
) -> tuple[tuple[FlownLeg, FlownLeg], Approach] | None:
    found = [(pair, near) for pair in parts if (near := closest(*pair, within_min, apart_m)) is not None]
    return min(found, key=lambda one: one[1].apart_m, default=None)


def _runs(hits: list[_Hit]) -> list[list[_Hit]]:
    """Return the hits in runs: of legs that follow each other in both tasks, so that a way together is told once."""
    runs: list[list[_Hit]] = []
    for hit in sorted(hits, key=lambda one: one.numbers):
        touching = [run for run in runs if any(_is_next(hit, other) for other in run)]
        runs = [run for run in runs if run not in touching]
        runs.append([*(other for run in touching for other in run), hit])
    return runs


def _is_next(hit: _Hit, other: _Hit) -> bool:
    return all(abs(n - m) <= 1 for n, m in zip(hit.numbers, other.numbers, strict=True))
