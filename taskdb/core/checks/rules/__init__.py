"""The rules, one file each: a rule's docstring is the page that a user reads. `RULES` lists them all, by hand."""

from __future__ import annotations

from taskdb.core.checks.rule import Rule
from taskdb.core.checks.rules import (
    away_from_namesake,
    differs_from_reference,
    elevation_off,
    elevation_unit,
    misread_group,
    not_inspected,
    null_island,
    odd_form,
    one_name_two_places,
    outside_country,
    outside_region,
    radio_channel,
    round_coordinates,
    runway_designator,
    same_place,
    short_names,
    typing_slip,
)

RULES: tuple[Rule, ...] = (
    typing_slip.RULE,
    differs_from_reference.RULE,
    away_from_namesake.RULE,
    null_island.RULE,
    misread_group.RULE,
    outside_country.RULE,
    outside_region.RULE,
    odd_form.RULE,
    elevation_unit.RULE,
    elevation_off.RULE,
    same_place.RULE,
    one_name_two_places.RULE,
    round_coordinates.RULE,
    runway_designator.RULE,
    radio_channel.RULE,
    short_names.RULE,
    not_inspected.RULE,
)
