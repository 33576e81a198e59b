"""Where a set and its references disagree about a place: who says what, and on which side the fault is likely to be.

A reference has faults too: two sources that agree speak against the third, and so does a country left by one side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from taskdb.core.checks.counterparts import APART_M, Counterpart, Counterparts
from taskdb.core.checks.outlines import Outlines, distance_to_country_m
from taskdb.core.checks.region import OUTSIDE_M
from taskdb.core.checks.rule import Reference
from taskdb.core.model import Position, Waypoint


@dataclass(frozen=True, slots=True)
class Disagreement:
    """A checked point that a reference has elsewhere. `agreeing` are further references that have it where the first
    has it, `opposed` those that have it where the checked set has it; `side` is where the fault is likely to be:
    "checked", "reference" or "either".
    """

    index: int
    counterpart: Counterpart
    reference: Reference
    agreeing: tuple[str, ...]
    opposed: tuple[str, ...]
    side: str

    @property
    def other(self) -> Waypoint:
        return self.reference.waypoints[self.counterpart.other_index]


def find_disagreements(
    checked: Sequence[Waypoint], said: Sequence[Counterparts], outlines: Outlines | None
) -> tuple[Disagreement, ...]:
    """Return one disagreement for each checked point that any reference has elsewhere, in order of the points."""
    by_index: dict[int, list[tuple[Counterparts, Counterpart]]] = {}
    for counterparts in said:
        for one in counterparts.apart:
            by_index.setdefault(one.index, []).append((counterparts, one))
    return tuple(_weighed(index, checked[index], by_index[index], said, outlines) for index in sorted(by_index))


def _weighed(
    index: int,
    point: Waypoint,
    apart: list[tuple[Counterparts, Counterpart]],
    said: Sequence[Counterparts],
    outlines: Outlines | None,
) -> Disagreement:
    from taskdb.core.geodesy import distance_m

    # The best explained one speaks; of equals, the first reference that was given.
    first, best = min(apart, key=lambda pair: (pair[1].slip is None, pair[1].slip.cost if pair[1].slip else 0.0))
    place = first.reference.waypoints[best.other_index].position
    agreeing = tuple(
        counterparts.reference.name
        for counterparts, one in apart
        if counterparts is not first
        and distance_m(counterparts.reference.waypoints[one.other_index].position, place) <= APART_M
    )
    # An older state of the checked set is no second witness for it.
    opposed = tuple(
        counterparts.reference.name
        for counterparts in said
        if index in counterparts.settled and counterparts.reference.kind != "revision"
    )
    return Disagreement(
        index, best, first.reference, agreeing, opposed, _side(point, place, len(agreeing), len(opposed), outlines)
    )


def _side(point: Waypoint, place: Position, agreeing: int, opposed: int, outlines: Outlines | None) -> str:
    if agreeing != opposed:
        return "checked" if agreeing > opposed else "reference"
    if outlines is not None and point.country:
        here = distance_to_country_m(outlines, point.country, point.position)
        there = distance_to_country_m(outlines, point.country, place)
        if here is not None and there is not None:
            if here > OUTSIDE_M and there == 0.0:
                return "checked"
            if there > OUTSIDE_M and here == 0.0:
                return "reference"
    return "either"
