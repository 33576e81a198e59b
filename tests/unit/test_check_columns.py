"""A fault that a large share of a set has is told once, as a doubt about the column."""

from __future__ import annotations

from dataclasses import replace

import pytest

from taskdb.core.model import Position, Radio, Runway, Severity, Waypoint
from tests.unit.check_sets import findings, point, region


def test_countries_in_another_code_are_told_once() -> None:
    # As where a list has the two letters of another standard, whose GM is Germany: Gambia in ISO 3166.
    found = findings(region("BB"), "outside-country")
    assert [(finding.severity, len(finding.codes)) for finding in found] == [(Severity.WARNING, 100)]
    assert "100 of 100 points of this set lie outside the country that they state" in found[0].message
    assert "the country column is in doubt" in found[0].message
    assert (found[0].suggestion, found[0].alternatives) == (None, ())
    assert found[0].evidence == {"column": "country", "source": None, "points": 100, "of": 100}


def test_one_source_in_doubt_leaves_the_others_alone() -> None:
    rows = [replace(one, country="BB", source="old list") for one in region()[:25]]
    many = [point(f"Q{n}", 46.5 + n / 150, 11.013 + n / 170, country="AA", source="survey") for n in range(150)]
    lost = point("X", 48.0, -12.0, country="AA", source="survey")
    found = findings([*rows, *many, lost], "outside-country")
    assert sorted(len(finding.codes) for finding in found) == [1, 25]
    doubt = max(found, key=lambda finding: len(finding.codes))
    assert "25 of 25 points of source 'old list'" in doubt.message and doubt.evidence["source"] == "old list"
    single = min(found, key=lambda finding: len(finding.codes))
    assert single.codes == ("X",) and single.suggestion is not None


def test_twenty_wrong_countries_are_told_one_by_one() -> None:
    found = findings([*region("BB")[:20], *region()[20:]], "outside-country")
    assert len(found) == 20


CELLS = [
    ("radio-channel", {"radio": (Radio("122.520"),)}, {"radio": (Radio("122.500"),)}),
    ("runway-designator", {"runways": (Runway("09/27", 190.0),)}, {"runways": (Runway("09/27", 90.0),)}),
    ("null-island", {"position": Position.at(0.0, 0.0)}, {}),
]


@pytest.mark.parametrize(("rule", "wrong", "right"), CELLS, ids=[case[0] for case in CELLS])
def test_many_wrong_cells_are_one_doubt(rule: str, wrong: dict, right: dict) -> None:
    def rows(count: int) -> list[Waypoint]:
        return [replace(one, **(wrong if number < count else right)) for number, one in enumerate(region())]

    many = findings(rows(21), rule)
    assert [len(finding.codes) for finding in many] == [21]
    assert many[0].evidence["of"] == 100
    assert len(findings(rows(20), rule)) == 20


def test_rows_that_state_nothing_do_not_make_a_large_share_small() -> None:
    rows = [replace(one, radio=(Radio("122.520"),)) for one in region()[:25]]
    others = [point(f"Q{n:04d}", 46.5 + n / 1500, 11.013 + n / 1700, country="AA") for n in range(900)]
    assert [len(finding.codes) for finding in findings([*rows, *others], "radio-channel")] == [25]
