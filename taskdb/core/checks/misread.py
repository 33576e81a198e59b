"""Rows whose digits were read in the wrong notation as a group: found by how many of them make sense in another.

A decimal fraction reads as valid minutes and seconds in 36 % of cases by chance, a row of two in 13 %: where nearly
all rows of a group do, they were minutes and seconds. Places are counted, not rows: whether the first two decimals are
below 60 is one answer for all that lie side by side. Computes groups and chances; the rule words them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from taskdb.core.checks.readings import BELOW_60, Read, Reading, decimals_of, read_all
from taskdb.core.checks.row_groups import LEAST_PLACES, LEAST_SHARE, RowGroups, like_codes
from taskdb.core.model import Position, Waypoint
from taskdb.core.packed_waypoints import CodedValues, PackedWaypoints

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Integers = NDArray[np.integer[Any]]

_WIDE = 3.0
"""A group that spans so many whole degrees (or minutes) has 0.6 of its extent below 0.6: the ends matter no more."""
_RUN_FACTOR = 0.03
"""Runs of codes are cut anywhere, and there are many: they must be the less likely by chance."""


CHANCE_AT_MOST = {
    Reading.SECONDS_IN_DEGREES: 3e-5,
    Reading.MINUTES_IN_DEGREES: 1e-7,
    Reading.SECONDS_IN_MINUTES: 1e-7,
}
"""Below this probability a group did not come to read so by chance. 9 readable rows of 15 come in 2.3 of 100,000 clean
groups; a single part below 60 says much less, and positions that were rounded favour some digits."""


@dataclass(frozen=True, slots=True)
class Row:
    """One point of a group and where it belongs, if its digits are read so."""

    index: int
    mended: Position


@dataclass(frozen=True, slots=True)
class MisreadGroup:
    """A group whose rows read in another notation: what they share, how many there are, how many read, the chance.

    `places` of the rows lie apart, and are what was counted.
    """

    shared: str
    reading: Reading
    rows: int
    places: int
    readable: tuple[Row, ...]
    by_chance: float
    probability: float


class _Judged(NamedTuple):
    """A group that did not come to read so by chance; the least is the surest, of equals the first."""

    probability: float
    group: int
    reading: int
    rows: int
    places: int
    by_chance: float
    readable: Integers


def find_misread_groups(
    waypoints: Sequence[Waypoint], like: CodedValues[str] | None = None
) -> tuple[MisreadGroup, ...]:
    """Return the groups that were misread, the surest first; a point is in one at most.

    `like` is what their codes have in common with like ones (`like_codes`), of a caller that has it.
    """
    import numpy as np

    packed = PackedWaypoints.of(waypoints)
    reads = {number: read for number, reading in enumerate(Reading) if (read := read_all(packed, reading))}
    if not reads:
        return ()
    groups = RowGroups(packed, like or CodedValues(map(like_codes, packed.codes)), decimals_of(packed))
    judged: dict[tuple[int, int], _Judged] = {}

    def judge(group: int, number: int) -> None:
        members = groups.members(group)
        found = _judged(group, number, reads[number], members[~is_taken[members]], is_run=groups.is_run(group))
        if found is None:
            judged.pop((group, number), None)
        else:
            judged[group, number] = found

    is_taken = np.zeros(len(packed), dtype=bool)
    for number, read in reads.items():
        for group in groups.worth_judging(read.says, read.is_readable, read.place):
            judge(group, number)
    found: list[MisreadGroup] = []
    while judged:
        best = min(judged.values(), key=lambda one: one[:3])
        reading, read = list(Reading)[best.reading], reads[best.reading]
        places = zip(*(some[best.readable].tolist() for some in read.mended_e7), strict=True)
        rows = zip(best.readable.tolist(), places, strict=True)
        readable = tuple(Row(index, Position.from_e7(*place)) for index, place in rows)
        found.append(
            MisreadGroup(
                groups.shared(best.group), reading, best.rows, best.places, readable, best.by_chance, best.probability
            )
        )
        is_taken[best.readable] = True
        for group in groups.holding(best.readable):
            for number in reads:
                judge(group, number)
    return tuple(found)


def _judged(group: int, number: int, read: Read, free: Integers, *, is_run: bool) -> _Judged | None:
    import numpy as np

    rows = free[read.says[free]]
    is_readable = read.is_readable[rows]
    if len(rows) < LEAST_PLACES or 2 * int(is_readable.sum()) < LEAST_SHARE * len(rows):
        return None
    _, first, place_of = np.unique(read.place[rows], return_index=True, return_inverse=True)
    count = len(first)
    shares = np.bincount(place_of, is_readable) / np.bincount(place_of)
    hits = int(sum(shares[np.argsort(first)].tolist()) + 1e-9)
    if count < LEAST_PLACES or hits < LEAST_SHARE * count:
        return None
    by_chance = _by_chance(read, rows)
    probability = binomial_tail(count, hits, by_chance)
    if probability > CHANCE_AT_MOST[list(Reading)[number]] * (_RUN_FACTOR if is_run else 1.0):
        return None
    return _Judged(probability, group, number, len(rows), count, by_chance, rows[is_readable])


def _by_chance(read: Read, rows: Integers) -> float:
    """Return the probability that a row reads by chance, given how far the rows spread.

    A district that lies between 47.1 and 47.5 has no other first decimals than such below 60.
    """
    import numpy as np

    chance = read.fine(rows)
    for axis, says in enumerate(read.axis_says):
        chance = chance * np.where(says[rows], _share_below_60(read.extent(axis, rows)), 1.0)
    return float(np.cumsum(chance)[-1]) / len(rows)


def _share_below_60(values: NDArray[np.float64]) -> float:
    """Return what share of the extent of the values has a fraction below 0.6; 0.6 where it spans three wholes."""
    low, high = float(values.min()), float(values.max())
    if high - low >= _WIDE:
        return BELOW_60
    if high - low < 1e-9:
        return 1.0
    covered = sum(
        max(0.0, min(high, whole + BELOW_60) - max(low, whole)) for whole in range(math.floor(low), math.ceil(high))
    )
    return max(BELOW_60, covered / (high - low))


def binomial_tail(rows: int, least: int, chance: float) -> float:
    """Return the probability that of `rows` at least `least` come out, each with `chance`."""
    if chance >= 1.0:
        return 1.0
    total = 0.0
    for hits in range(least, rows + 1):
        ways = math.lgamma(rows + 1) - math.lgamma(hits + 1) - math.lgamma(rows - hits + 1)
        total += math.exp(ways + hits * math.log(chance) + (rows - hits) * math.log1p(-chance))
    return min(total, 1.0)
