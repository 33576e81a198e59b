"""An exhaustive search for courses, one by one and by plain geodesics, to hold taskdb's own against.

Distances are PROJ's (`pyproj.Geod`, one at a time), on the FAI sphere the haversine's; how far home is off a side is
sought by narrowing three ways on the geodesic. Every pair or three of places is looked at in plain loops.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from pyproj import Geod

from taskdb.core.kinds import HomeAt, ProposedShape
from taskdb.core.model import Earth, Position
from taskdb.core.proposing.wanted import Wanted

GEOD = Geod(ellps="WGS84")
Key = tuple[int, ...]


@dataclass(frozen=True)
class Judged:
    """What the judge says of one course: its length from home to home, the perimeter, how far home is off the side."""

    length_m: float
    perimeter_m: float | None = None
    off_m: float | None = None


def geodesic_m(a: Position, b: Position) -> float:
    return float(GEOD.inv(a.longitude_deg, a.latitude_deg, b.longitude_deg, b.latitude_deg)[2])


def leg_m(a: Position, b: Position, earth: Earth) -> float:
    if earth is Earth.WGS84:
        return geodesic_m(a, b)
    p, q = math.radians(a.latitude_deg), math.radians(b.latitude_deg)
    across = math.radians(b.longitude_deg - a.longitude_deg)
    half = math.sin((q - p) / 2) ** 2 + math.cos(p) * math.cos(q) * math.sin(across / 2) ** 2
    return 2 * 6_371_000.0 * math.asin(math.sqrt(half))


def off_side_m(home: Position, a: Position, b: Position) -> float:
    """Return the distance from home to the nearest place of the geodesic from `a` to `b`."""
    azimuth, _, length = GEOD.inv(a.longitude_deg, a.latitude_deg, b.longitude_deg, b.latitude_deg)

    def off(along: float) -> float:
        longitude, latitude, _ = GEOD.fwd(a.longitude_deg, a.latitude_deg, azimuth, along)
        return float(GEOD.inv(longitude, latitude, home.longitude_deg, home.latitude_deg)[2])

    low, high = 0.0, length
    while high - low > 0.005:
        third = (high - low) / 3
        if off(low + third) < off(high - third):
            high -= third
        else:
            low += third
    return min(geodesic_m(home, a), geodesic_m(home, b), off((low + high) / 2))


def is_fai(sides: Sequence[float], wanted: Wanted) -> bool:
    rules, around = wanted.triangle, sum(sides)
    shares = [100 * side / around for side in sides]
    if around < rules.large_from_m:
        return min(shares) >= rules.small_shortest_percent
    return min(shares) >= rules.large_shortest_percent and max(shares) <= rules.large_longest_percent


def has_shares(legs: Sequence[float], wanted: Wanted) -> bool:
    default = 15.0 if wanted.shape is ProposedShape.QUADRILATERAL else 0.0
    least = default if wanted.least_share_percent is None else wanted.least_share_percent
    return min(legs) > 0 and 100 * min(legs) >= least * sum(legs)


class Judge:
    """The places, what lies between them, and all courses that are wanted, by the numbers of their turn points."""

    def __init__(self, places: Sequence[Position], home: Position, wanted: Wanted) -> None:
        self.places, self.home, self.wanted = places, home, wanted
        self.from_home = [leg_m(home, p, wanted.earth) for p in places]
        self.between = [[leg_m(p, q, wanted.earth) for q in places] for p in places]
        farthest = math.inf if wanted.farthest_m is None else wanted.farthest_m
        self.usable = [n for n, p in enumerate(places) if geodesic_m(home, p) > 0 and self.from_home[n] <= farthest]

    def flown(self, turns: Key) -> list[float]:
        legs = [self.between[p][q] for p, q in pairwise(turns)]
        return [self.from_home[turns[0]], *legs, self.from_home[turns[-1]]]

    def in_band(self, length: float) -> bool:
        return self.wanted.least_m <= length <= self.wanted.most_m

    def passes_filters(self, turns: Key) -> bool:
        """Say whether no leg is blocked, and first and last course are as wanted in this direction."""
        ends = [-1, *turns, -1]
        if self.wanted.blocked is not None:
            import numpy as np

            a, b = np.array(ends[:-1], dtype=np.int32), np.array(ends[1:], dtype=np.int32)
            if self.wanted.blocked(np.minimum(a, b), np.maximum(a, b)).any():
                return False
        first, last = self.places[turns[0]], self.places[turns[-1]]
        out = GEOD.inv(self.home.longitude_deg, self.home.latitude_deg, first.longitude_deg, first.latitude_deg)[0]
        back = GEOD.inv(last.longitude_deg, last.latitude_deg, self.home.longitude_deg, self.home.latitude_deg)[0]
        asked = ((self.wanted.first_deg, out), (self.wanted.last_deg, back))
        return all(sector is None or sector.holds(course % 360) for sector, course in asked)

    def ways(self, turns: Key) -> set[Key]:
        return {way for way in (turns, turns[::-1]) if self.passes_filters(way)}

    def courses(self) -> dict[frozenset[Key], Judged]:
        """Return every course by the ways in which it may be flown."""
        shape, home = self.wanted.shape, self.wanted.home
        if shape is ProposedShape.OUT_AND_RETURN:
            found = self._out_and_returns()
        elif shape is ProposedShape.QUADRILATERAL:
            found = self._quadrilaterals()
        elif home is HomeAt.CORNER:
            found = self._corners()
        else:
            found = self._sides()
        by_ways = {frozenset(self.ways(turns)): judged for turns, judged in found.items()}
        by_ways.pop(frozenset(), None)
        return by_ways

    def _out_and_returns(self) -> dict[Key, Judged]:
        found = {(n,): Judged(2 * self.from_home[n]) for n in self.usable}
        return {turns: judged for turns, judged in found.items() if self.in_band(judged.length_m)}

    def _quadrilaterals(self) -> dict[Key, Judged]:
        found = {}
        for p, q, r in combinations(self.usable, 3):
            if not (self.between[p][q] and self.between[q][r] and self.between[r][p]):
                continue
            for turns in ((p, q, r), (q, r, p), (r, p, q)):
                legs = self.flown(turns)
                if self.in_band(sum(legs)) and has_shares(legs, self.wanted):
                    found[turns] = Judged(sum(legs))
        return found

    def _corners(self) -> dict[Key, Judged]:
        found = {}
        for turns in combinations(self.usable, 2):
            legs = self.flown(turns)
            if self._is_triangle(legs, sum(legs)):
                found[turns] = Judged(sum(legs), sum(legs))
        return found

    def _sides(self) -> dict[Key, Judged]:
        off = {
            (p, q): off_side_m(self.home, self.places[p], self.places[q])
            for p, q in combinations(self.usable, 2)
            if self.from_home[p] + self.from_home[q] < self.between[p][q] * 1.01 + 3 * self.wanted.within_m
        }
        found = {}
        for corners in combinations(self.usable, 3):
            sides = [pair for pair in combinations(corners, 2) if off.get(pair, math.inf) <= self.wanted.within_m]
            if not sides:
                continue
            # Equally far to half a millimetre: beyond a corner, where the shorter way counts.
            nearest = min(off[side] for side in sides)
            ways = []
            for side in sides:
                if off[side] <= nearest + 5e-4:
                    (third,) = set(corners) - set(side)
                    turns = (side[0], third, side[1])
                    ways.append((sum(self.flown(turns)), turns, off[side]))
            length, turns, off_m = min(ways)
            legs = [self.between[p][q] for p, q in combinations(corners, 2)]
            if self._is_triangle(legs, length):
                found[turns] = Judged(length, sum(legs), off_m)
        return found

    def _is_triangle(self, sides: Sequence[float], length: float) -> bool:
        if self.wanted.shape is ProposedShape.FAI_TRIANGLE:
            return has_shares(sides, self.wanted) and self.in_band(sum(sides)) and is_fai(sides, self.wanted)
        return self.in_band(length) and has_shares(sides, self.wanted)
