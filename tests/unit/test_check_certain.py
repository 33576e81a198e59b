"""Which mends are almost surely right: errors with one explained slip and one place, that nothing opposes."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from taskdb.core.checks.certain import by_certainty, sure_mends
from taskdb.core.checks.given import CheckInput, Reference
from taskdb.core.checks.rules import run_checks
from taskdb.core.model import Acceptance, Finding, Position, Severity, Suggestion
from tests.unit.check_sets import OUTLINES, region

HERE, NEAR, FAR = Position.at(48.0, 12.0), Position.at(48.001, 12.001), Position.at(48.5, 12.0)


def finding(code: str = "X", place: Position | None = HERE, **more: Any) -> Finding:
    mend = Suggestion(code, "one digit wrong", place) if place is not None else None
    given: dict[str, Any] = {
        "id": f"{code}{more.get('rule', '')}", "rule": "typing-slip", "severity": Severity.ERROR, "codes": (code,),
        "message": "", "evidence": {"slip": {"kind": "digit", "axis": "latitude"}}, "suggestion": mend,
    }  # fmt: skip
    return Finding(**(given | more))


def test_an_error_with_one_explained_slip_is_sure() -> None:
    assert sure_mends([finding()]) == (finding(),)
    assert sure_mends([finding(alternatives=(Suggestion("X", "the position of Y", NEAR),))])
    assert sure_mends([finding(evidence={"explained": True}, rule="outside-country")])


NOT_SURE = {
    "a warning": finding(severity=Severity.WARNING),
    "no slip": finding(evidence={}),
    "a place that no slip explains": finding(evidence={"explained": False}),
    "another place is offered": finding(alternatives=(Suggestion("X", "two digits swapped", FAR),)),
    "no mend": finding(place=None),
    "another field": finding(suggestion=Suggestion("X", "feet", field="elevation_m", value=400.0)),
    "a counterpart by coordinates alone": finding(
        evidence={"slip": {}, "explained": True, "matched_by": "coordinates", "name_likeness_percent": 24}
    ),
    "a slip that may be chance": finding(evidence={"slip": {}, "by_chance": 0.04}),
    "as far as two makers differ": finding(evidence={"slip": {}, "by_chance": 1e-4, "distance_m": 700.0}),
    "a public list alone": finding(evidence={"slip": {}, "reference": "airports", "side": "either"}),
    "accepted": finding(accepted=Acceptance("Anna", "it is so")),
}


@pytest.mark.parametrize("case", NOT_SURE.values(), ids=NOT_SURE.keys())
def test_what_is_not_sure(case: Finding) -> None:
    assert sure_mends([case]) == ()


def test_coordinates_and_a_like_name_are_sure() -> None:
    evidence = {"slip": {"kind": "digit"}, "matched_by": "coordinates", "name_likeness_percent": 92}
    assert sure_mends([finding(evidence=evidence)])
    assert sure_mends([finding(evidence=evidence | {"name_likeness_percent": 60})]) == ()


def test_a_public_list_with_a_second_witness_is_sure() -> None:
    assert sure_mends([finding(evidence={"slip": {"kind": "digit"}, "reference": "airports", "side": "checked"})])


def test_an_error_that_moves_the_point_elsewhere_opposes() -> None:
    other = finding(place=FAR, rule="misread-group", evidence={})
    assert sure_mends([finding(), other]) == ()
    assert sure_mends([finding(), replace(other, severity=Severity.WARNING)]) == (finding(),)
    assert sure_mends([finding(), finding(place=NEAR, rule="outside-country")]) == (finding(),)


def test_the_most_certain_come_first_and_a_point_comes_once() -> None:
    guess = finding("A", severity=Severity.WARNING, rule="odd-form")
    several = finding("B", alternatives=(Suggestion("B", "swapped", FAR),))
    sure = finding("C")
    again = finding("C", severity=Severity.WARNING, rule="differs-from-reference")
    assert by_certainty([guess, several, again, sure, finding("D", place=None)]) == (sure, several, guess)


def test_a_wrong_hemisphere_is_sure_and_a_place_that_only_a_reference_gives_is_not() -> None:
    rows = region()
    lost = replace(rows[40], position=Position.at(rows[40].position.latitude_deg, -rows[40].position.longitude_deg))
    found = run_checks(CheckInput("region", 1, (*rows[:40], lost, *rows[41:]), outlines=OUTLINES))
    (sure,) = sure_mends(found)
    assert sure.codes == ("P040",) and sure.suggestion is not None
    assert sure.suggestion.position == rows[40].position
    strayed = replace(rows[40], position=Position.at(31.7713, 2.1391))
    known = Reference("old", "set", tuple(rows))
    found = run_checks(CheckInput("region", 1, (*rows[:40], strayed, *rows[41:]), (known,), outlines=OUTLINES))
    assert [one.rule for one in found if one.severity is Severity.ERROR] == ["outside-country"]
    assert sure_mends(found) == ()
