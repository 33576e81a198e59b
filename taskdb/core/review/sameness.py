"""How two courses are the same: point for point, flown the other way round, or begun elsewhere on the same loop.

A place is the same by identity, else by position. Zones, times and names play no part.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

from taskdb.core.model import Place, Task


class Sameness(StrEnum):
    SAME = "same"
    REVERSED = "reversed"
    SHIFTED = "shifted"
    SHIFTED_REVERSED = "shifted and reversed"


def is_same_place(a: Place, b: Place) -> bool:
    """Return whether two copies are of one place: one identity, or one position."""
    return (a.identity is not None and a.identity == b.identity) or a.position == b.position


def sameness(a: Task, b: Task) -> Sameness | None:
    """Return how two courses are the same, None where they are not; the plainest of several ways."""
    first, second = [p.place for p in a.points], [p.place for p in b.points]
    if len(first) != len(second):
        return None
    if _agree(first, second):
        return Sameness.SAME
    if _agree(first, second[::-1]):
        return Sameness.REVERSED
    if len(first) < 3 or not (is_same_place(first[0], first[-1]) and is_same_place(second[0], second[-1])):
        return None
    loop, other = first[:-1], second[:-1]
    if any(_agree(loop, turned) for turned in _turns(other)):
        return Sameness.SHIFTED
    if any(_agree(loop, turned) for turned in _turns(other[::-1])):
        return Sameness.SHIFTED_REVERSED
    return None


def _agree(a: Sequence[Place], b: Sequence[Place]) -> bool:
    return all(is_same_place(x, y) for x, y in zip(a, b, strict=True))


def _turns(loop: Sequence[Place]) -> list[Sequence[Place]]:
    return [[*loop[n:], *loop[:n]] for n in range(len(loop))]
