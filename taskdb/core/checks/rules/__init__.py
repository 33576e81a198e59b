"""The rules, one file each: a rule's docstring is the page that a user reads. `RULES` lists them all, by hand."""

from __future__ import annotations

from taskdb.core.checks.rule import Rule
from taskdb.core.checks.rules import (
    differs_from_reference,
    elevation_off,
    elevation_unit,
    null_island,
    one_name_two_places,
    outside_country,
    outside_region,
    same_place,
    typing_slip,
)

RULES: tuple[Rule, ...] = (
    typing_slip.RULE,
    differs_from_reference.RULE,
    null_island.RULE,
    outside_country.RULE,
    outside_region.RULE,
    elevation_unit.RULE,
    elevation_off.RULE,
    same_place.RULE,
    one_name_two_places.RULE,
)
