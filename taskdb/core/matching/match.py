"""Matching one catalogue to another, one to one, in rounds over what is still unmatched.

A code alone never matches: a list renumbered by inserting one row gives almost every code to another place. The
whole old catalogue is matched to the whole new one, and every match tells the round that made it.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import islice

from taskdb.core.asked_for import AskedFor
from taskdb.core.geodesy import distance_m
from taskdb.core.matching.limits import FAR_APART_M, SAME_NAME_WITHIN_M, SAME_SPOT_WITHIN_M
from taskdb.core.matching.nearness import Nearby, Xyz
from taskdb.core.matching.renamed import find_renamed
from taskdb.core.matching.sides import (
    Key,
    Listed,
    Side,
    by_code,
    by_identity,
    by_name,
    grouped,
    in_parts,
    keyed,
    no_key,
    unique,
)
from taskdb.core.model import Position, Waypoint
from taskdb.core.names import fold_german

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


_ROUNDS = tuple(MatchRound)


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

    pairs: Sequence[Match]
    unmatched_old: tuple[int, ...]
    unmatched_new: tuple[int, ...]
    undecided: tuple[Undecided, ...] = ()

    @staticmethod
    def nothing(old_count: int, new_count: int) -> Matching:
        """Return the matching in which nothing is matched."""
        return Matching((), tuple(range(old_count)), tuple(range(new_count)))


class Pairs(AskedFor[Match]):
    """Matches in 17 bytes each, made into values only when one is asked for. They can be added at the end."""

    __slots__ = ("_distances_m", "_rounds", "new", "old")

    def __init__(self) -> None:
        self.old, self.new = array("i"), array("i")
        self._rounds = bytearray()
        self._distances_m = array("d")

    def add(self, old: int, new: int, made_by: MatchRound, distance_m: float) -> None:
        """Add a match."""
        self.old.append(old)
        self.new.append(new)
        self._rounds.append(_ROUNDS.index(made_by))
        self._distances_m.append(distance_m)

    def in_order(self) -> Pairs:
        """Return them in order of the old sequence."""
        order = sorted(range(len(self)), key=self.old.__getitem__)
        made = Pairs()
        made.old.extend(map(self.old.__getitem__, order))
        made.new.extend(map(self.new.__getitem__, order))
        made._rounds.extend(map(self._rounds.__getitem__, order))
        made._distances_m.extend(map(self._distances_m.__getitem__, order))
        return made

    def __len__(self) -> int:
        return len(self.old)

    def _item(self, index: int) -> Match:
        return Match(self.old[index], self.new[index], _ROUNDS[self._rounds[index]], self._distances_m[index])


def match_waypoints(old: Sequence[Waypoint], new: Sequence[Waypoint], *, nearby: bool = False) -> Matching:
    """Match `old` to `new`, one to one, by the rounds of MatchRound; near-linear in their size.

    Identity, and code with folded name, match over any distance: whoever uses the result decides what a match over
    1 km means. Where a key is not unique on a side (two rows with one code), that round passes over it. `nearby` asks
    for its last round: both must be whole lists, since what lies about decides.
    """
    matching = _Matcher(Listed.of(old), Listed.of(new)).run(nearby=nearby)
    return Matching(tuple(matching.pairs), matching.unmatched_old, matching.unmatched_new, matching.undecided)


def match_listed(old: Listed, new: Listed) -> Matching:
    """Do what `match_waypoints` does with lists by column, of a million rows too; numbers are those of their rows."""
    return _Matcher(old, new).run(nearby=False)


class _Matcher:
    """One run of the rounds."""

    def __init__(self, old: Listed, new: Listed) -> None:
        self.old = Side(old)
        self.new = Side(new)
        self.pairs = Pairs()

    def run(self, *, nearby: bool) -> Matching:
        if self.old.identities is not None and self.new.identities is not None:
            self._take(MatchRound.IDENTITY, self._same(by_identity))
        self._take(MatchRound.CODE_AND_NAME, self._same_code_and_name())
        self._take(MatchRound.NAME, self._same_name_near())
        self._take(MatchRound.POSITION, self._same_place())
        self._take(MatchRound.CODE, self._same_code_and_nearest())
        if nearby:
            self._take(MatchRound.NEARBY, self._near_under_another_name())
        undecided = self._undecided()
        return Matching(self.pairs.in_order(), tuple(self.old.open), tuple(self.new.open), undecided)

    def _take(self, made_by: MatchRound, found: Iterable[tuple[int, int]]) -> None:
        first = len(self.pairs)
        for i, j in found:
            self.pairs.add(i, j, made_by, self._distance_m(i, j))
        if len(self.pairs) > first:
            self.old.close(self.pairs.old[first:])
            self.new.close(self.pairs.new[first:])

    def _distance_m(self, i: int, j: int) -> float:
        a, b = self.old.position(i), self.new.position(j)
        return 0.0 if a == b else distance_m(a, b)

    def _same(self, key: Key) -> Iterator[tuple[int, int]]:
        for mine, theirs in in_parts(self.old, self.new, key):
            others = unique(theirs)
            for value, i in unique(mine).items():
                if value in others:
                    yield i, others[value]

    def _same_code_and_name(self) -> Iterator[tuple[int, int]]:
        for some_old, some_new in in_parts(self.old, self.new, by_code):
            theirs = grouped(some_new)
            for code, mine in grouped(some_old).items():
                others = theirs.get(code, [])
                for i in mine:
                    fitting = [j for j in others if self._same_name(i, j)]
                    rivals = [k for k in mine if k != i and fitting and self._same_name(k, fitting[0])]
                    if len(fitting) == 1 and not rivals:
                        yield i, fitting[0]

    def _same_name(self, i: int, j: int) -> bool:
        mine, theirs = self.old.names[i], self.new.names[j]
        if mine == theirs:  # folding costs; names that are equal letter for letter need none
            return bool(mine)
        if self.old.name(i) == self.new.name(j):
            return bool(self.old.name(i))
        return not (mine.isascii() and theirs.isascii()) and fold_german(mine) == fold_german(theirs)

    def _same_name_near(self) -> Iterator[tuple[int, int]]:
        if not self.old.open or not self.new.open:
            return
        for mine, theirs in in_parts(self.old, self.new, by_name):
            news_of = grouped(theirs)
            repeated: tuple[list[int], list[int]] = ([], [])
            for name, olds in grouped(mine).items():
                news = news_of.get(name)
                if news is None:
                    continue
                if len(olds) > 1 or len(news) > 1:
                    repeated[0].extend(olds)
                    repeated[1].extend(news)
                elif self._distance_m(olds[0], news[0]) <= SAME_NAME_WITHIN_M:
                    yield olds[0], news[0]
            yield from self._only_ones_near(SAME_NAME_WITHIN_M, *repeated, mine.__getitem__, theirs.__getitem__)

    def _same_place(self) -> list[tuple[int, int]]:
        return self._only_ones_near(SAME_SPOT_WITHIN_M, self.old.open, self.new.open)

    def _only_ones_near(
        self,
        limit_m: float,
        mine: Sequence[int],
        theirs: Sequence[int],
        my_key: Callable[[int], Hashable] = no_key,
        their_key: Callable[[int], Hashable] = no_key,
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
        near = [(i, j, off) for i, j in self._same(by_code) if (off := self._distance_m(i, j)) <= FAR_APART_M]
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
        old, new = ([side.waypoint(row) for row in side.open] for side in sides)
        everything = (side.position(row) for side in sides for row in range(len(side.codes)))
        return [(self.old.open[i], self.new.open[j]) for i, j, _ in find_renamed(old, new, everything)]

    def _undecided(self) -> tuple[Undecided, ...]:
        """Return the leftovers with a candidate, by the strongest reason that has one."""
        if not self.old.open or not self.new.open:
            return ()
        folded = keyed(self.new, self.new.open, by_name)
        names = self.new.nearby(SAME_NAME_WITHIN_M, folded, folded.__getitem__)
        places = self.new.nearby(SAME_SPOT_WITHIN_M, self.new.open)
        codes = grouped(keyed(self.new, self.new.open, by_code))
        found = []
        for i in self.old.open:
            position, at = self.old.position(i), self.old.point(i)
            for why, hits in (
                (WhyUndecided.SAME_NAME, (j for j, _ in names.within(position, self.old.name(i), at=at))),
                (WhyUndecided.SAME_PLACE, (j for j, _ in places.within(position, at=at))),
                (WhyUndecided.SAME_CODE, iter(codes.get(self.old.codes[i], ()))),
            ):
                candidates = tuple(sorted(islice(hits, MOST_CANDIDATES)))
                if candidates:
                    found.append(Undecided(i, candidates, why))
                    break
        return tuple(found)


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
