"""What speaks for each of many courses: their figures by the criteria, the values of these, and one score.

A criterion without what it needs is left out and named with its reason; it never counts as good or bad. A figure that
is not known of one course (NaN) leaves it out for that course alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from taskdb.core.model import TriangleRules
from taskdb.core.proposing.apart import Bools, Floats
from taskdb.core.proposing.blocks import Block, Figure, Given
from taskdb.core.proposing.criteria import BY_NAME, INTO_WIND, OUT_OF_REACH, SHORT_LEG_SHARE, WIND_HOME, Criterion, Per
from taskdb.core.proposing.figures import figures_of


@dataclass(frozen=True, slots=True)
class Judged:
    """Courses in the better of their two directions, with their scores and, by criterion, their values from 0 to 1."""

    block: Block
    scores: Floats
    values: Mapping[str, Floats]


class Judge:
    """Judges courses by the criteria that have a weight and what they need; `left_out` says why others do not count."""

    def __init__(self, given: Given, weights: Mapping[str, float]) -> None:
        self.given = given
        self.left_out: dict[str, str] = {}
        self._figures: dict[str, Figure] = {}
        for name, made in figures_of(given).items():
            if weights[name] == 0:
                self.left_out[name] = "its weight is 0"
            elif isinstance(made, str):
                self.left_out[name] = given.missing.get(name, made)
            else:
                self._figures[name] = made
        self.weights = {name: weights[name] for name in self._figures}

    def figures(self, block: Block) -> dict[str, Floats]:
        """Return the figures of courses as they are flown, by criterion; NaN where one is not known of a course."""
        return {name: figure(block) for name, figure in self._figures.items()}

    def measured(self, block: Block) -> dict[str, Floats]:
        """Return the figures of a few courses, each measured by itself where the figures of many are quick ones."""
        figures = self.figures(block)
        for name in self.given.exact:
            if name in figures:
                figures[name] = np.array([self._exact(name, row) for row in block.turns.tolist()])
        return figures

    def _exact(self, name: str, turns: Sequence[int]) -> float:
        places = self.given.places.positions
        return self.given.exact[name](tuple(places[n] for n in (-1, *turns, -1)))

    def admits_measured(self, turns: Sequence[int]) -> bool:
        """Say whether a single course is not too far out of reach as it is measured by itself."""
        most = self.given.most_out_m
        return most is None or self._exact(OUT_OF_REACH, turns) <= most

    def admits(self, block: Block) -> Bools:
        """Say which courses are not too far out of reach by quick figures; one of which that is not known is."""
        most, table = self.given.most_out_m, self.given.out_of_reach_m
        if most is None or table is None:
            return np.ones(len(block), dtype=np.bool_)
        out: Bools = np.sum([table.of(*leg) for leg in block.legs()], axis=0) <= most
        return out

    def values(self, block: Block, figures: Mapping[str, Floats]) -> dict[str, Floats]:
        """Return the values of figures, from 0 to 1, NaN where the figure is."""
        return {name: self._value(BY_NAME[name], figure, block) for name, figure in figures.items()}

    def score(self, values: Mapping[str, Floats], count: int) -> Floats:
        """Return the weighed mean of the values that are known, for each of `count` courses; 0 where none is."""
        total: Floats = np.zeros(count)
        weights: Floats = np.zeros(count)
        for name, value in values.items():
            known = ~np.isnan(value)
            total = total + np.where(known, value, 0.0) * self.weights[name]
            weights = weights + known * self.weights[name]
        scores: Floats = total / np.maximum(weights, 1e-12)
        return scores

    def judge(self, block: Block, both_ways: Bools) -> Judged:
        """Return the courses in their better directions; only those `both_ways` may be turned round.

        Of two directions that are equal the one whose first turn point comes first in the list.
        """
        turned = block.turned_round
        ahead = self.values(block, self.figures(block))
        directed = {name: figure(turned) for name, figure in self._figures.items() if BY_NAME[name].is_directed}
        back = {**ahead, **self.values(turned, directed)}
        there, round_ = (self.score(values, len(block)) for values in (ahead, back))
        is_turned = both_ways & ((round_ > there) | ((round_ == there) & comes_first(turned, block)))
        values = {name: np.where(is_turned, back[name], value) for name, value in ahead.items()}
        return Judged(block.turned_where(is_turned), np.where(is_turned, round_, there), values)

    def _value(self, criterion: Criterion, figure: Floats, block: Block) -> Floats:
        per = self._per(criterion.per, block)
        value: Floats = np.clip((figure / per - criterion.worst) / (criterion.best - criterion.worst), 0.0, 1.0)
        if criterion.name not in (INTO_WIND, WIND_HOME):
            return value
        leg = block.legs()[0 if criterion.name == INTO_WIND else -1]
        counts = np.minimum(self.given.lengths_m.of(*leg) / (SHORT_LEG_SHARE * block.length_m), 1.0)
        return 0.5 + (value - 0.5) * counts

    def _per(self, per: Per, block: Block) -> Floats | float:
        if per is Per.TURN_POINT:
            return float(block.turns.shape[1])
        if per is Per.METRE:
            return block.length_m
        if per is Per.WIDEST_MARGIN:
            return widest_margin_percent(block.length_m, self.given.triangle)
        return 1.0


def comes_first(block: Block, other: Block) -> Bools:
    """Say which courses of a block have a first turn point that comes before that of the other block's in the list."""
    first: Bools = block.turns[:, 0] < other.turns[:, 0]
    return first


def widest_margin_percent(length_m: Floats, rules: TriangleRules) -> Floats:
    """Return how far inside its limits a triangle of such a length can be: with three sides alike, percent points."""
    third = 100 / 3
    large = min(third - rules.large_shortest_percent, rules.large_longest_percent - third)
    widest: Floats = np.where(length_m >= rules.large_from_m, large, third - rules.small_shortest_percent)
    return np.maximum(widest, 1e-9)
