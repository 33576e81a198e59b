"""The review rules, one file each, and what runs them over a task; decides nothing about tasks itself.

A rule's docstring is the page that a user reads; `RULES` lists them, by hand. Ids and pages are those of the checks
of a set (`core.findings`): the same task gives the same findings.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from taskdb.core.findings import finding_id, severity_rank
from taskdb.core.model import Acceptance, Finding
from taskdb.core.review.rule import Draft, Reviewed, Rule
from taskdb.core.review.rules import (
    after_legal_end,
    airspace_at_point,
    airspace_in_zone,
    airspace_on_leg,
    classes_meet,
    deduction_eats_leg,
    ends_meet,
    leg_cannot_be_made,
    misses_its_distance,
    misses_the_triangle,
    narrow_areas,
    not_closed,
    opposing_legs,
    out_of_glide,
    outside_class_limits,
    overlapping_zones,
    point_with_finding,
    points_changed,
    ring_holds_turn,
    saved_already,
    short_leg,
    speeds_out_of_range,
    sun_in_the_eyes,
    turn_from_both_sides,
    turn_points_near,
)

RULES: tuple[Rule, ...] = (
    points_changed.RULE,
    point_with_finding.RULE,
    short_leg.RULE,
    overlapping_zones.RULE,
    ring_holds_turn.RULE,
    deduction_eats_leg.RULE,
    narrow_areas.RULE,
    speeds_out_of_range.RULE,
    outside_class_limits.RULE,
    leg_cannot_be_made.RULE,
    after_legal_end.RULE,
    sun_in_the_eyes.RULE,
    saved_already.RULE,
    misses_its_distance.RULE,
    misses_the_triangle.RULE,
    not_closed.RULE,
    turn_points_near.RULE,
    airspace_on_leg.RULE,
    airspace_in_zone.RULE,
    airspace_at_point.RULE,
    out_of_glide.RULE,
    opposing_legs.RULE,
    turn_from_both_sides.RULE,
    ends_meet.RULE,
    classes_meet.RULE,
)


def run_review(
    given: Reviewed, rules: Sequence[Rule] = RULES, accepted: Mapping[str, Acceptance] | None = None
) -> tuple[Finding, ...]:
    """Return what the rules find, by severity and rule, and of a rule as the course is flown, one of each id.

    Accepted findings are marked, not left out.
    """
    unique: dict[str, Finding] = {}
    for rule in rules:
        for draft in rule.function(given):
            finding = _named(rule, draft, accepted or {})
            unique.setdefault(finding.id, finding)
    return tuple(sorted(unique.values(), key=lambda one: (severity_rank(one.severity), one.rule)))


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
