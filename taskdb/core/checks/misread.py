"""Rows whose digits were read in the wrong notation as a group: found by how many of them make sense in another.

A decimal fraction reads as valid minutes and seconds in 36 % of cases by chance, a row of two in 13 %: where nearly
all rows of a group do, they were minutes and seconds. Places are counted, not rows: whether the first two decimals are
below 60 is one answer for all that lie side by side. Computes groups and chances; the rule words them.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Sequence
from enum import StrEnum
from itertools import combinations

from taskdb.core.checks.digits import typed_in, write
from taskdb.core.model import E7, Position, Waypoint
from taskdb.core.notation.angles import Axis, Notation
from taskdb.values import dataclass

LEAST_PLACES = 6
LEAST_SHARE = 0.55
_BELOW_60 = 0.6
_WIDE = 3.0
"""A group that spans so many whole degrees (or minutes) has 0.6 of its extent below 0.6: the ends matter no more."""
_RUN = 20
_RUN_FACTOR = 0.03
"""Runs of codes are cut anywhere, and there are many: they must be the less likely by chance."""
_FINE, _COARSE = 0.01, 0.1
"""What lies in one cell of so many degrees (or minutes) has the same first digits, and is one place."""
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
    """One point under one reading: its mended position, None where its digits are no minutes or seconds; whether
    latitude and longitude hold digits that say something, and the probability that those after the first two would be
    seconds by chance.

    `place` is equal for points so near each other that their digits give one answer. `north` and `east` count whole
    degrees, or minutes where decimals of a minute are read: their fractions are what is read first.
    """

    index: int
    mended: Position | None
    says: tuple[bool, bool]
    fine: float
    place: tuple[int, int]
    north: float
    east: float


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
    readable = tuple(row for row in rows if row.mended is not None)
    if len(rows) < LEAST_PLACES or 2 * len(readable) < LEAST_SHARE * len(rows):
        return None
    places: dict[tuple[int, int], list[Row]] = defaultdict(list)
    for row in rows:
        places[row.place].append(row)
    count = len(places)
    hits = int(sum(sum(row.mended is not None for row in some) / len(some) for some in places.values()) + 1e-9)
    if count < LEAST_PLACES or hits < LEAST_SHARE * count:
        return None
    by_chance = _by_chance(rows)
    probability = binomial_tail(count, hits, by_chance)
    if probability > CHANCE_AT_MOST[reading] * (_RUN_FACTOR if shared.startswith("codes from ") else 1.0):
        return None
    return MisreadGroup(shared, reading, len(rows), count, readable, by_chance, probability)


def _by_chance(rows: Sequence[Row]) -> float:
    """Return the probability that a row reads by chance, given how far the rows spread.

    A district that lies between 47.1 and 47.5 has no other first decimals than such below 60.
    """
    first = tuple(_share_below_60([getattr(row, name) for row in rows]) for name in ("north", "east"))
    total = 0.0
    for row in rows:
        chance = row.fine
        for says, share in zip(row.says, first, strict=True):
            chance *= share if says else 1.0
        total += chance
    return total / len(rows)


def _share_below_60(values: Sequence[float]) -> float:
    """Return what share of the extent of the values has a fraction below 0.6; 0.6 where it spans three wholes."""
    low, high = min(values), max(values)
    if high - low >= _WIDE:
        return _BELOW_60
    if high - low < 1e-9:
        return 1.0
    covered = sum(
        max(0.0, min(high, whole + _BELOW_60) - max(low, whole)) for whole in range(math.floor(low), math.ceil(high))
    )
    return max(_BELOW_60, covered / (high - low))


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
        known = typed_in(point.typed)
        if known is not None and known is not stands_in:
            continue
        if known is None and stands_in is Notation.MINUTES:
            continue
        e7 = (point.position.latitude_e7, point.position.longitude_e7)
        latitude = _read(e7[0], Axis.LATITUDE, stands_in, reading)
        longitude = _read(e7[1], Axis.LONGITUDE, stands_in, reading)
        if latitude.digits or longitude.digits:
            mended = None
            if latitude.mended is not None and longitude.mended is not None:
                mended = Position.from_e7(latitude.mended, longitude.mended)
            fine = math.prod(_BELOW_60 for one in (latitude, longitude) if one.has_seconds)
            scale = 60 if stands_in is Notation.MINUTES else 1
            north, east = (abs(value) / E7 * scale for value in e7)
            # Seconds change from one hundredth to the next, minutes stay the same over several tenths.
            cell = _FINE if fine < 1.0 else _COARSE
            place = (math.floor(north / cell), math.floor(east / cell))
            found[index] = Row(index, mended, (latitude.digits > 0, longitude.digits > 0), fine, place, north, east)
    return found


@dataclass(frozen=True, slots=True)
class _Read:
    """A coordinate under a reading, None where its digits do not allow it; how many they are, if two pairs are read."""

    mended: int | None
    digits: int
    has_seconds: bool


def _read(e7: int, axis: Axis, stands_in: Notation, reading: Reading) -> _Read:
    written, _ = write(e7, axis, stands_in, _MOST_DECIMALS[stands_in])
    digits = written.fraction
    if not digits:
        return _Read(e7, 0, False)
    first, second = digits[:2].ljust(2, "0"), digits[2:4].ljust(2, "0")
    size = int(written.parts[0]) + (int(written.parts[1]) / 60.0 if len(written.parts) > 1 else 0.0)
    if reading is Reading.SECONDS_IN_MINUTES:
        value = size + float(f"{first}.{digits[2:] or 0}") / 3600.0
        return _Read(_signed(value, e7, first < "60"), len(digits), False)
    if reading is Reading.MINUTES_IN_DEGREES:
        value = size + float(f"{first}.{digits[2:] or 0}") / 60.0
        return _Read(_signed(value, e7, first < "60"), len(digits), False)
    value = size + int(first) / 60.0 + float(f"{second}.{digits[4:] or 0}") / 3600.0
    return _Read(_signed(value, e7, first < "60" and second < "60"), len(digits), len(digits) > 2)


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
        shared = [f"codes like {like_codes(point.code) or '1'}", *_labels(point)]
        keys = ["the whole set", decimals, *shared]
        keys.extend(f"{one}, {decimals}" for one in shared)
        keys.extend(f"{one}, {other}" for one, other in combinations(shared, 2))
        keys.extend(f"{one}, {other}, {decimals}" for one, other in combinations(shared, 2))
        for key in keys:
            groups[key].append(index)
    for start in range(0, len(waypoints), _RUN // 2):
        run = list(range(start, min(start + _RUN, len(waypoints))))
        if len(run) >= LEAST_PLACES:
            groups[f"codes from {waypoints[run[0]].code} to {waypoints[run[-1]].code}"] = run
    return groups


def like_codes(code: str) -> str:
    """Return what points with like codes have in common: the letters among digits, else the first two letters."""
    letters = re.sub(r"[^A-Z]", "", code.upper())
    return letters if len(letters) < len(code) else letters[:2]


def _labels(point: Waypoint) -> list[str]:
    found = []
    if point.country:
        found.append(f"country {point.country}")
    if point.source:
        found.append(f"source {point.source}")
    return found
