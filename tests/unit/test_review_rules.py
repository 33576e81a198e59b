"""The review rules: what each tells and does not tell, its page, and the ids and order of what they find."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from taskdb.core.course.wind import Air
from taskdb.core.findings import page_of
from taskdb.core.model import Acceptance, Landable, Severity
from taskdb.core.quantities import Wind
from taskdb.core.review.limits import LIMITS, Limits, limits_of
from taskdb.core.review.rules import RULES, run_review
from taskdb.errors import NotFoundError
from tests.unit.review_cases import CASES, Case
from tests.unit.review_examples import CLUB, ROUND, ROUND_TASK, day, reviewed


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.rule}: {case.why}")
def test_a_rule_tells_what_it_should_and_nothing_else(case: Case) -> None:
    rule = next(rule for rule in RULES if rule.name == case.rule)
    found = run_review(case.given(), [rule])
    assert [(one.severity, one.codes) for one in found] == case.found, [one.message for one in found]
    assert all(one.rule == case.rule and one.message.endswith(".") for one in found)
    assert not case.says or case.says in " ".join(one.message for one in found), [one.message for one in found]


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_every_rule_has_hits_and_non_hits(rule: Any) -> None:
    own = [case for case in CASES if case.rule == rule.name]
    assert any(case.found for case in own)
    assert any(not case.found for case in own)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_every_rule_has_a_page_with_its_parts(rule: Any) -> None:
    page = page_of(rule.name, RULES)
    for part in ("What:", "Why it matters:", "How to mend:", "Trap:", "Example:"):
        assert part in page
    assert rule.summary.endswith(".") and "\n" not in rule.summary


def test_rule_names_are_unique_here_and_among_the_checks_of_a_set() -> None:
    from taskdb.core.checks.rules import RULES as SET_RULES

    names = [rule.name for rule in (*RULES, *SET_RULES)]
    assert len(set(names)) == len(names)


def test_an_unknown_rule_is_answered_with_those_that_there_are() -> None:
    with pytest.raises(NotFoundError) as caught:
        page_of("short-log", RULES)
    assert "short-leg" in (caught.value.hint or "")


def test_findings_come_by_severity_and_keep_their_ids() -> None:
    ring = "HOME cylinder 10km; E8 cylinder 500m; E4 cylinder 500m; HOME cylinder 3km"
    given = reviewed(ring)
    found = run_review(given)
    order = [Severity.ERROR, Severity.WARNING, Severity.NOTE]
    assert [order.index(one.severity) for one in found] == sorted(order.index(one.severity) for one in found)
    assert len({one.id for one in found}) == len(found) > 2
    again = run_review(replace(given, task=replace(given.task, name="Z", set_revision=9)))
    assert [one.id for one in again] == [one.id for one in found]


def test_an_id_goes_when_what_the_rule_read_changes() -> None:
    first = run_review(reviewed("HOME cylinder 10km; E8 cylinder 500m; N60 cylinder 500m; HOME line 1km"))
    other_ring = run_review(reviewed("HOME cylinder 9km; E8 cylinder 500m; N60 cylinder 500m; HOME line 1km"))
    by_rule = {one.rule: one.id for one in first}
    for one in other_ring:
        if one.rule == "ring-holds-turn":
            assert one.id != by_rule["ring-holds-turn"]


def test_an_accepted_finding_says_by_whom_and_why() -> None:
    given = reviewed("HOME cylinder 10km; E8 cylinder 500m; N60 cylinder 500m; HOME line 1km")
    (ring,) = [one for one in run_review(given) if one.rule == "ring-holds-turn"]
    acceptance = Acceptance("setter", "a training task")
    again = run_review(given, accepted={ring.id: acceptance})
    assert [one.accepted for one in again if one.id == ring.id] == [acceptance]


def test_a_plain_task_has_nothing_to_say() -> None:
    assert run_review(reviewed(ROUND)) == ()


def test_limits_come_from_the_contests_settings_and_bad_ones_are_told() -> None:
    limits, problems = limits_of({"shortest_leg_m": 8000, "least_area_ratio": "much", "legal_end": "sunset"})
    assert (limits.shortest_leg_m, limits.least_area_ratio) == (8000.0, Limits().least_area_ratio)
    assert len(problems) == 1 and "least_area_ratio" in problems[0]
    assert limits_of({}) == (Limits(), ())
    assert limits_of({"shortest_leg_m": True})[1] and limits_of({"shortest_leg_m": -1})[1]


def test_where_can_be_landed_is_a_limit_of_words() -> None:
    limits, problems = limits_of({"cover_landable": ["field", "emergency"]})
    assert limits.cover_landable == (Landable.FIELD, Landable.EMERGENCY) and problems == ()
    for junk in ("field", [], ["water"], 5):
        limits, problems = limits_of({"cover_landable": junk})
        assert limits == Limits() and "aerodrome, field is taken" in problems[0]


def test_every_limit_says_what_it_means_and_where_its_default_comes_from() -> None:
    assert {limit.name for limit in LIMITS} == set(Limits.__dataclass_fields__)
    assert all(limit.meaning and limit.source for limit in LIMITS)


def test_how_a_wind_was_typed_changes_no_finding() -> None:
    ids = set()
    for text in (None, "240/62km/h", "240/33.5kt"):
        sheet = day(ROUND_TASK, air=Air(60, Wind(240, 62, text)))
        found = run_review(reviewed(ROUND, given={"day": sheet, "speeds": CLUB}, time_s=14400))
        ids.add(tuple(one.id for one in found if one.rule in ("leg-cannot-be-made", "speeds-out-of-range")))
    assert len(ids) == 1 and len(ids.pop()) > 1
