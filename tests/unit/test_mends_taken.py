"""Several mends of one point over plain values: what agrees is taken one after another, what contradicts is refused."""

from __future__ import annotations

from dataclasses import replace

import pytest

from taskdb.core.checks.taking import WantedMend, take_mends
from taskdb.core.model import Finding, Position, Severity, Suggestion, Waypoint
from taskdb.errors import RefusedError

POINT = Waypoint("1", "Mill", Position.at(48.0, 11.0), 400.0)


def finding(number: int, suggestion: Suggestion) -> Finding:
    return Finding(f"id{number}", f"rule-{number}", Severity.ERROR, ("1",), "", {}, suggestion)


def to(latitude_deg: float, longitude_deg: float) -> Suggestion:
    return Suggestion("1", "a slip", Position.at(latitude_deg, longitude_deg))


def field(name: str, value: object) -> Suggestion:
    return Suggestion("1", "a slip", field=name, value=value)


def run(*mends: Suggestion, later: tuple[Suggestion, ...] = ()):
    """Take mends, one a finding; `later` are what the rules of the second and further ones ask for afterwards."""
    findings = [finding(number, mend) for number, mend in enumerate(mends)]
    again = [finding(number, mend) for number, mend in enumerate(later, 1)]
    wanted = [WantedMend(f, 0, f.suggestion) for f in findings]
    return take_mends("my region", {"1": POINT}, wanted, lambda mended: again)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (to(49.0, 11.0), to(47.0, 11.0)),
        (to(49.0, 11.0), to(47.0, 12.0)),
        (field("elevation_m", 467.0), field("elevation_m", 153.2)),
    ],
)
def test_mends_that_contradict_each_other_are_refused_with_both_named(first, second):
    with pytest.raises(RefusedError) as refused:
        run(first, second)
    assert refused.value.code == "two-mends"
    for named in ("id0 (rule-0)", "id1 (rule-1)"):
        assert named in refused.value.message
    assert refused.value.details["findings"] == ["id0", "id1"]
    assert "taskdb check fix 'my region' id0" in refused.value.hint


def test_two_that_lead_to_one_place_agree():
    mended, left = run(to(49.0, 11.0), to(49.001, 11.0))
    assert mended["1"].position == Position.at(49.0, 11.0)
    assert [one.finding.id for one in left] == ["id1"]


def test_one_of_the_latitude_and_one_of_the_longitude_are_both_meant():
    mended, left = run(to(49.0, 11.0), to(48.0, 12.0), later=(to(49.0, 12.0),))
    assert mended["1"].position == Position.at(49.0, 12.0)
    assert left == ()


def test_what_the_second_asks_for_after_the_first_must_not_undo_it():
    with pytest.raises(RefusedError) as refused:
        run(to(49.0, 11.0), to(48.0, 12.0), later=(to(47.0, 12.0),))
    assert refused.value.code == "two-mends"


def test_a_place_and_a_field_are_both_mended():
    mended, _ = run(field("elevation_m", 467.0), to(49.0, 11.0), later=(to(49.0, 11.0),))
    assert mended["1"].position == Position.at(49.0, 11.0)


def against(reference: str, suggestion: Suggestion, rule: str = "rule-1", codes: tuple[str, ...] = ("1",)) -> Finding:
    return Finding(f"{rule} {reference}", rule, Severity.ERROR, codes, "", {"reference": reference}, suggestion)


def test_afterwards_the_same_rule_counts_of_the_same_points_and_against_the_same_reference():
    asked = against("chart", to(48.0, 12.0))
    wanted = [WantedMend(finding(0, to(49.0, 11.0)), 0, to(49.0, 11.0)), WantedMend(asked, 0, asked.suggestion)]
    seen = [
        against("chart", to(49.0, 14.0), rule="another"),
        against("chart", to(49.0, 14.0), codes=("1", "2")),
        replace(against("list", to(49.0, 14.0)), id="new a"),
        replace(against("chart", to(49.0, 12.0)), id="new b"),
    ]
    mended, left = take_mends("region", {"1": POINT}, wanted, lambda _: seen)
    assert (mended["1"].position, left) == (Position.at(49.0, 12.0), ())
    mended, left = take_mends("region", {"1": POINT}, wanted, lambda _: seen[:2])
    assert (mended["1"].position, [one.finding.id for one in left]) == (Position.at(49.0, 11.0), [asked.id])
