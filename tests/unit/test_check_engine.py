"""The engine: order, ids that last, acceptance, and the pages of the rules."""

from __future__ import annotations

from dataclasses import replace

import pytest

from taskdb.core.checks.given import CheckInput
from taskdb.core.checks.rules import RULES, missing_needs, run_checks
from taskdb.core.findings import page_of
from taskdb.core.model import Acceptance, Position, Severity, Waypoint
from taskdb.errors import NotFoundError
from tests.building import waypoint

TWICE = (
    waypoint("QRY2", "Old quarry", 47.0003, 11.0),
    waypoint("HOME", "Home field", 47.5, 11.5),
    waypoint("QRY1", "Old Quarry", 47.0, 11.0),
)


def check(*waypoints: Waypoint, **more: object) -> tuple:
    return run_checks(CheckInput("region", 1, waypoints, **more))  # type: ignore[arg-type]


def test_an_empty_set_has_no_findings() -> None:
    assert run_checks(CheckInput("region", 1, ())) == ()


def test_the_order_of_the_waypoints_changes_nothing() -> None:
    assert check(*TWICE) == check(*reversed(TWICE))


def test_an_id_does_not_depend_on_the_set_nor_on_fields_that_the_rule_does_not_read() -> None:
    (finding,) = check(*TWICE)
    (same,) = run_checks(
        CheckInput("elsewhere", 7, tuple(replace(one, description="seen", identity="x1") for one in TWICE))
    )
    assert same.id == finding.id


def test_an_id_goes_when_a_value_that_the_rule_read_changes() -> None:
    (finding,) = check(*TWICE)
    moved = replace(TWICE[0], position=Position.at(47.0004, 11.0))
    (other,) = check(moved, *TWICE[1:])
    assert other.codes == finding.codes
    assert other.id != finding.id


def test_an_accepted_finding_says_by_whom_and_why() -> None:
    (finding,) = check(*TWICE)
    acceptance = Acceptance("A. Librarian", "two bridges")
    (accepted,) = run_checks(CheckInput("region", 1, TWICE), accepted={finding.id: acceptance})
    assert accepted.accepted == acceptance


def test_only_findings_that_concern_the_codes_asked_for_are_returned() -> None:
    assert check(*TWICE, only=frozenset({"HOME"})) == ()
    assert len(check(*TWICE, only=frozenset({"QRY2"}))) == 1


def test_findings_come_by_severity_then_rule_then_codes() -> None:
    far = waypoint("HOM2", "Home field", 40.0, 11.5)
    found = check(*TWICE, far)
    assert [finding.severity for finding in found] == [Severity.WARNING, Severity.NOTE]


def test_what_is_begun_is_told() -> None:
    told: list[str] = []
    run_checks(CheckInput("region", 1, (waypoint("A", "Alpha", 50.0, 8.0),)), progress=told.append)
    able = [k for k, rule in enumerate(RULES, 1) if not missing_needs(rule, CheckInput("region", 1, ()))]
    assert told == [f"{RULES[k - 1].name} ({k} of {len(RULES)})" for k in able] and len(able) < len(RULES)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_every_rule_has_a_page_with_its_parts(rule: object) -> None:
    page = page_of(rule.name, RULES)  # type: ignore[attr-defined]
    for part in ("What:", "Why it matters:", "How to mend:", "Trap:", "Example:"):
        assert part in page


def test_rule_names_are_unique_kebab_case_and_summaries_one_line() -> None:
    names = [rule.name for rule in RULES]
    assert len(set(names)) == len(names)
    for rule in RULES:
        assert rule.name == rule.name.lower().replace(" ", "-").replace("_", "-")
        assert "\n" not in rule.summary
        assert rule.summary.endswith(".")


def test_an_unknown_rule_is_answered_with_those_that_there_are() -> None:
    with pytest.raises(NotFoundError) as caught:
        page_of("same-plaice", RULES)
    assert "same-place" in (caught.value.hint or "")


def test_a_rule_whose_needs_are_not_met_is_named_not_run() -> None:
    given = CheckInput("region", 1, TWICE)
    for rule in RULES:
        assert missing_needs(rule, given) == rule.needs
