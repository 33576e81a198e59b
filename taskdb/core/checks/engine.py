"""Runs the rules over a set and gives every finding its id; decides nothing about waypoints itself.

The same input gives the same findings in the same order, and a finding keeps its id in every store until a value
that its rule read changes.
"""

from __future__ import annotations

import hashlib
import inspect
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, is_dataclass
from typing import Any

from taskdb.core.checks.rule import WITHIN_M, CheckInput, Draft, Reference, Rule
from taskdb.core.checks.rules import RULES
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Acceptance, Finding, Position, Severity, Waypoint
from taskdb.errors import NotFoundError

__all__ = [
    "RULES", "WITHIN_M", "CheckInput", "Reference", "Rule", "explain", "missing_needs", "run_checks",
]  # fmt: skip

_ORDER = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}
_ID_DIGITS = 10


def run_checks(
    given: CheckInput, rules: Sequence[Rule] = RULES, accepted: Mapping[str, Acceptance] | None = None
) -> tuple[Finding, ...]:
    """Return what the rules find, by severity, rule and codes; an empty set gives nothing.

    A rule whose needs the input does not meet is left out (`missing_needs` tells which). `accepted` marks findings by
    id; they are returned all the same, so that the caller can show or hide them.
    """
    if not given.waypoints:
        return ()
    survey = Survey(given)
    findings: dict[str, Finding] = {}
    for rule in rules:
        if missing_needs(rule, given):
            continue
        for draft in rule.function(survey):
            finding = _named(rule, draft, accepted or {})
            if given.only is None or not given.only.isdisjoint(finding.codes):
                findings.setdefault(finding.id, finding)
    return tuple(
        sorted(
            findings.values(),
            key=lambda finding: (_ORDER[finding.severity], finding.rule, finding.codes, finding.id),
        )
    )


def missing_needs(rule: Rule, given: CheckInput) -> frozenset[str]:
    """Return what the rule needs and the input does not have; empty where the rule can run."""
    present = {
        "reference": bool(given.references),
        "outlines": given.outlines is not None,
        "elevation-grid": given.elevation is not None,
        "short-name-length": given.short_name_length is not None,
        "inspected-since": given.inspected_since is not None,
    }
    return frozenset(need for need in rule.needs if not present[need])


def explain(name: str, rules: Sequence[Rule] = RULES) -> str:
    """Return the page that a user reads about a rule; NotFoundError names the rules that there are."""
    for rule in rules:
        if rule.name == name:
            return inspect.getdoc(rule.function) or rule.summary
    raise NotFoundError(
        "no-such-rule",
        f"There is no rule {name!r}.",
        hint="One of: " + ", ".join(rule.name for rule in rules) + ".",
        details={"rules": [rule.name for rule in rules]},
    )


def _named(rule: Rule, draft: Draft, accepted: Mapping[str, Acceptance]) -> Finding:
    codes = tuple(point.code for point in draft.points)
    finding_id = _finding_id(rule, codes, (*draft.points, *draft.others))
    return Finding(
        id=finding_id,
        rule=rule.name,
        severity=draft.severity,
        codes=codes,
        message=draft.message,
        evidence=draft.evidence,
        suggestion=draft.suggestion,
        alternatives=draft.alternatives,
        accepted=accepted.get(finding_id),
    )


def _finding_id(rule: Rule, codes: tuple[str, ...], points: Iterable[Waypoint]) -> str:
    """Return a short hash of the rule, its codes and the canonical values of the fields that it read."""
    read = [[_canonical(getattr(point, name)) for name in rule.reads] for point in points]
    text = json.dumps([rule.name, codes, read], ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:_ID_DIGITS]


def _canonical(value: Any) -> Any:
    """Return the value as the store compares it: 1e-7 degree, 0.1 m, everything else as it is."""
    if isinstance(value, Position):
        return [value.latitude_e7, value.longitude_e7]
    if isinstance(value, float):
        return round(value * 10)
    if isinstance(value, tuple):
        return [_canonical(item) for item in value]
    if is_dataclass(value) and not isinstance(value, type):
        return {name: _canonical(item) for name, item in asdict(value).items()}
    return value
