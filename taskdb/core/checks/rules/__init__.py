"""The rules, one file each, and what runs them over a set; decides nothing about waypoints itself.

A rule's docstring is the page that a user reads; `RULES` lists them all, by hand. The same input gives the same
findings in the same order, and a finding keeps its id in every store until a value that its rule read changes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from taskdb.core.checks.given import CheckInput
from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.rules import (
    away_from_flights,
    away_from_namesake,
    differs_from_reference,
    elevation_off,
    elevation_off_flights,
    elevation_unit,
    misread_group,
    not_inspected,
    null_island,
    odd_form,
    off_terrain,
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
from taskdb.core.checks.survey import Survey
from taskdb.core.findings import finding_id, in_order
from taskdb.core.model import Acceptance, Finding

RULES: tuple[Rule, ...] = (
    typing_slip.RULE,
    differs_from_reference.RULE,
    away_from_namesake.RULE,
    away_from_flights.RULE,
    null_island.RULE,
    misread_group.RULE,
    outside_country.RULE,
    outside_region.RULE,
    odd_form.RULE,
    elevation_unit.RULE,
    elevation_off.RULE,
    off_terrain.RULE,
    elevation_off_flights.RULE,
    same_place.RULE,
    one_name_two_places.RULE,
    round_coordinates.RULE,
    runway_designator.RULE,
    radio_channel.RULE,
    short_names.RULE,
    not_inspected.RULE,
)


def run_checks(
    given: CheckInput,
    rules: Sequence[Rule] = RULES,
    accepted: Mapping[str, Acceptance] | None = None,
    progress: Callable[[str], None] | None = None,
) -> tuple[Finding, ...]:
    """Return what the rules find, by severity, rule and codes; an empty set gives nothing.

    A rule whose needs the input does not meet is left out (`missing_needs` tells which). `accepted` marks findings by
    id; they are returned all the same, so that the caller can show or hide them. `progress` is told what is begun.
    """
    if not given.waypoints:
        return ()
    survey = Survey(given)
    findings: list[Finding] = []
    for number, rule in enumerate(rules, start=1):
        if missing_needs(rule, given):
            continue
        if progress is not None:
            progress(f"{rule.name} ({number} of {len(rules)})")
        for draft in rule.function(survey):
            finding = _named(rule, draft, accepted or {})
            if given.only is None or not given.only.isdisjoint(finding.codes):
                findings.append(finding)
    return in_order(findings)


def missing_needs(rule: Rule, given: CheckInput) -> frozenset[str]:
    """Return what the rule needs and the input does not have; empty where the rule can run."""
    present = {
        "reference": bool(given.references),
        "outlines": given.outlines is not None,
        "elevation-grid": given.elevation is not None,
        "short-name-length": given.short_name_length is not None,
        "inspected-since": given.inspected_since is not None,
        "places": given.places is not None,
        "terrain": given.terrain is not None,
        "flights": given.flights is not None,
    }
    return frozenset(need for need in rule.needs if not present[need])


def _named(rule: Rule, draft: Draft, accepted: Mapping[str, Acceptance]) -> Finding:
    codes = tuple(point.code for point in draft.points)
    read = [[getattr(point, name) for name in rule.reads] for point in (*draft.points, *draft.others)]
    own_id = finding_id(rule.name, codes, read)
    return Finding(
        id=own_id,
        rule=rule.name,
        severity=draft.severity,
        codes=codes,
        message=draft.message,
        evidence=draft.evidence,
        suggestion=draft.suggestion,
        alternatives=draft.alternatives,
        accepted=accepted.get(own_id),
    )
