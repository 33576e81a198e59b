"""What a check of a set is given: the set, and all that the rules may know besides. Plain values; computes nothing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from taskdb.core.checks.elevations import ElevationGrid
from taskdb.core.checks.gazetteer import Gazetteer
from taskdb.core.checks.outlines import Outlines
from taskdb.core.flights.places import StoodPlace
from taskdb.core.ground import GroundHeights
from taskdb.core.matching.limits import ONE_PLACE_WITHIN_M
from taskdb.core.model import Position, Waypoint


@dataclass(frozen=True, slots=True)
class Reference:
    """Something to hold the set against: `kind` is "set", "file", "airports" or "revision" (an older state of it)."""

    name: str
    kind: str
    waypoints: Sequence[Waypoint]


@dataclass(frozen=True, slots=True)
class CheckInput:
    """All that the rules may know. What is None or empty is not known, and rules that need it are left out.

    `short_name_length` asks for the rule on shortened names, `inspected_since` (ISO date) for the one on inspections;
    `variation_deg` gives the magnetic variation (east positive) at a position, where a model is at hand;
    `only` keeps the findings that concern one of these codes; `places` holds the settlements of the points' names,
    `terrain` the user's own, finer than the shipped grid, `flights` where gliders stood.
    """

    set_name: str
    revision: int | None
    waypoints: Sequence[Waypoint]
    references: tuple[Reference, ...] = ()
    within_m: float = ONE_PLACE_WITHIN_M
    outlines: Outlines | None = None
    elevation: ElevationGrid | None = None
    short_name_length: int | None = None
    inspected_since: str | None = None
    variation_deg: Callable[[Position], float] | None = None
    only: frozenset[str] | None = None
    places: Gazetteer | None = None
    terrain: GroundHeights | None = None
    flights: tuple[StoodPlace, ...] | None = None
