"""Runs the review rules over a task and gives every finding its id; decides nothing about tasks itself.

Ids, order and pages are those of the checks of a set (`core.findings`): the same task gives the same findings.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from taskdb.core.findings import finding_id, in_order, page_of
from taskdb.core.model import Acceptance, Finding
from taskdb.core.review.rule import Draft, Reviewed, Rule
from taskdb.core.review.rules import RULES

__all__ = ["RULES", "Reviewed", "Rule", "explain", "run_review"]


def run_review(
    given: Reviewed, rules: Sequence[Rule] = RULES, accepted: Mapping[str, Acceptance] | None = None
) -> tuple[Finding, ...]:
    """Return what the rules find, by severity, rule and codes; accepted findings are marked, not left out."""
    return in_order(_named(rule, draft, accepted or {}) for rule in rules for draft in rule.function(given))


def explain(name: str, rules: Sequence[Rule] = RULES) -> str:
    """Return the page that a user reads about a rule; NotFoundError names the rules that there are."""
    return page_of(name, rules)


def _named(rule: Rule, draft: Draft, accepted: Mapping[str, Acceptance]) -> Finding:
    own_id = finding_id(rule.name, draft.codes, draft.read)
    return Finding(
        id=own_id,
        rule=rule.name,
        severity=draft.severity,
        codes=draft.codes,
        message=draft.message,
        evidence=draft.evidence,
        accepted=accepted.get(own_id),
    )
