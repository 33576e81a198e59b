"""Comparing variants of a task: what differs point by point, aligned over points and not over numbers.

A point counts as the same by identity, else by code and name; between different sets, which give one place different
identities, by how catalogues are matched. What stands between equal points is replaced, added or dropped. Pure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from enum import StrEnum

from taskdb.core.course.zones import same_geometry
from taskdb.core.geodesy import distance_m
from taskdb.core.matching.match import MatchRound, match_waypoints
from taskdb.core.model import Place, TaskPoint, Waypoint


class PointChange(StrEnum):
    SAME = "same"
    ZONE = "zone"
    MOVED = "moved"
    REPLACED = "replaced"
    ADDED = "added"
    DROPPED = "dropped"


@dataclass(frozen=True, slots=True)
class PointDifference:
    """One step of the comparison: `number` counts in the compared task, for a dropped point in the baseline."""

    number: int
    change: PointChange
    distance_m: float | None = field(kw_only=True)
    code: str
    baseline_number: int | None
    baseline_code: str | None


def compare_points(
    baseline: Sequence[TaskPoint], other: Sequence[TaskPoint], *, between_sets: bool = False
) -> tuple[PointDifference, ...]:
    """Return what became of each point, in the order in which `other` is flown (dropped points where they stood).

    `between_sets`: the two stand on different sets, so that an identity of one says nothing about the other.
    """
    same_as = _matched(baseline, other) if between_sets else {}
    theirs = [_key(p.place) for p in other]
    matcher = SequenceMatcher(
        a=[_key(p.place) for p in baseline], b=[same_as.get(key, key) for key in theirs], autojunk=False
    )
    result: list[PointDifference] = []
    for tag, a0, a1, b0, b1 in matcher.get_opcodes():
        if tag == "equal":
            result.extend(_kept(baseline, other, a, b) for a, b in zip(range(a0, a1), range(b0, b1), strict=True))
            continue
        both = min(a1 - a0, b1 - b0)
        result.extend(_replaced(baseline, other, a0 + i, b0 + i) for i in range(both))
        result.extend(
            PointDifference(b, PointChange.ADDED, other[b].place.code, None, None, distance_m=None)
            for b in range(b0 + both, b1)
        )
        result.extend(
            PointDifference(a, PointChange.DROPPED, baseline[a].place.code, a, baseline[a].place.code, distance_m=None)
            for a in range(a0 + both, a1)
        )
    return tuple(result)


def align_points(
    count: int, differences: Sequence[Sequence[PointDifference]]
) -> tuple[tuple[int | None, tuple[PointDifference | None, ...]], ...]:
    """Return several comparisons with a baseline of `count` points as rows: its number, and what each has there.

    A row without a number holds points that were added behind the row before it; None where a task has none there.
    """
    at: list[dict[int, PointDifference]] = []
    added: list[dict[int, list[PointDifference]]] = []
    for steps in differences:
        here: dict[int, PointDifference] = {}
        behind: dict[int, list[PointDifference]] = {}
        last = -1
        for step in steps:
            if step.baseline_number is None:
                behind.setdefault(last, []).append(step)
            else:
                last = step.baseline_number
                here[last] = step
        at.append(here)
        added.append(behind)
    rows: list[tuple[int | None, tuple[PointDifference | None, ...]]] = []
    for number in range(-1, count):
        if number >= 0:
            rows.append((number, tuple(here.get(number) for here in at)))
        extra = [behind.get(number, []) for behind in added]
        for i in range(max(map(len, extra), default=0)):
            rows.append((None, tuple(steps[i] if i < len(steps) else None for steps in extra)))
    return tuple(rows)


Key = tuple[str, str, str]


def _matched(baseline: Sequence[TaskPoint], other: Sequence[TaskPoint]) -> dict[Key, Key]:
    """Return whose places of the baseline those of the other task are; a code alone speaks for nothing."""
    mine = {_key(p.place): _alone(p.place) for p in baseline}
    theirs = {_key(p.place): _alone(p.place) for p in other}
    keys = list(mine), list(theirs)
    pairs = match_waypoints(list(mine.values()), list(theirs.values())).pairs
    return {keys[1][p.new_index]: keys[0][p.old_index] for p in pairs if p.round is not MatchRound.CODE}


def _alone(place: Place) -> Waypoint:
    return Waypoint(place.code, place.name, place.position, identity=place.identity)


def _key(place: Place) -> Key:
    return ("identity", place.identity, "") if place.identity is not None else ("own", place.code, place.name)


def _kept(baseline: Sequence[TaskPoint], other: Sequence[TaskPoint], a: int, b: int) -> PointDifference:
    before, after = baseline[a], other[b]
    if before.place.position != after.place.position:
        change = PointChange.MOVED
    elif not same_geometry(before.zone, after.zone) or before.role is not after.role:
        change = PointChange.ZONE
    else:
        change = PointChange.SAME
    off = distance_m(before.place.position, after.place.position)
    return PointDifference(b, change, after.place.code, a, before.place.code, distance_m=off)


def _replaced(baseline: Sequence[TaskPoint], other: Sequence[TaskPoint], a: int, b: int) -> PointDifference:
    off = distance_m(baseline[a].place.position, other[b].place.position)
    return PointDifference(b, PointChange.REPLACED, other[b].place.code, a, baseline[a].place.code, distance_m=off)
