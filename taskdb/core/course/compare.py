"""Comparing variants of a task: what differs point by point, aligned over points and not over numbers.

A point counts as the same by identity, else by code and name; what stands between equal points is replaced, added or
dropped. Pure: two tasks in, differences out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from enum import StrEnum

from taskdb.core.course.zones import same_geometry
from taskdb.core.geodesy import distance_m
from taskdb.core.model import Place, TaskPoint


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
    code: str
    baseline_number: int | None
    baseline_code: str | None
    distance_m: float | None


def compare_points(baseline: Sequence[TaskPoint], other: Sequence[TaskPoint]) -> tuple[PointDifference, ...]:
    """Return what became of each point, in the order in which `other` is flown (dropped points where they stood)."""
    matcher = SequenceMatcher(a=[_key(p.place) for p in baseline], b=[_key(p.place) for p in other], autojunk=False)
    result: list[PointDifference] = []
    for tag, a0, a1, b0, b1 in matcher.get_opcodes():
        if tag == "equal":
            result.extend(_kept(baseline, other, a, b) for a, b in zip(range(a0, a1), range(b0, b1), strict=True))
            continue
        both = min(a1 - a0, b1 - b0)
        result.extend(_replaced(baseline, other, a0 + i, b0 + i) for i in range(both))
        result.extend(
            PointDifference(b, PointChange.ADDED, other[b].place.code, None, None, None) for b in range(b0 + both, b1)
        )
        result.extend(
            PointDifference(a, PointChange.DROPPED, baseline[a].place.code, a, baseline[a].place.code, None)
            for a in range(a0 + both, a1)
        )
    return tuple(result)


def _key(place: Place) -> tuple[str, str, str]:
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
    return PointDifference(b, change, after.place.code, a, before.place.code, off)


def _replaced(baseline: Sequence[TaskPoint], other: Sequence[TaskPoint], a: int, b: int) -> PointDifference:
    off = distance_m(baseline[a].place.position, other[b].place.position)
    return PointDifference(b, PointChange.REPLACED, other[b].place.code, a, baseline[a].place.code, off)
