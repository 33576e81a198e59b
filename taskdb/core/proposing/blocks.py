"""Courses in blocks of arrays, and what is known of the day and the land by which they are judged."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from itertools import pairwise
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from taskdb.core.kinds import HomeAt, ProposedShape
from taskdb.core.model import Position, TriangleRules, Waypoint
from taskdb.core.proposing.apart import Bools, Floats, Ints, Places
from taskdb.core.proposing.legs import LegTable

if TYPE_CHECKING:
    from taskdb.core.proposing.courses import Courses
    from taskdb.core.quantities import Wind

Figure = Callable[["Block"], Floats]
OfOneCourse = Callable[[tuple[Position, ...]], float]


@dataclass(frozen=True, slots=True)
class Block:
    """Courses, one a row of `turns`: the numbers of their turn points in the order flown.

    `length_m` is flown from home to home, `perimeter_m` that of a triangle, `margin_percent` how many percent points
    it lies inside the limits of FAI triangles; both NaN of other shapes.
    """

    turns: Ints
    length_m: Floats
    perimeter_m: Floats
    margin_percent: Floats

    @staticmethod
    def of(courses: Courses) -> Block:
        """Return the courses that a search found, in the direction in which it gives them."""
        return Block(courses.turns, courses.length_m, courses.perimeter_m, courses.margin_percent)

    @staticmethod
    def joined(blocks: Sequence[Block]) -> Block:
        """Return the courses of several blocks, at least one, in one."""
        return Block(*(np.concatenate([getattr(block, one.name) for block in blocks]) for one in fields(Block)))

    def __len__(self) -> int:
        """Return how many courses there are."""
        return len(self.turns)

    @property
    def turned_round(self) -> Block:
        """The same courses flown the other way round."""
        return replace(self, turns=self.turns[:, ::-1])

    def only(self, chosen: Any) -> Block:
        """Return some of the courses, in that order: by a mask, numbers or a slice."""
        return Block(*(getattr(self, one.name)[chosen] for one in fields(Block)))

    def legs(self) -> list[tuple[Ints, Ints]]:
        """Return beginnings and ends of the first leg of all courses, of the second, and so on; home is -1."""
        home = np.full(len(self.turns), -1)
        return list(pairwise([home, *self.turns.T, home]))

    def turned_where(self, is_turned: Bools) -> Block:
        """Return the courses, some of them flown the other way round."""
        return replace(self, turns=np.where(is_turned[:, None], self.turns[:, ::-1], self.turns))


@dataclass(frozen=True, slots=True)
class FlownCourse:
    """A course that was flown: its positions, how many months ago it was last, and how many of the starters finished.

    `finishers_percent` is None where it is not known.
    """

    positions: tuple[Position, ...]
    months_ago: float
    finishers_percent: float | None


@dataclass(frozen=True)
class Given:
    """What proposals are judged by. None: it is not known, and `missing` says why by criterion.

    `waypoints` are the turn points in the order of `places`, `inspected_since` is an ISO date. `sun_deg` returns the
    angle between last leg and sun of each course of a block; `lengths_m`, `out_of_reach_m` and `airspace_m` are figures
    of legs. `exact` measures by criterion one course from home to home, where the figures of legs are quick ones.
    Courses that part from a flown one by less than `alike_m` are alike; of `most_out_m` and more out of reach none is
    admitted.
    """

    places: Places
    waypoints: Sequence[Waypoint]
    inspected_since: str
    lengths_m: LegTable
    wind: Wind | None = None
    sun_deg: Figure | None = None
    out_of_reach_m: LegTable | None = None
    airspace_m: LegTable | None = None
    flown: Sequence[FlownCourse] = ()
    alike_m: float = 20_000.0
    shape: ProposedShape = ProposedShape.FAI_TRIANGLE
    start: HomeAt = HomeAt.CORNER
    triangle: TriangleRules = field(default_factory=TriangleRules)
    most_out_m: float | None = None
    exact: Mapping[str, OfOneCourse] = field(default_factory=lambda: MappingProxyType({}))
    missing: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
