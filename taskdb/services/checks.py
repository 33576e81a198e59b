"""Checks of a set: running the rules, and living with what they find."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.checks.engine import RULES, WITHIN_M, CheckInput, Rule, run_checks
from taskdb.core.findings import page_of
from taskdb.core.model import Acceptance, Finding, Severity, Waypoint
from taskdb.core.review.rule import Rule as ReviewRule
from taskdb.core.review.rules import RULES as REVIEW_RULES
from taskdb.services.desk import Desk
from taskdb.services.references import SetAt, resolve_set
from taskdb.store import findings as finding_rows, sets as set_rows

if TYPE_CHECKING:
    from sqlalchemy import Connection


@dataclass(frozen=True)
class CheckRequest:
    set_reference: str
    within_m: float = WITHIN_M


@dataclass(frozen=True)
class Checked:
    """What the rules found. `findings` holds the accepted ones too, marked."""

    at: SetAt
    checked: int
    findings: tuple[Finding, ...]
    waypoints: Mapping[str, Waypoint]
    """The checked waypoints by code, for showing a finding's points."""

    def worst_at_or_above(self, severity: Severity) -> bool:
        """Say whether a finding that is not accepted is at least this severe."""
        order = [Severity.NOTE, Severity.WARNING, Severity.ERROR]
        return any(f.accepted is None and order.index(f.severity) >= order.index(severity) for f in self.findings)


def check_set(desk: Desk, request: CheckRequest) -> Checked:
    """Run every rule that the input allows over a set at a revision."""
    with desk.store.reading() as c:
        at = resolve_set(c, request.set_reference)
        waypoints = set_rows.waypoints_at(c, at.head.id, at.revision)
        accepted = accepted_of(c, at)
    given = CheckInput(set_name=at.head.name, revision=at.revision, waypoints=waypoints, within_m=request.within_m)
    return Checked(at, len(waypoints), run_checks(given, accepted=accepted), {w.code: w for w in waypoints})


def findings_about(c: Connection, at: SetAt, codes: frozenset[str]) -> tuple[Finding, ...]:
    """Return what the rules find about some of a set's points, without references: for those who use the points."""
    waypoints = set_rows.waypoints_at(c, at.head.id, at.revision)
    given = CheckInput(set_name=at.head.name, revision=at.revision, waypoints=waypoints, only=codes)
    return run_checks(given, accepted=accepted_of(c, at))


def accepted_of(c: Connection, at: SetAt) -> Mapping[str, Acceptance]:
    """Return who accepted which finding of the set, and why."""
    return finding_rows.accepted_findings(c, at.head.id)


def list_rules() -> tuple[Rule, ...]:
    """Return every rule in the order in which they run."""
    return tuple(RULES)


def explain_rule(name: str) -> str:
    """Return the user page of a rule, of sets or tasks: what it finds, why, how to mend it, the trap, an example."""
    return page_of(name, (*RULES, *REVIEW_RULES))


def list_review_rules() -> tuple[ReviewRule, ...]:
    """Return every rule of the review of a task in the order in which they run."""
    return tuple(REVIEW_RULES)
