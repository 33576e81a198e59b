"""Join two lists of points by coordinates alone: pairs that one typing slip explains.

Nearly always one coordinate is untouched, so candidates are found by equal latitude or equal longitude, those with
both changed by undoing the few slips that change both; only candidates are examined digit by digit.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.checks.slips import TOLERANCE_E7, Slip, explain_difference
from taskdb.core.model import E7, Position, Waypoint

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Integers = NDArray[np.int64]

WIDE_M = 160.0
"""A place measured again moves by this much; a slip on top of that is still told, as less sure."""
WIDE_E7 = int(WIDE_M / 111_000 * E7)
_LEAST_E7 = 27_000
"""300 m of latitude: nearer points are no pair for a slip."""


@dataclass(frozen=True, slots=True)
class SlipJoin:
    """A pair by index, the slip that explains it, and what it leaves over (the larger coordinate, 1e-7 degree)."""

    index: int
    other_index: int
    slip: Slip
    residual_e7: int


def join_by_slips(points: Sequence[Waypoint], others: Sequence[Waypoint]) -> list[SlipJoin]:
    """Return the pairs that a slip explains within 0.02 minutes, and those that it explains within 160 m.

    Meant for points that have no other counterpart on either side: on all points it gives false alarms.
    """
    import numpy as np

    if not points or not others:
        return []
    mine = [_array(points, axis) for axis in (0, 1)]
    theirs = [_array(others, axis) for axis in (0, 1)]
    shrink = np.maximum(np.cos(np.deg2rad(mine[0] / E7)), 0.05)
    reach = np.stack([np.full(len(points), WIDE_E7), (WIDE_E7 / shrink).astype(np.int64)])
    found: set[tuple[int, int]] = set()
    found.update(_equal(mine[0], theirs[0], reach[0]))
    found.update(_equal(mine[1], theirs[1], reach[1]))
    for latitude, longitude in _both_changed(*mine):
        near = _equal(latitude, theirs[0], reach[0])
        found.update((a, b) for a, b in near if abs(int(longitude[a]) - int(theirs[1][b])) <= reach[1][a])
    joins = []
    for a, b in sorted(found):
        join = _explained(a, b, points[a], others[b].position, int(reach[1][a]))
        if join is not None:
            joins.append(join)
    return joins


def _array(points: Sequence[Waypoint], axis: int) -> Integers:
    import numpy as np

    values = [point.position.longitude_e7 if axis else point.position.latitude_e7 for point in points]
    return np.array(values, dtype=np.int64)


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


def _both_changed(latitude: Integers, longitude: Integers) -> Iterator[tuple[Integers, Integers]]:
    """Yield the coordinates with each slip undone that changes both: exchanged, both signs, another notation."""
    import numpy as np

    yield longitude, latitude
    yield np.sign(latitude) * np.abs(longitude), np.sign(longitude) * np.abs(latitude)
    yield -latitude, -longitude
    yield from zip(_misread(latitude), _misread(longitude), strict=True)


def _misread(e7: Integers) -> Iterator[Integers]:
    """Yield the values with their digits read in another notation; digits that make no minutes give nonsense."""
    import numpy as np

    size = np.abs(e7) / E7
    degrees = np.floor(size)
    hundredths = (size - degrees) * 100.0
    minutes = (size - degrees) * 60.0
    whole_hundredths, whole_minutes = np.floor(hundredths + 1e-7), np.floor(minutes + 1e-7)
    seconds_in_decimals = (hundredths - whole_hundredths) * 100.0
    decimals_of_minutes = minutes - whole_minutes
    readings = (
        degrees + hundredths / 60.0,
        degrees + whole_hundredths / 60.0 + seconds_in_decimals / 3600.0,
        degrees + minutes / 100.0,
        degrees + whole_minutes / 60.0 + decimals_of_minutes / 36.0,
        degrees + (whole_minutes + decimals_of_minutes * 0.6) / 60.0,
        degrees + (whole_minutes + decimals_of_minutes * 0.6) / 100.0,
    )
    for value in readings:
        yield (np.sign(e7) * np.round(value * E7)).astype(np.int64)


def _explained(index: int, other: int, point: Waypoint, target: Position, wide_e7: int) -> SlipJoin | None:
    is_near = (
        abs(point.position.latitude_e7 - target.latitude_e7) < _LEAST_E7
        and abs(point.position.longitude_e7 - target.longitude_e7) < _LEAST_E7
    )
    if is_near:
        return None
    for tolerance in (TOLERANCE_E7, wide_e7):
        slip = explain_difference(point.position, target, point.typed, tolerance)
        if slip is not None:
            residual = max(
                abs(slip.mended.latitude_e7 - target.latitude_e7),
                abs(slip.mended.longitude_e7 - target.longitude_e7),
            )
            return SlipJoin(index, other, slip, residual)
    return None
