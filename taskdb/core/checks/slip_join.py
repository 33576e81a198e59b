"""Join two lists of points by coordinates alone: pairs that one typing slip explains.

Nearly always one coordinate is untouched, so candidates are found by equal latitude or equal longitude, those with
both changed by undoing the few slips that change both; only candidates are examined digit by digit.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.checks.slips import TOLERANCE_E7, Slip, explain_difference, left_over_e7, whole_slips
from taskdb.core.matching.points import Points
from taskdb.core.model import E7, Position, Waypoint

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Integers = NDArray[np.int64]

WIDE_M = 160.0
"""A place measured again moves by this much; a slip on top of that is still told, as less sure."""
WIDE_E7 = int(WIDE_M / 111_000 * E7)
LOOSE_FROM_M = 1_500.0
"""Nearer places differ by less than ten times what a loose fit leaves over: that explains nothing."""
_LEAST_E7 = 27_000
"""300 m of latitude: nearer points are no pair for a slip."""


@dataclass(frozen=True, slots=True)
class SlipJoin:
    """A pair by index, the slip that explains it, and what it leaves over (the larger coordinate, 1e-7 degree)."""

    index: int
    other_index: int
    slip: Slip
    residual_e7: int


def wide_e7(position: Position) -> int:
    """Return what 160 m make in longitude at the position's latitude, the larger of both coordinates (1e-7 degree)."""
    return int(WIDE_E7 / max(math.cos(math.radians(position.latitude_deg)), 0.05))


def join_by_slips(points: Sequence[Waypoint], others: Sequence[Waypoint]) -> list[SlipJoin]:
    """Return the pairs that a slip explains within 0.02 minutes, and those that it explains within 160 m.

    Meant for points that have no other counterpart on either side: on all points it gives false alarms.
    """
    import numpy as np

    if not points or not others:
        return []
    mine, theirs = (Points.of([one.position for one in some]) for some in (points, others))
    reach = np.array([[WIDE_E7] * len(points), [wide_e7(one.position) for one in points]], dtype=np.int64)
    found: set[tuple[int, int]] = set()
    found.update(_equal(mine.latitude_e7, theirs.latitude_e7, reach[0]))
    found.update(_equal(mine.longitude_e7, theirs.longitude_e7, reach[1]))
    found.update(_both_changed(points, theirs, reach))
    joins = []
    for a, b in sorted(found):
        join = _explained(a, b, points[a], others[b].position, int(reach[1][a]))
        if join is not None:
            joins.append(join)
    return joins


def _equal(mine: Integers, theirs: Integers, reach: Integers) -> Iterator[tuple[int, int]]:
    """Yield the index pairs whose values differ by at most the reach."""
    import numpy as np

    order = np.argsort(theirs, kind="stable")
    ordered = theirs[order]
    start = np.searchsorted(ordered, mine - reach)
    stop = np.searchsorted(ordered, mine + reach, side="right")
    for index in np.flatnonzero(stop > start).tolist():
        for other in order[start[index] : stop[index]].tolist():
            yield index, other


def _both_changed(points: Sequence[Waypoint], theirs: Points, reach: Integers) -> Iterator[tuple[int, int]]:
    """Yield the pairs that meet when a slip is undone that changes both coordinates."""
    import numpy as np

    undone = [(index, slip.mended) for index, one in enumerate(points) for slip in whole_slips(one.position, one.typed)]
    whose = np.array([index for index, _ in undone], dtype=np.int64)
    mended = Points.of([place for _, place in undone])
    for row, other in _equal(mended.latitude_e7, theirs.latitude_e7, reach[0][whose]):
        if abs(int(mended.longitude_e7[row]) - int(theirs.longitude_e7[other])) <= reach[1][whose[row]]:
            yield int(whose[row]), other


def _explained(index: int, other: int, point: Waypoint, target: Position, wide_e7: int) -> SlipJoin | None:
    is_near = (
        abs(point.position.latitude_e7 - target.latitude_e7) < _LEAST_E7
        and abs(point.position.longitude_e7 - target.longitude_e7) < _LEAST_E7
    )
    if is_near:
        return None
    slip = explain_difference(point.position, target, point.typed, TOLERANCE_E7, wide_e7)
    return None if slip is None else SlipJoin(index, other, slip, left_over_e7(slip, target))
