"""The best of many courses that arrive in blocks: counted whole, and only so many kept that memory stays bounded."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from itertools import islice

import numpy as np

from taskdb.core.proposing.apart import Bools, Floats, Ints, that_differ
from taskdb.core.proposing.blocks import Block
from taskdb.core.proposing.courses import Courses
from taskdb.core.proposing.judging import Judge, comes_first

MOST_KEPT = 500_000
"""So many courses with their scores are 25 MB; ten that differ are found among far fewer."""


@dataclass(frozen=True)
class Shown:
    """The courses that are shown, the best first, with their scores, figures and values by criterion.

    `total` were found, and the `compared` best of them held against each other. `usual` are the mean values of all,
    `unknown` says by criterion of how many the figure is not known.
    """

    total: int
    compared: int
    block: Block
    scores: Floats
    figures: Mapping[str, Floats]
    values: Mapping[str, Floats]
    usual: Mapping[str, float]
    unknown: Mapping[str, int]


def best_that_differ(
    found: Iterable[Courses],
    judge: Judge,
    *,
    apart_m: float,
    limit: int,
    suits: Callable[[tuple[int, ...]], bool] | None = None,
    most_tried: int = 0,
) -> Shown:
    """Return the best courses of which no two part by less than `apart_m`, at most `limit`; all are counted.

    Best first: each next one is the best of those that differ enough from all before it. They are chosen by quick
    figures, and shown with measured ones, in order of the scores that follow from these. `suits` is asked of up to
    `most_tried` of them, by their turn points, in that order; those that do not suit are left out. What is like them is
    not tried either: it hardly suits more, and a question takes long.
    """
    best, usual = _Best(), _Means()
    for courses in found:
        judged = judge.judge(Block.of(courses), courses.both_ways)
        is_kept = judge.admits(judged.block)
        best.offer(judged.block.only(is_kept), judged.scores[is_kept])
        usual.add({name: value[is_kept] for name, value in judged.values.items()})
    kept = best.in_order()
    if kept is None:
        return Shown(0, 0, _NOTHING, np.zeros(0), {}, {}, {}, {})
    different = that_differ(
        judge.given.places, kept.turns, apart_m, lambda row: judge.admits_measured(kept.turns[row].tolist())
    )
    if suits is not None:
        tried = islice(different, most_tried)
        different = (row for row in tried if suits(tuple(kept.turns[row].tolist())))
    block = kept.only(list(islice(different, limit)))
    figures = judge.measured(block)
    values = judge.values(block, figures)
    scores = judge.score(values, len(block))
    order = np.argsort(-np.round(scores, 9), kind="stable")
    return Shown(
        total=best.total,
        compared=len(kept),
        block=block.only(order),
        scores=scores[order],
        figures={name: figure[order] for name, figure in figures.items()},
        values={name: value[order] for name, value in values.items()},
        usual=usual.means(),
        unknown=usual.unknown(best.total),
    )


def every_one(found: Iterable[Courses], admits: Callable[[Block], Bools], most: int) -> tuple[int, Block | None]:
    """Return how many courses there are, and all of them in order of their turn points; None for more than `most`.

    A course that may be flown either way round is listed from the turn point that comes first.
    """
    kept: list[Block] = []
    total = 0
    for courses in found:
        block = Block.of(courses)
        block = block.turned_where(courses.both_ways & comes_first(block.turned_round, block))
        block = block.only(admits(block))
        total += len(block)
        if total > most:
            kept = []
        else:
            kept.append(block)
    if not kept:
        return total, _NOTHING if total == 0 else None
    block = Block.joined(kept)
    return total, block.only(np.lexsort(block.turns.T[::-1]))


_NOTHING = Block(np.zeros((0, 1), dtype=np.int32), np.zeros(0), np.zeros(0), np.zeros(0))


class _Best:
    """The courses with the highest scores of all that were offered; ties go by the numbers of their turn points."""

    def __init__(self) -> None:
        self.total = 0
        self._blocks: list[Block] = []
        self._scores: list[Floats] = []
        self._held = 0

    def offer(self, block: Block, scores: Floats) -> None:
        """Take courses with their scores."""
        self.total += len(block)
        self._held += len(block)
        self._blocks.append(block)
        self._scores.append(scores)
        if self._held > 2 * MOST_KEPT:
            self._sort()

    def in_order(self) -> Block | None:
        """Return those that are kept, the best first; None where none was offered."""
        if self.total:
            self._sort()
        return self._blocks[0] if self.total else None

    def _sort(self) -> None:
        block, scores = Block.joined(self._blocks), np.concatenate(self._scores)
        # Scores that differ by less than any scale can mean are a tie: machines may add in another order.
        order: Ints = np.lexsort((*block.turns.T[::-1], -np.round(scores, 9)))[:MOST_KEPT]
        self._blocks, self._scores, self._held = [block.only(order)], [scores[order]], len(order)


class _Means:
    """The means of values that arrive in blocks, over those that are known."""

    def __init__(self) -> None:
        self._sums: dict[str, float] = {}
        self._counts: dict[str, int] = {}

    def add(self, values: Mapping[str, Floats]) -> None:
        for name, value in values.items():
            self._sums[name] = self._sums.get(name, 0.0) + float(np.nansum(value))
            self._counts[name] = self._counts.get(name, 0) + int(np.count_nonzero(~np.isnan(value)))

    def means(self) -> dict[str, float]:
        """Return the means by name; of what is known of none nothing."""
        return {name: total / self._counts[name] for name, total in self._sums.items() if self._counts[name]}

    def unknown(self, total: int) -> dict[str, int]:
        """Return by name of how many of all nothing is known, where there are any."""
        return {name: total - count for name, count in self._counts.items() if count < total}
