"""The rules, one file each: a rule's docstring is the page that a user reads. `RULES` lists them all, by hand."""

from __future__ import annotations

from taskdb.core.checks.rule import Rule
from taskdb.core.checks.rules import one_name_two_places, same_place

RULES: tuple[Rule, ...] = (
    same_place.RULE,
    one_name_two_places.RULE,
)
