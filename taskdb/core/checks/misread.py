"""Rows whose digits were read in the wrong notation as a group: found by how many of them make sense in another.

A decimal fraction reads as valid minutes and seconds in 36 % of cases by chance, a row of two in 13 %: where nearly
all rows of a group do, they were minutes and seconds. Computes groups and chances; the rule words them.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from taskdb.core.checks.digits import family, write
from taskdb.core.checks.mends import family as code_family
from taskdb.core.model import Position, Waypoint
from taskdb.core.notation.angles import Axis, Notation

LEAST_ROWS = 6
LEAST_SHARE = 0.55
_RUN = 20
_RUN_FACTOR = 0.03
"""Runs of codes are cut anywhere, and there are many: they must be the less likely by chance."""
_MOST_DECIMALS = {Notation.DECIMAL: 7, Notation.MINUTES: 4}


class Reading(StrEnum):
    """As what the digits may have been meant."""

    SECONDS_IN_DEGREES = "minutes and seconds written as decimals of a degree"
    MINUTES_IN_DEGREES = "minutes written as decimals of a degree"
    SECONDS_IN_MINUTES = "seconds written as decimals of a minute"


CHANCE_AT_MOST = {
    Reading.SECONDS_IN_DEGREES: 3e-5,
    Reading.MINUTES_IN_DEGREES: 1e-7,
    Reading.SECONDS_IN_MINUTES: 1e-7,
}
"""Below this probability a group did not come to read so by chance. 9 readable rows of 15 come in 2.3 of 100,000 clean
groups; a single part below 60 says much less, and positions that were rounded favour some digits."""


@dataclass(frozen=True, slots=True)
class Row:
    """One point under one reading: its mended position, None where its digits are no minutes or seconds, and the
    probability that they would be by chance.
    """

    index: int
    mended: Position | None
    chance: float


@dataclass(frozen=True, slots=True)
class MisreadGroup:
    """A group whose rows read in another notation: what they share, how many there are, how many read, the chance."""

    shared: str
    reading: Reading
    rows: int
    readable: tuple[Row, ...]
    by_chance: float
    probability: float


def find_misread_groups(waypoints: Sequence[Waypoint]) -> tuple[MisreadGroup, ...]:
    """Return the groups that were misread, the surest first; a point is in one at most."""
    found: list[MisreadGroup] = []
    taken: set[int] = set()
    rows = {reading: _rows(waypoints, reading) for reading in Reading}
    groups = _groups(waypoints)
    while True:
        best: MisreadGroup | None = None
        for shared, members in groups.items():
            free = [index for index in members if index not in taken]
            for reading, by_index in rows.items():
                group = _judged(shared, reading, [by_index[index] for index in free if index in by_index])
                if group is not None and (best is None or group.probability < best.probability):
                    best = group
        if best is None:
            return tuple(found)
        found.append(best)
        taken.update(row.index for row in best.readable)


def _judged(shared: str, reading: Reading, rows: Sequence[Row]) -> MisreadGroup | None:
    if len(rows) < LEAST_ROWS:
        return None
    readable = tuple(row for row in rows if row.mended is not None)
    if len(readable) < LEAST_SHARE * len(rows):
        return None
    by_chance = sum(row.chance for row in rows) / len(rows)
    probability = binomial_tail(len(rows), len(readable), by_chance)
    if probability > CHANCE_AT_MOST[reading] * (_RUN_FACTOR if shared.startswith("codes from ") else 1.0):
        return None
    return MisreadGroup(shared, reading, len(rows), readable, by_chance, probability)


def binomial_tail(rows: int, least: int, chance: float) -> float:
    """Return the probability that of `rows` at least `least` come out, each with `chance`."""
    if chance >= 1.0:
        return 1.0
    total = 0.0
    for hits in range(least, rows + 1):
        ways = math.lgamma(rows + 1) - math.lgamma(hits + 1) - math.lgamma(rows - hits + 1)
        total += math.exp(ways + hits * math.log(chance) + (rows - hits) * math.log1p(-chance))
    return min(total, 1.0)


def _rows(waypoints: Sequence[Waypoint], reading: Reading) -> dict[int, Row]:
    """Return the points that say something under a reading: those typed in the notation that would be wrong."""
    stands_in = Notation.MINUTES if reading is Reading.SECONDS_IN_MINUTES else Notation.DECIMAL
    found = {}
    for index, point in enumerate(waypoints):
        known = family(point.typed)
        if known is not None and known is not stands_in:
            continue
        if known is None and stands_in is Notation.MINUTES:
            continue
        latitude = _read(point.position.latitude_e7, Axis.LATITUDE, stands_in, reading)
        longitude = _read(point.position.longitude_e7, Axis.LONGITUDE, stands_in, reading)
        chance = latitude[1] * longitude[1]
        if chance < 1.0:
            mended = None
            if latitude[0] is not None and longitude[0] is not None:
                mended = Position.from_e7(latitude[0], longitude[0])
            found[index] = Row(index, mended, chance)
    return found


def _read(e7: int, axis: Axis, stands_in: Notation, reading: Reading) -> tuple[int | None, float]:
    """Return the coordinate under the reading, None where its digits do not allow it, and the chance that they do."""
    written, _ = write(e7, axis, stands_in, _MOST_DECIMALS[stands_in])
    digits = written.fraction
    if not digits:
        return e7, 1.0
    first, second = digits[:2].ljust(2, "0"), digits[2:4].ljust(2, "0")
    size = int(written.parts[0]) + (int(written.parts[1]) / 60.0 if len(written.parts) > 1 else 0.0)
    if reading is Reading.SECONDS_IN_MINUTES:
        value = size + float(f"{first}.{digits[2:] or 0}") / 3600.0
        return _signed(value, e7, first < "60"), 0.6
    if reading is Reading.MINUTES_IN_DEGREES:
        value = size + float(f"{first}.{digits[2:] or 0}") / 60.0
        return _signed(value, e7, first < "60"), 0.6
    value = size + int(first) / 60.0 + float(f"{second}.{digits[4:] or 0}") / 3600.0
    return _signed(value, e7, first < "60" and second < "60"), 0.36 if len(digits) > 2 else 0.6


def _signed(value_deg: float, e7: int, is_valid: bool) -> int | None:
    return round(math.copysign(value_deg, e7) * 1e7) if is_valid else None


def decimals_of(point: Waypoint) -> int:
    """Return the number of decimals without trailing zeros, as typed where that is known, the larger of both."""
    if point.typed is not None and point.typed.decimals is not None:
        return point.typed.decimals
    written = (
        write(point.position.latitude_e7, Axis.LATITUDE, Notation.DECIMAL, 7)[0],
        write(point.position.longitude_e7, Axis.LONGITUDE, Notation.DECIMAL, 7)[0],
    )
    return max(len(one.fraction.rstrip("0")) for one in written)


def _groups(waypoints: Sequence[Waypoint]) -> dict[str, list[int]]:
    """Return the groups in which points may have come into the set together, by what they share."""
    groups: dict[str, list[int]] = defaultdict(list)
    for index, point in enumerate(waypoints):
        decimals = f"{decimals_of(point)} decimals"
        shared = [f"codes like {code_family(point.code) or '1'}", *_labels(point)]
        keys = ["the whole set", decimals, *shared]
        keys.extend(f"{one}, {decimals}" for one in shared)
        keys.extend(f"{one}, {other}" for one, other in _pairs(shared))
        keys.extend(f"{one}, {other}, {decimals}" for one, other in _pairs(shared))
        for key in keys:
            groups[key].append(index)
    for start in range(0, len(waypoints), _RUN // 2):
        run = list(range(start, min(start + _RUN, len(waypoints))))
        if len(run) >= LEAST_ROWS:
            groups[f"codes from {waypoints[run[0]].code} to {waypoints[run[-1]].code}"] = run
    return groups


def _labels(point: Waypoint) -> list[str]:
    found = []
    if point.country:
        found.append(f"country {point.country}")
    if point.source:
        found.append(f"source {point.source}")
    return found


def _pairs(labels: Sequence[str]) -> Iterable[tuple[str, str]]:
    return ((one, other) for number, one in enumerate(labels) for other in labels[number + 1 :])
