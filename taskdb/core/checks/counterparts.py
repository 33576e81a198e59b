"""The counterpart of each checked point in a reference, also where a slip has carried the two far apart.

What the matching of catalogues leaves over is joined by nearness, by name, by code, and at last by coordinates alone:
a slip nearly always leaves one coordinate untouched. Says which points differ and how that is explained, not how bad
it is.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property
from statistics import median

from taskdb.core.checks.given import Reference
from taskdb.core.checks.slip_join import LOOSE_FROM_M, WIDE_E7, WIDE_M, SlipJoin, join_by_slips, wide_e7
from taskdb.core.checks.slips import TOLERANCE_E7, Slip, explain_difference, left_over_e7
from taskdb.core.geodesy import distance_m
from taskdb.core.matching.limits import MEASURED_AGAIN_WITHIN_M, SAME_SPOT_WITHIN_M
from taskdb.core.matching.match import Matching, match_waypoints
from taskdb.core.matching.points import Points, nearest_m
from taskdb.core.model import Landable, Waypoint
from taskdb.core.names import fold

COARSE_M = 2_000.0
COARSE_FROM_M = 10 * COARSE_M
"""A coarse reference has the centre of a place; a slip is believed of a difference ten times as large."""
_COARSE_MEDIAN_M = 200.0
"""A reference is coarse if more than half of its points lie further from where the checked set has them."""
TRUSTED_CODES = 0.8
"""Codes speak for a point only where at least this share of the settled points kept theirs."""
_SETTLED_TO_TRUST = 10
NAMESAKE_M = 50_000.0
"""A name alone, with no slip that explains the difference, makes no counterpart of places further apart."""
NEAR_M = 10_000.0
"""Below this distance places lie together for other reasons than chance: a town and its aerodrome."""
_NOT_SURE_OF = 10.0
"""So many points must be without counterpart before their neighbours say much of how crowded the ground is."""
ALIKE_PERCENT = 50.0
"""From this likeness of names on a point that does not say what it is may be meant by a list of aerodromes."""

Rank = tuple[int, float, float, int, tuple[str, str, float, float]]


class MatchedBy(StrEnum):
    """What makes the two counterparts of each other."""

    IDENTITY = "identity"
    CODE_AND_NAME = "code-and-name"
    NAME = "name"
    CODE = "code"
    POSITION = "position"
    COORDINATES = "coordinates"


@dataclass(frozen=True, slots=True)
class Counterpart:
    """A checked point and its counterpart, by index. `slip` explains the difference, None where no single one does.

    `fit_e7` is how much the slip may leave over on either coordinate (1e-7 degree); `sits_on` is the
    reference's other point at whose position the checked one stands (rows mixed up). `rivals` is how many points of
    the reference the coordinates could have met, `crowding` how many strangers lie about as near, or, of points that
    are the same, how many differ by as much for other reasons, for each that a slip explains.
    """

    index: int
    other_index: int
    how: MatchedBy
    distance_m: float
    slip: Slip | None = None
    fit_e7: int = TOLERANCE_E7
    sits_on: int | None = None
    rivals: int = 1
    crowding: float = 1.0

    @property
    def is_close_fit(self) -> bool:
        """Say whether the slip leaves no more than 0.02 minutes on either coordinate."""
        return self.fit_e7 <= TOLERANCE_E7


@dataclass(frozen=True, slots=True)
class Counterparts:
    """What one reference says: `settled` pairs are the same place, `apart` ones differ by more than 300 m."""

    reference: Reference
    settled: dict[int, int]
    apart: tuple[Counterpart, ...]


def find_counterparts(reference: Reference, checked: Sequence[Waypoint]) -> Counterparts:
    """Return the counterparts of `checked` in the reference."""
    return _Finder(reference, checked).run()


def _may_be_aerodrome(point: Waypoint) -> bool:
    return point.landable is Landable.AERODROME or (point.landable is None and point.feature is None)


def name_likeness_percent(one: str, other: str) -> float:
    """Return how alike two names are, 0 to 100, whatever the order of their words."""
    from rapidfuzz import fuzz

    return float(fuzz.token_sort_ratio(fold(one), fold(other)))


def _with_crowding(apart: Sequence[Counterpart]) -> list[Counterpart]:
    """Return the pairs with how many differences of about that size no slip explains, for each one that a slip does."""
    named = [one for one in apart if one.how is not MatchedBy.COORDINATES]
    explained, rest = (
        sorted(one.distance_m for one in named if (one.slip is None) is is_rest) for is_rest in (False, True)
    )

    def around(metres: Sequence[float], distance_m: float) -> int:
        return bisect_right(metres, 2.0 * distance_m) - bisect_left(metres, 0.5 * distance_m)

    return [
        one
        if one.how is MatchedBy.COORDINATES or one.slip is None
        else replace(one, crowding=around(rest, one.distance_m) / around(explained, one.distance_m))
        for one in apart
    ]


class _Finder:
    """One run: what is settled, what is apart, and what is still without counterpart on either side."""

    def __init__(self, reference: Reference, checked: Sequence[Waypoint]) -> None:
        self.reference = reference
        self.theirs = reference.waypoints
        self.mine = checked
        self.settled: dict[int, int] = {}
        self.apart: list[Counterpart] = []
        self.is_coarse = False
        self.joined: dict[tuple[int, int], Slip] = {}
        """The slips by which coordinates alone join two points, which a name or code may join as well."""

    def run(self) -> Counterparts:
        self._match()
        taken = {*self.settled, *(found.index for found in self.apart)}
        gone = {*self.settled.values(), *(found.other_index for found in self.apart)}
        self.left = [index for index in range(len(self.mine)) if index not in taken]
        # In order of code, so that of two equal ones the same is taken however the reference is ordered.
        self.right = sorted(set(range(len(self.theirs))) - gone, key=self._order)
        if self.reference.kind == "airports":
            # A list of aerodromes has no counterpart for a bridge, nor for a field.
            self.left = [k for k in self.left if _may_be_aerodrome(self.mine[k])]
        if self.left and self.right:
            self._settle_near()
            self._join_leftovers()
        apart = sorted(_with_crowding(self.apart), key=lambda found: found.index)
        return Counterparts(self.reference, self.settled, tuple(self._mixed_up(apart)))

    def _match(self) -> None:
        """Take what matching the two catalogues gives: the near pairs are settled, the far ones apart."""
        # Pairs that agree in all are what matching would give, and nearly all there is: they need no rounds.
        at = {point.code: index for index, point in enumerate(self.theirs)}
        mine, theirs = [], set(range(len(self.theirs)))
        for index, point in enumerate(self.mine):
            other = at.get(point.code)
            if other is not None:
                twin = self.theirs[other]
                is_same = twin.position == point.position and twin.name == point.name
                if is_same and (twin.identity == point.identity or None in (twin.identity, point.identity)):
                    self.settled[index] = other
                    theirs.discard(other)
                    continue
            mine.append(index)
        rest = sorted(theirs)
        matching = match_waypoints([self.theirs[k] for k in rest], [self.mine[k] for k in mine])
        self._take(matching, rest, mine)

    def _take(self, matching: Matching, theirs: Sequence[int], mine: Sequence[int]) -> None:
        near = [pair.distance_m for pair in matching.pairs if pair.distance_m < COARSE_FROM_M]
        self.is_coarse = not self.settled and len(near) >= _SETTLED_TO_TRUST and median(near) > _COARSE_MEDIAN_M
        for pair in matching.pairs:
            index, other = mine[pair.new_index], theirs[pair.old_index]
            if pair.distance_m <= MEASURED_AGAIN_WITHIN_M:
                self.settled[index] = other
            else:
                self._add(index, other, MatchedBy(pair.round.value), pair.distance_m)

    def _add(self, index: int, other: int, how: MatchedBy, distance_m: float) -> None:
        self.apart.append(self._explained(index, other, how, distance_m))

    def _explained(self, index: int, other: int, how: MatchedBy, distance_m: float) -> Counterpart:
        """Return the pair with the slip that explains it: closely, with what measuring again may leave over, or, of a
        coarse reference, with what the centre of a place may be off where that is little beside the difference.
        """
        point, twin = self.mine[index], self.theirs[other]
        wide = wide_e7(point.position)
        fits = [TOLERANCE_E7]
        if distance_m > LOOSE_FROM_M:
            fits.append(wide)
        if self.is_coarse and distance_m > COARSE_FROM_M:
            fits.append(int(wide * COARSE_M / WIDE_M))
        slip = self.joined.get((index, other)) if distance_m > LOOSE_FROM_M else None
        slip = slip or explain_difference(point.position, twin.position, point.typed, *fits)
        if slip is None:
            return Counterpart(index, other, how, distance_m)
        left_e7 = left_over_e7(slip, twin.position)
        return Counterpart(index, other, how, distance_m, slip, fit_e7=next(fit for fit in fits if left_e7 <= fit))

    def _settle_near(self) -> None:
        """Settle leftovers that are each other's nearest within 300 m: measured again under new code and name."""
        mine, theirs = self._places(self.mine, self.left), self._places(self.theirs, self.right)
        there, metres = nearest_m(mine, theirs, MEASURED_AGAIN_WITHIN_M)
        back, _ = nearest_m(theirs, mine, MEASURED_AGAIN_WITHIN_M)
        near = [
            (k, int(there[k]))
            for k in range(len(self.left))
            if there[k] >= 0 and back[there[k]] == k and metres[k] <= MEASURED_AGAIN_WITHIN_M
        ]
        self.settled.update({self.left[k]: self.right[j] for k, j in near})
        lost, gone = {k for k, _ in near}, {j for _, j in near}
        self.left = [index for k, index in enumerate(self.left) if k not in lost]
        self.right = [index for j, index in enumerate(self.right) if j not in gone]

    @staticmethod
    def _places(waypoints: Sequence[Waypoint], indexes: Sequence[int]) -> Points:
        return Points.of([waypoints[index].position for index in indexes])

    def _join_leftovers(self) -> None:
        """Join by coordinates alone, by name and by code; of several the best explained wins, one to one."""
        found: list[tuple[Rank, Counterpart]] = []
        joins = join_by_slips([self.mine[k] for k in self.left], [self.theirs[k] for k in self.right])
        self.joined = {(self.left[join.index], self.right[join.other_index]): join.slip for join in joins}
        strangers = self._strangers_m({(join.index, join.other_index) for join in joins})
        for join in joins:
            if self._may_be_one(self.left[join.index], self.right[join.other_index]):
                found.append(self._ranked(self._joined(join, strangers)))
        for how, index, other in (*self._same_names(), *self._same_codes()):
            point, twin = self.mine[index], self.theirs[other]
            apart = distance_m(point.position, twin.position)
            if apart > MEASURED_AGAIN_WITHIN_M:
                one = self._explained(index, other, how, apart)
                if one.slip is not None or self._speaks(how, index, other, apart):
                    found.append(self._ranked(one))
        mine: set[int] = set()
        theirs: set[int] = set()
        for _, one in sorted(found, key=lambda ranked: ranked[0]):
            if one.index not in mine and one.other_index not in theirs:
                mine.add(one.index)
                theirs.add(one.other_index)
                self.apart.append(one)

    def _may_be_one(self, index: int, other: int) -> bool:
        """Say whether two places without a common name or code may be one: a town is no aerodrome.

        A list of aerodromes says so of all its points; a point that says nothing must at least be named alike.
        """
        point, twin = self.mine[index], self.theirs[other]
        is_field = [one.landable is Landable.AERODROME for one in (point, twin)]
        if is_field[0] != is_field[1]:
            lesser = twin if is_field[0] else point
            if lesser.landable is Landable.NO or lesser.feature is not None:
                return False
        if self.reference.kind == "airports" and not is_field[0]:
            return name_likeness_percent(point.name, twin.name) >= ALIKE_PERCENT
        return True

    def _strangers_m(self, explained: set[tuple[int, int]]) -> list[float]:
        """Return how far the nearest leftover of the reference lies from each point that no slip explains it for."""
        mine, theirs = self._places(self.mine, self.left), self._places(self.theirs, self.right)
        there, metres = nearest_m(mine, theirs, 2.0 * NEAR_M)
        return sorted(
            float(metres[k]) for k in range(len(self.left)) if there[k] >= 0 and (k, int(there[k])) not in explained
        )

    def _joined(self, join: SlipJoin, strangers_m: Sequence[float]) -> Counterpart:
        index, other = self.left[join.index], self.right[join.other_index]
        apart = distance_m(self.mine[index].position, self.theirs[other].position)
        return Counterpart(
            index,
            other,
            MatchedBy.COORDINATES,
            apart,
            join.slip,
            fit_e7=TOLERANCE_E7 if join.residual_e7 <= TOLERANCE_E7 else WIDE_E7,
            rivals=self._rivals,
            crowding=(bisect_right(strangers_m, 2.0 * apart) + 0.5) / (len(self.left) + _NOT_SURE_OF),
        )

    def _ranked(self, one: Counterpart) -> tuple[Rank, Counterpart]:
        is_named = one.how is not MatchedBy.COORDINATES
        rank = 3 if one.slip is None else 0 if is_named else 1 if one.is_close_fit else 2
        cost = one.slip.cost if one.slip else 0.0
        return (rank, cost, one.distance_m, one.index, self._order(one.other_index)), one

    def _order(self, other: int) -> tuple[str, str, float, float]:
        twin = self.theirs[other]
        return twin.code, twin.name, twin.position.latitude_deg, twin.position.longitude_deg

    def _same_names(self) -> list[tuple[MatchedBy, int, int]]:
        """Return the leftovers that bear one name on both sides: of several the nearest is meant."""
        named: dict[str, list[int]] = {}
        for other in self.right:
            named.setdefault(fold(self.theirs[other].name), []).append(other)
        found = []
        for index in self.left:
            others = named.get(fold(self.mine[index].name), [])
            if others and self.mine[index].name:
                here = self.mine[index].position
                nearest = min(others, key=lambda other: distance_m(here, self.theirs[other].position))
                found.append((MatchedBy.NAME, index, nearest))
        return found

    def _same_codes(self) -> list[tuple[MatchedBy, int, int]]:
        at = {self.theirs[other].code: other for other in self.right}
        codes = [(MatchedBy.CODE, index, at.get(self.mine[index].code, -1)) for index in self.left]
        return [found for found in codes if found[2] >= 0]

    def _speaks(self, how: MatchedBy, index: int, other: int, distance_m: float) -> bool:
        """Say whether name or code alone, without a slip that explains the difference, makes a counterpart.

        The same name is not the same place, and a renumbered list gives nearly every code to another place.
        """
        if how is MatchedBy.CODE:
            return self._codes_are_kept
        if distance_m > NAMESAKE_M:
            return False
        name = fold(self.mine[index].name)
        return self._names[name] == 1 and self._their_names[name] == 1

    @cached_property
    def _rivals(self) -> int:
        """Return how many of the reference's leftovers lie where the checked set does."""
        latitudes, longitudes = (
            sorted(getattr(point.position, name) for point in self.mine) for name in ("latitude_deg", "longitude_deg")
        )
        low, high = len(self.mine) // 20, len(self.mine) - 1 - len(self.mine) // 20
        return sum(
            latitudes[low] <= place.latitude_deg <= latitudes[high]
            and longitudes[low] <= place.longitude_deg <= longitudes[high]
            for place in (self.theirs[other].position for other in self.right)
        )

    @cached_property
    def _codes_are_kept(self) -> bool:
        kept = sum(self.mine[a].code == self.theirs[b].code for a, b in self.settled.items())
        return len(self.settled) >= _SETTLED_TO_TRUST and kept >= TRUSTED_CODES * len(self.settled)

    @cached_property
    def _names(self) -> Counter[str]:
        return Counter(fold(point.name) for point in self.mine)

    @cached_property
    def _their_names(self) -> Counter[str]:
        return Counter(fold(point.name) for point in self.theirs)

    def _mixed_up(self, apart: list[Counterpart]) -> list[Counterpart]:
        """Add at whose place the unexplained ones stand: rows of a list that were mixed up."""
        unexplained = [one for one in apart if one.slip is None]
        if not unexplained:
            return apart
        mine = self._places(self.mine, [one.index for one in unexplained])
        there, _ = nearest_m(mine, self._places(self.theirs, range(len(self.theirs))), SAME_SPOT_WITHIN_M)
        if (there < 0).all():
            return apart
        everyone = sorted(range(len(self.theirs)), key=self._order)
        there, metres = nearest_m(mine, self._places(self.theirs, everyone), SAME_SPOT_WITHIN_M)
        spots = {
            one.index: everyone[int(there[k])]
            for k, one in enumerate(unexplained)
            if there[k] >= 0 and metres[k] <= SAME_SPOT_WITHIN_M and everyone[int(there[k])] != one.other_index
        }
        return [
            one
            if one.index not in spots
            else Counterpart(one.index, one.other_index, one.how, one.distance_m, None, sits_on=spots[one.index])
            for one in apart
        ]
