"""The groups in which points may have come into a set together: those that share country, source, codes and the like.

Numbers groups, finds their members, and leaves out quickly those that cannot have been misread; judges none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from typing import TYPE_CHECKING, Any

from taskdb.core.packed_waypoints import CodedValues, PackedWaypoints

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Integers = NDArray[np.integer[Any]]

LEAST_PLACES = 6
LEAST_SHARE = 0.55
_RUN = 20
_SLACK = 1e-6


@dataclass(frozen=True)
class _Trait:
    """Something that points share: a number a point, −1 where it has none of it, and the words for a number."""

    number: Integers
    words: Callable[[int], str]


class _Kind:
    """All groups of one kind: `group` numbers each point's, −1 where it is in none; `first` is each group's first."""

    def __init__(self, traits: tuple[_Trait, ...], count: int) -> None:
        import numpy as np

        self.traits = traits
        numbers = np.zeros(count, dtype=np.int64)
        is_in = np.ones(count, dtype=bool)
        for trait in traits:
            numbers = numbers * (int(trait.number.max(initial=0)) + 1) + np.maximum(trait.number, 0)
            is_in &= trait.number >= 0
        self.group = np.full(count, -1, dtype=np.int32)
        _, first, self.group[is_in] = np.unique(numbers[is_in], return_index=True, return_inverse=True)
        self.first = np.flatnonzero(is_in)[first]
        self.points = int(is_in.sum())

    def members(self, group: int) -> Integers:
        """Return the points of a group, in order."""
        order, starts = self._in_order
        return order[starts[group] : starts[group + 1]]

    @cached_property
    def _in_order(self) -> tuple[Integers, Integers]:
        import numpy as np

        order = np.argsort(self.group, kind="stable").astype(np.int32)
        starts = np.searchsorted(self.group[order], np.arange(len(self.first) + 1))
        return order, starts

    def shared(self, group: int) -> str:
        """Return what the points of a group share, in words."""
        one = int(self.first[group])
        return ", ".join(trait.words(int(trait.number[one])) for trait in self.traits) or "the whole set"


class _Runs(_Kind):
    """Runs of codes: every twenty points in a row, from the first or from the eleventh point on."""

    def __init__(self, waypoints: PackedWaypoints, begin: int) -> None:
        import numpy as np

        count = len(waypoints)
        self._codes, self._begin, self._count = waypoints.codes, begin, count
        self.first = np.arange(begin, max(count - LEAST_PLACES + 1, begin), _RUN)
        self.group = ((np.arange(count) - begin) // _RUN).astype(np.int32)
        self.group[self.group >= len(self.first)] = -1
        self.group[:begin] = -1

    def members(self, group: int) -> Integers:
        import numpy as np

        start = int(self.first[group])
        return np.arange(start, min(start + _RUN, self._count))

    def shared(self, group: int) -> str:
        run = self.members(group)
        return f"codes from {self._codes[int(run[0])]} to {self._codes[int(run[-1])]}"


class _Letters(dict[int, "int | None"]):
    """Keeps A to Z in a text that is translated, and nothing else."""

    def __missing__(self, letter: int) -> int | None:
        self[letter] = letter if ord("A") <= letter <= ord("Z") else None
        return self[letter]


_LETTERS = _Letters()


def like_codes(code: str) -> str:
    """Return what points with like codes have in common: the letters among digits, else the first two letters."""
    letters = code.upper().translate(_LETTERS)
    return letters if len(letters) < len(code) else letters[:2]


class RowGroups:
    """Every group of a set by number, in the order in which of equally sure ones the first counts."""

    def __init__(self, waypoints: PackedWaypoints, like: CodedValues[str], decimals: Integers) -> None:
        import numpy as np

        self._kinds = [*_kinds(waypoints, like, decimals), *(_Runs(waypoints, begin) for begin in (0, _RUN // 2))]
        kinds = np.repeat(np.arange(len(self._kinds)), [len(kind.first) for kind in self._kinds])
        first = np.concatenate([kind.first for kind in self._kinds])
        is_run = kinds >= len(self._kinds) - 2
        own = np.concatenate([np.arange(len(kind.first)) for kind in self._kinds])
        order = np.lexsort((kinds, first, is_run))
        self._kind_of, self._own, self._is_run = kinds[order], own[order], is_run[order]
        rank = np.empty(len(order), dtype=np.int64)
        rank[order] = np.arange(len(order))
        ends = np.cumsum([len(kind.first) for kind in self._kinds])[:-1]
        self._ranks = np.split(rank, ends)

    def members(self, group: int) -> Integers:
        """Return the points of a group, in order."""
        kind: _Kind = self._kinds[self._kind_of[group]]
        return kind.members(int(self._own[group]))

    def shared(self, group: int) -> str:
        """Return what the points of a group share, in words."""
        kind: _Kind = self._kinds[self._kind_of[group]]
        return kind.shared(int(self._own[group]))

    def is_run(self, group: int) -> bool:
        """Say whether a group is a run of codes."""
        return bool(self._is_run[group])

    def holding(self, points: Integers) -> Iterator[int]:
        """Yield the groups that hold some of the points."""
        import numpy as np

        for kind, rank in zip(self._kinds, self._ranks, strict=True):
            found = np.unique(kind.group[points])
            yield from rank[found[found >= 0]].tolist()

    def worth_judging(self, says: NDArray[np.bool_], is_readable: NDArray[np.bool_], place: Integers) -> Iterator[int]:
        """Yield the groups of which enough points, and places, that say something are readable."""
        import numpy as np

        for kind, rank in zip(self._kinds, self._ranks, strict=True):
            rows = np.flatnonzero(says & (kind.group >= 0))
            count = len(kind.first)
            some, readable = _counts(kind.group[rows], is_readable[rows], count)
            is_worth = (some >= LEAST_PLACES) & (2.0 * readable >= LEAST_SHARE * some)
            rows = rows[is_worth[kind.group[rows]]]
            if not len(rows):
                continue
            # One place of one group is one number; a place counts as readable by its share.
            spots, at = np.unique(place[rows], return_inverse=True)
            number = kind.group[rows] * np.int64(len(spots)) + at
            pairs, pair_of = np.unique(number, return_inverse=True)
            here, read = _counts(pair_of, is_readable[rows], len(pairs))
            group = pairs // len(spots)
            places = np.bincount(group, minlength=count)
            hits = np.bincount(group, read / here, minlength=count)
            is_worth = (places >= LEAST_PLACES) & (hits + _SLACK >= LEAST_SHARE * places)
            yield from rank[is_worth].tolist()


def _counts(group: Integers, is_readable: NDArray[np.bool_], count: int) -> tuple[Integers, Integers]:
    """Return how many rows each of `count` groups has, and how many of them are readable."""
    import numpy as np

    return np.bincount(group, minlength=count), np.bincount(group[is_readable], minlength=count)


def _kinds(waypoints: PackedWaypoints, like: CodedValues[str], decimals: Integers) -> Iterator[_Kind]:
    """Yield the kinds of groups, those that differ in nothing from an earlier one left out."""
    many = _Trait(decimals, lambda number: f"{number} decimals")
    codes = _Trait(like.numbers, lambda number: f"codes like {like.values[number] or '1'}")
    shared = [codes, *(_stated(waypoints, name) for name in ("country", "source"))]
    pairs = list(combinations(shared, 2))
    wanted: list[tuple[_Trait, ...]] = [(), (many,), *((one,) for one in shared), *((one, many) for one in shared)]
    wanted += [*pairs, *((*pair, many) for pair in pairs)]
    made: dict[frozenset[int], _Kind] = {}
    for traits in wanted:
        kind = _Kind(traits, len(waypoints))
        wider = (made.get(frozenset(map(id, fewer))) for fewer in combinations(traits, max(len(traits) - 1, 0)))
        is_new = not traits or all(
            other is None or (len(other.first), other.points) != (len(kind.first), kind.points) for other in wider
        )
        made[frozenset(map(id, traits))] = kind
        if is_new:
            yield kind


def _stated(waypoints: PackedWaypoints, name: str) -> _Trait:
    import numpy as np

    values = waypoints.column(name)
    number = np.where(values.where(map(bool, values.values)), values.numbers, -1)
    return _Trait(number, lambda number: f"{name} {values.values[number]}")
