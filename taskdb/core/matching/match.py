"""Matching one catalogue to another, one to one, in rounds over what is still unmatched.

A code alone never matches: a list renumbered by inserting one row gives almost every code to another place. The
whole old catalogue is matched to the whole new one, and every match tells the round that made it.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import islice

from taskdb.core.geodesy import distance_m
from taskdb.core.matching.limits import FAR_APART_M, SAME_NAME_WITHIN_M, SAME_SPOT_WITHIN_M
from taskdb.core.matching.nearness import Nearby, Xyz, xyz
from taskdb.core.matching.renamed import find_renamed
from taskdb.core.model import Position, Waypoint
from taskdb.core.names import fold, fold_german

TIE_WITHIN_M = 0.02
"""Two points count as equally near within what a position of 1e-7 degree can tell."""
MOST_CANDIDATES = 50
"""So that thousands of waypoints on one spot do not make millions of candidates."""


class MatchRound(StrEnum):
    """What made a match, in the order in which it is tried."""

    IDENTITY = "identity"
    CODE_AND_NAME = "code-and-name"
    NAME = "name"
    POSITION = "position"
    CODE = "code"
    NEARBY = "nearby"
    """Another code and name near where it stood; only where whole lists are matched, and asked for."""
    MAP = "map"
    """A person said so; never made here."""

    @property
    def witness(self) -> str:
        """What speaks for the match, in one word: identity, code, name, position or map."""
        return {"code-and-name": "code", "nearby": "position"}.get(self.value, self.value)


@dataclass(frozen=True, slots=True)
class Match:
    """Two waypoints that are one: numbers into the old and the new sequence, the round, their geodesic distance."""

    old_index: int
    new_index: int
    round: MatchRound
    distance_m: float


class WhyUndecided(StrEnum):
    """Why an old waypoint that something speaks for was matched to nothing."""

    SAME_NAME = "same-name"
    SAME_PLACE = "same-place"
    SAME_CODE = "same-code"


@dataclass(frozen=True, slots=True)
class Undecided:
    """An unmatched old waypoint with the unmatched new ones that it may be (at most MOST_CANDIDATES of them).

    A person decides, or the waypoint is retired.
    """

    old_index: int
    new_indexes: tuple[int, ...]
    why: WhyUndecided


@dataclass(frozen=True, slots=True)
class Matching:
    """The whole result: pairs in order of the old sequence, and what is left over on either side, in order.

    `undecided` tells of leftovers that something speaks for; each is also in `unmatched_old`.
    """

    pairs: tuple[Match, ...]
    unmatched_old: tuple[int, ...]
    unmatched_new: tuple[int, ...]
    undecided: tuple[Undecided, ...] = ()

    @staticmethod
    def nothing(old_count: int, new_count: int) -> Matching:
        """Return the matching in which nothing is matched."""
        return Matching((), tuple(range(old_count)), tuple(range(new_count)))


def match_waypoints(old: Sequence[Waypoint], new: Sequence[Waypoint], *, nearby: bool = False) -> Matching:
    """Match `old` to `new`, one to one, by the rounds of MatchRound; near-linear in their size.

    Identity, and code with folded name, match over any distance: whoever uses the result decides what a match over
    1 km means. Where a key is not unique on a side (two rows with one code), that round passes over it. `nearby` asks
    for its last round: both must be whole lists, since what lies about decides.
    """
    return _Matcher(old, new).run(nearby=nearby)


def _no_key(_: int) -> Hashable:
    return None


@dataclass(slots=True)
class _Side:
    """One catalogue with what has been computed about it; `open` are the numbers still unmatched, in order."""

    waypoints: Sequence[Waypoint]
    open: list[int]
    folded: dict[int, str]
    points: dict[int, Xyz]

    @staticmethod
    def of(waypoints: Sequence[Waypoint]) -> _Side:
        return _Side(waypoints, list(range(len(waypoints))), {}, {})

    def name(self, index: int) -> str:
        key = self.folded.get(index)
        if key is None:
            key = self.folded[index] = fold(self.waypoints[index].name)
        return key

    def position(self, index: int) -> Position:
        return self.waypoints[index].position

    def point(self, index: int) -> Xyz:
        found = self.points.get(index)
        if found is None:
            found = self.points[index] = xyz(self.waypoints[index].position)
        return found

    def named(self) -> list[int]:
        """Return the open waypoints that have a name to go by."""
        return [index for index in self.open if self.name(index)]

    def nearby(self, limit_m: float, items: Iterable[int], key: Callable[[int], Hashable] = _no_key) -> Nearby:
        grid = Nearby(self.position, self.point, limit_m)
        for index in items:
            grid.add(index, key(index))
        return grid


class _Matcher:
    """One run of the rounds."""

    def __init__(self, old: Sequence[Waypoint], new: Sequence[Waypoint]) -> None:
        self.old = _Side.of(old)
        self.new = _Side.of(new)
        self.pairs: list[Match] = []

    def run(self, *, nearby: bool) -> Matching:
        self._take(MatchRound.IDENTITY, self._same(lambda w: w.identity))
        self._take(MatchRound.CODE_AND_NAME, self._same_code_and_name())
        self._take(MatchRound.NAME, self._same_name_near())
        self._take(MatchRound.POSITION, self._same_place())
        self._take(MatchRound.CODE, self._same_code_and_nearest())
        if nearby:
            self._take(MatchRound.NEARBY, self._near_under_another_name())
        undecided = self._undecided()
        self.pairs.sort(key=lambda pair: pair.old_index)
        return Matching(tuple(self.pairs), tuple(self.old.open), tuple(self.new.open), undecided)

    def _take(self, made_by: MatchRound, found: list[tuple[int, int]]) -> None:
        if not found:
            return
        for i, j in found:
            self.pairs.append(Match(i, j, made_by, self._distance_m(i, j)))
        gone_old, gone_new = {i for i, _ in found}, {j for _, j in found}
        self.old.open = [i for i in self.old.open if i not in gone_old]
        self.new.open = [j for j in self.new.open if j not in gone_new]

    def _distance_m(self, i: int, j: int) -> float:
        a, b = self.old.waypoints[i].position, self.new.waypoints[j].position
        return 0.0 if a == b else distance_m(a, b)

    def _same(self, key: Callable[[Waypoint], Hashable]) -> list[tuple[int, int]]:
        theirs = _unique(self.new, key)
        return [(i, theirs[value]) for value, i in _unique(self.old, key).items() if value in theirs]

    def _same_code_and_name(self) -> list[tuple[int, int]]:
        def key(side: _Side) -> dict[Hashable, list[int]]:
            groups: dict[Hashable, list[int]] = {}
            for index in side.open:
                groups.setdefault(side.waypoints[index].code, []).append(index)
            return groups

        found = []
        theirs = key(self.new)
        for code, mine in key(self.old).items():
            others = theirs.get(code, [])
            for i in mine:
                fitting = [j for j in others if self._same_name(i, j)]
                rivals = [k for k in mine if k != i and fitting and self._same_name(k, fitting[0])]
                if len(fitting) == 1 and not rivals:
                    found.append((i, fitting[0]))
        return found

    def _same_name(self, i: int, j: int) -> bool:
        mine, theirs = self.old.waypoints[i].name, self.new.waypoints[j].name
        if mine == theirs:  # folding costs; names that are equal letter for letter need none
            return bool(mine)
        if self.old.name(i) == self.new.name(j):
            return bool(self.old.name(i))
        return not (mine.isascii() and theirs.isascii()) and fold_german(mine) == fold_german(theirs)

    def _same_name_near(self) -> list[tuple[int, int]]:
        if not self.old.open or not self.new.open:
            return []
        theirs = _grouped(self.new, self.new.named())
        mine = _grouped(self.old, (i for i in self.old.named() if self.old.name(i) in theirs))
        found = []
        repeated: tuple[list[int], list[int]] = ([], [])
        for name, olds in mine.items():
            news = theirs[name]
            if len(olds) > 1 or len(news) > 1:
                repeated[0].extend(olds)
                repeated[1].extend(news)
            elif self._distance_m(olds[0], news[0]) <= SAME_NAME_WITHIN_M:
                found.append((olds[0], news[0]))
        return found + self._only_ones_near(SAME_NAME_WITHIN_M, *repeated, self.old.name, self.new.name)

    def _same_place(self) -> list[tuple[int, int]]:
        return self._only_ones_near(SAME_SPOT_WITHIN_M, self.old.open, self.new.open)

    def _only_ones_near(
        self,
        limit_m: float,
        mine: Sequence[int],
        theirs: Sequence[int],
        my_key: Callable[[int], Hashable] = _no_key,
        their_key: Callable[[int], Hashable] = _no_key,
    ) -> list[tuple[int, int]]:
        """Return the pairs within the limit in which each is the other's only candidate."""
        if not mine or not theirs:
            return []
        old_grid, new_grid = self.old.nearby(limit_m, mine, my_key), self.new.nearby(limit_m, theirs, their_key)
        found = []
        for i in mine:
            j = _only(new_grid, self.old.position(i), self.old.point(i), my_key(i))
            if j is None:
                continue
            if _only(old_grid, self.new.position(j), self.new.point(j), their_key(j)) == i:
                found.append((i, j))
        return found

    def _same_code_and_nearest(self) -> list[tuple[int, int]]:
        near = [(i, j, off) for i, j in self._same(lambda w: w.code) if (off := self._distance_m(i, j)) <= FAR_APART_M]
        if not near:
            return []
        old_grid = self.old.nearby(FAR_APART_M, self.old.open)
        new_grid = self.new.nearby(FAR_APART_M, self.new.open)
        return [
            (i, j)
            for i, j, off in near
            if _is_nearest(new_grid, self.old.position(i), self.old.point(i), j, off)
            and _is_nearest(old_grid, self.new.position(j), self.new.point(j), i, off)
        ]

    def _near_under_another_name(self) -> list[tuple[int, int]]:
        if not self.old.open or not self.new.open:
            return []
        sides = (self.old, self.new)
        old, new = ([side.waypoints[index] for index in side.open] for side in sides)
        everything = (waypoint.position for side in sides for waypoint in side.waypoints)
        return [(self.old.open[i], self.new.open[j]) for i, j, _ in find_renamed(old, new, everything)]

    def _undecided(self) -> tuple[Undecided, ...]:
        """Return the leftovers with a candidate, by the strongest reason that has one."""
        if not self.old.open or not self.new.open:
            return ()
        names = self.new.nearby(SAME_NAME_WITHIN_M, self.new.named(), self.new.name)
        places = self.new.nearby(SAME_SPOT_WITHIN_M, self.new.open)
        codes: dict[str, list[int]] = {}
        for j in self.new.open:
            codes.setdefault(self.new.waypoints[j].code, []).append(j)
        found = []
        for i in self.old.open:
            position, at = self.old.position(i), self.old.point(i)
            for why, hits in (
                (WhyUndecided.SAME_NAME, (j for j, _ in names.within(position, self.old.name(i), at=at))),
                (WhyUndecided.SAME_PLACE, (j for j, _ in places.within(position, at=at))),
                (WhyUndecided.SAME_CODE, iter(codes.get(self.old.waypoints[i].code, ()))),
            ):
                candidates = tuple(sorted(islice(hits, MOST_CANDIDATES)))
                if candidates:
                    found.append(Undecided(i, candidates, why))
                    break
        return tuple(found)


def _unique(side: _Side, key: Callable[[Waypoint], Hashable]) -> dict[Hashable, int]:
    """Return the open waypoints by a key that only they have on their side; those without a key are left out."""
    found: dict[Hashable, int] = {}
    repeated: set[Hashable] = set()
    for index in side.open:
        value = key(side.waypoints[index])
        if value is None:
            continue
        if value in found:
            repeated.add(value)
        found[value] = index
    for value in repeated:
        del found[value]
    return found


def _grouped(side: _Side, items: Iterable[int]) -> dict[str, list[int]]:
    groups: dict[str, list[int]] = {}
    for index in items:
        groups.setdefault(side.name(index), []).append(index)
    return groups


def _only(grid: Nearby, place: Position, at: Xyz, key: Hashable) -> int | None:
    """Return the only item within the grid's limit, or None where there is none or a second: stops at the second."""
    only = None
    for item, _ in grid.within(place, key, at=at):
        if only is not None:
            return None
        only = item
    return only


def _is_nearest(grid: Nearby, place: Position, at: Xyz, item: int, off_m: float) -> bool:
    """Say whether no other item lies as near as `item`, which is `off_m` away: a tie decides nothing."""
    return not any(other != item and off <= off_m + TIE_WITHIN_M for other, off in grid.within(place, at=at))
