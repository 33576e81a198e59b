"""What a check rule is, and the finding that it drafts; nothing is computed here.

A rule sees the set as a `Survey` and yields drafts; whoever runs the rules orders them and gives them their ids.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from taskdb.core.checks.survey import Survey
from taskdb.core.model import Severity, Suggestion, Waypoint


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

    `needs` holds of "reference", "outlines", "elevation-grid", "short-name-length", "inspected-since", "places",
    "terrain", "flights" what it cannot do without. The function's docstring is the page that a user reads.
    """

    name: str
    summary: str
    function: Callable[[Survey], Iterable[Draft]]
    reads: tuple[str, ...] = ("position",)
    needs: frozenset[str] = field(default_factory=frozenset)
