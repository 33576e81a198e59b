"""A ring that crosses itself as the simple loops that it consists of, and which of them are ground and which are holes.

The ground is what the ring winds round: both halves of a bow-tie, a loop within a loop, but not a hole that a bridge
of two equal edges joins to its exterior. Where that cannot be told without guessing, nothing is mended.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from taskdb.core.airspace.edges import cross_properly, first_meeting, holds, meeting_point
from taskdb.core.airspace.volume import Ring, Vertex, doubled_area

MOST_SPLITS = 60
"""A ring that crosses itself more often was not drawn by a person who slipped."""


def simple_loops(ring: Sequence[Vertex]) -> list[Ring] | None:
    """Return the loops of a closed ring, none of which crosses or touches itself; None where there are too many."""
    waiting = [list(ring[:-1])]
    loops: list[Ring] = []
    for _ in range(MOST_SPLITS):
        # A loop whose halves are equal and run against each other has no area either, and is ground: bow-ties.
        while waiting and len(waiting[-1]) < 3:
            waiting.pop()
        if not waiting:
            return loops
        loop = waiting.pop()
        met = first_meeting([*loop, loop[0]])
        if met is None:
            loops.append((*loop, loop[0]))
        else:
            waiting += _split(loop, *met)
    return None


def _split(loop: list[Vertex], i: int, j: int) -> list[list[Vertex]]:
    count = len(loop)
    if (i + 1) % count == j:
        # A spike: its tip encloses nothing.
        return [_without_repeats([*loop[:j], *loop[j + 1 :]])]
    a, b, c, d = loop[i], loop[(i + 1) % count], loop[j], loop[(j + 1) % count]
    at = meeting_point(a, b, c, d)
    return [_without_repeats([at, *loop[i + 1 : j + 1]]), _without_repeats([at, *loop[j + 1 :], *loop[: i + 1]])]


def _without_repeats(loop: list[Vertex]) -> list[Vertex]:
    return [vertex for n, vertex in enumerate(loop) if vertex != loop[n - 1] or len(loop) == 1]


def polygons_of(loops: Sequence[Ring]) -> list[list[Ring]] | None:
    """Return the ground that loops of one ring enclose, as polygons with holes; None where it cannot be told.

    A loop within another that runs the same way is enclosed twice and left out; one that runs the other way is its
    hole. Two that run against each other and cross leave open what is meant.
    """
    ordered = sorted(loops, key=lambda loop: -abs(doubled_area(loop)))
    polygons: list[list[Ring]] = []
    for loop in ordered:
        home = None
        for polygon in polygons:
            is_against = (doubled_area(loop) > 0) != (doubled_area(polygon[0]) > 0)
            if is_against and cross_properly(loop, polygon[0]):
                return None
            if lies_in(loop, polygon[0]):
                home = (polygon, is_against)
                break
        if home is None:
            polygons.append([loop])
        elif home[1]:
            home[0].append(loop)
    return polygons


def lies_in(ring: Sequence[Vertex], exterior: Sequence[Vertex]) -> bool:
    """Return whether a ring lies within another, which it may touch."""
    sides = [holds(exterior, vertex) for vertex in ring]
    if False in sides or cross_properly(ring, exterior):
        return False
    if True in sides:
        return True
    middles = [((a[0] + b[0]) // 2, (a[1] + b[1]) // 2) for a, b in pairwise(ring)]
    return all(holds(exterior, middle) is not False for middle in middles)
