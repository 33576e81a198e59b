"""What a check rule is, what it is given, and the finding that it drafts; nothing is computed here.

A rule sees the set as a `Survey` (taskdb.core.checks.survey) and yields drafts; the engine orders them and names them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from taskdb.core.model import Position, Severity, Suggestion, Waypoint

if TYPE_CHECKING:
    from taskdb.core.checks.elevations import ElevationGrid
    from taskdb.core.checks.gazetteer import Gazetteer
    from taskdb.core.checks.outlines import Outlines
    from taskdb.core.checks.survey import Survey
    from taskdb.core.matching.match import Matching

WITHIN_M = 250.0
"""Two points nearer than this are one place, unless another distance is asked for."""


@dataclass(frozen=True, slots=True)
class Reference:
    """Something to hold the set against: `kind` is "set", "file", "airports" or "revision" (an older state of it).

    `matching` (old side: the reference, new side: the checked set) is computed where it is None.
    """

    name: str
    kind: str
    waypoints: Sequence[Waypoint]
    matching: Matching | None = None


@dataclass(frozen=True, slots=True)
class CheckInput:
    """All that the rules may know. What is None or empty is not known, and rules that need it are left out.

    `short_name_length` asks for the rule on shortened names, `inspected_since` (ISO date) for the one on inspections;
    `variation_deg` gives the magnetic variation (east positive) at a position, where a model is at hand;
    `only` keeps the findings that concern one of these codes; `places` holds the settlements of the points' names.
    """

    set_name: str
    revision: int | None
    waypoints: Sequence[Waypoint]
    references: tuple[Reference, ...] = ()
    within_m: float = WITHIN_M
    outlines: Outlines | None = None
    elevation: ElevationGrid | None = None
    short_name_length: int | None = None
    inspected_since: str | None = None
    variation_deg: Callable[[Position], float] | None = None
    only: frozenset[str] | None = None
    places: Gazetteer | None = None


@dataclass(frozen=True, slots=True)
class Draft:
    """A finding before it has its id. `points` are the points of the checked set (their codes are the finding's
    codes, the first being the one that a mend mends); `others` the points of references that the rule read.
    """

    severity: Severity
    points: tuple[Waypoint, ...]
    message: str
    evidence: Mapping[str, Any]
    suggestion: Suggestion | None = None
    alternatives: tuple[Suggestion, ...] = ()
    others: tuple[Waypoint, ...] = ()


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule: `name` is stable; `reads` names the fields whose change makes an accepted finding a new one.

    `needs` holds of "reference", "outlines", "elevation-grid", "short-name-length", "inspected-since", "places" what
    it cannot do without. The function's docstring is the page that a user reads.
    """

    name: str
    summary: str
    function: Callable[[Survey], Iterable[Draft]]
    reads: tuple[str, ...] = ("position",)
    needs: frozenset[str] = field(default_factory=frozenset)
