"""The one JSON form: keys as the contract has them, units kept, courses below 360, nothing rounded for show."""

from __future__ import annotations

import pytest

from taskdb.core.course.zones import parse_zone
from taskdb.core.model import (
    Acceptance,
    Finding,
    Position,
    Radio,
    RowProblem,
    Runway,
    Severity,
    Suggestion,
    Waypoint,
)
from taskdb.core.plain import (
    canonical_json,
    course_degrees,
    finding_plain,
    metres,
    problem_plain,
    waypoint_plain,
    zone_plain,
)


def test_a_waypoint_has_the_keys_of_the_contract_in_its_order() -> None:
    waypoint = Waypoint(
        "HOME", "Home", Position.at(47.26, -11.3400000049), 512.0, radio=(Radio("122.480"),), runways=(Runway("07/25"),)
    )
    shown = waypoint_plain(waypoint, set_name="region", revision=3)
    assert list(shown) == [
        "set", "revision", "identity", "code", "name", "latitude_deg", "longitude_deg", "elevation_m", "landable",
        "feature", "country", "radio", "runways", "description", "source", "inspected_on",
    ]  # fmt: skip
    assert shown["longitude_deg"] == -11.34
    assert shown["radio"] == [{"channel": "122.480", "purpose": None}]
    assert list(shown["runways"][0]) == ["designator", "heading_true_deg", "length_m", "width_m", "surface", "one_way"]
    assert waypoint_plain(waypoint, set_name="region", revision=3, distance_m=1234.56789)["distance_m"] == 1234.568


@pytest.mark.parametrize(("course", "shown"), [(359.99996, 0.0), (360.0, 0.0), (-0.5, 359.5), (310.81007, 310.8101)])
def test_a_course_is_rounded_and_stays_below_360(course: float, shown: float) -> None:
    assert course_degrees(course) == shown


def test_a_length_has_no_negative_zero() -> None:
    assert str(metres(-0.0001)) == "0.0"


def test_a_zone_shows_what_applies_and_null_for_the_rest() -> None:
    shown = zone_plain(parse_zone("keyhole 500m 90deg 10km"))
    assert (shown["core_radius_m"], shown["radius_m"], shown["opening_deg"]) == (500.0, 10_000.0, 90.0)
    assert shown["length_m"] is None and shown["axis_deg"] is None
    assert shown["text"] == "keyhole 500m 90deg 10km"


def test_a_finding_unfolds_its_evidence_and_its_mends() -> None:
    mend = Suggestion("A", "two digits exchanged", Position.at(47.1, 11.2))
    finding = Finding(
        "f1", "slip", Severity.ERROR, ("A", "B"), "m", {"pairs": (("A", "B", 1.5),)}, mend, (), Acceptance("me", "why")
    )
    shown = finding_plain(finding)
    assert shown["evidence"] == {"pairs": [["A", "B", 1.5]]}
    assert shown["suggestion"] == {
        "code": "A", "latitude_deg": 47.1, "longitude_deg": 11.2, "reason": "two digits exchanged",
    }  # fmt: skip
    assert shown["accepted"] == {"by": "me", "why": "why"}


def test_a_problem_has_a_suggestion_only_where_there_is_one() -> None:
    assert "suggestion" not in problem_plain(RowProblem(2, "code", "A", "bad-code", "m"))
    assert problem_plain(RowProblem(2, "radio", "123.52", "no-such-channel", "m", "123.525"))["suggestion"] == "123.525"


def test_canonical_json_does_not_depend_on_the_order_of_keys() -> None:
    assert canonical_json({"b": 1, "a": ["ü"]}) == canonical_json({"a": ["ü"], "b": 1}) == '{"a":["ü"],"b":1}'
    with pytest.raises(ValueError):
        canonical_json(float("nan"))
