"""The review rules, one file each: a rule's docstring is the page that a user reads. `RULES` lists them, by hand."""

from __future__ import annotations

from taskdb.core.review.rule import Rule
from taskdb.core.review.rules import (
    after_legal_end,
    airspace_at_point,
    airspace_in_zone,
    airspace_on_leg,
    deduction_eats_leg,
    leg_cannot_be_made,
    misses_its_distance,
    misses_the_triangle,
    narrow_areas,
    not_closed,
    outside_class_limits,
    overlapping_zones,
    point_with_finding,
    points_changed,
    ring_holds_turn,
    saved_already,
    short_leg,
    speeds_out_of_range,
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
    saved_already.RULE,
    misses_its_distance.RULE,
    misses_the_triangle.RULE,
    not_closed.RULE,
    turn_points_near.RULE,
    airspace_on_leg.RULE,
    airspace_in_zone.RULE,
    airspace_at_point.RULE,
)
