"""The evidence of the rules on airspace, when their ids go, and what two revisions of an airspace differ in."""

from __future__ import annotations

from dataclasses import replace

import pytest

from taskdb.core.airspace.changes import airspace_changes, changes_plain
from taskdb.core.airspace.extent import area_km2
from taskdb.core.airspace.heights import FlownHeights, parse_limit
from taskdb.core.airspace.volume import Kind
from taskdb.core.model import Finding
from taskdb.core.plain import finding_plain
from taskdb.core.review.rule import Reviewed
from taskdb.core.review.rules import run_review
from tests.unit.review_airspace import across, box, held
from tests.unit.review_examples import AREAS, PLACES, ROUND


def found(given: Reviewed, rule: str) -> list[Finding]:
    return [finding for finding in run_review(given) if finding.rule == rule]


def test_evidence_is_that_of_the_contract() -> None:
    (leg,) = found(held(ROUND, across()), "airspace-on-leg")
    evidence = finding_plain(leg)["evidence"]
    assert evidence.keys() == {"leg", "volume", "stretches_m"}
    assert (evidence["leg"], evidence["volume"]) == (0, "Moor")
    ((begin, end),) = evidence["stretches_m"]
    # 0.25° and 0.35° of longitude at 50° N: 71.7 km a degree.
    assert (begin, end) == pytest.approx((17_925, 25_095), abs=25)
    (point,) = found(held(ROUND, box("East", 10.8, 49.9, 10.9, 50.1)), "airspace-at-point")
    assert finding_plain(point)["evidence"] == {"number": 1, "volumes": ["East"]}


def test_the_share_is_of_the_union_and_undecided_volumes_are_named() -> None:
    # Two boxes over the same eastern half of the area at E60, one of them at a flight level.
    middle = PLACES["E60"].longitude_deg
    twice = (box("A", middle, 49, 12, 51), box("B", middle, 49, 12, 51, "FL195"))
    (zone,) = found(held(AREAS, *twice, kind="assigned-area"), "airspace-in-zone")
    evidence = finding_plain(zone)["evidence"]
    assert evidence["volumes"] == ["A", "B"]
    assert evidence["share"] == pytest.approx(0.5, abs=0.002)
    assert evidence["undecided"] is True and evidence["undecided_volumes"] == ["B"]
    (alone,) = found(held(AREAS, twice[0], kind="assigned-area"), "airspace-in-zone")
    assert "undecided" not in finding_plain(alone)["evidence"]


def test_a_finding_goes_when_the_volume_or_the_verdict_changes_and_stays_else() -> None:
    given = held(ROUND, across("FL045"))
    (first,) = found(given, "airspace-on-leg")
    (again,) = found(replace(given, task=replace(given.task, name="Z")), "airspace-on-leg")
    (decided,) = found(replace(given, flown=FlownHeights(1500.0, qnh_hpa=(1013, 1014))), "airspace-on-leg")
    (lower,) = found(held(ROUND, across("FL040")), "airspace-on-leg")
    assert first.id == again.id
    assert len({first.id, decided.id, lower.id}) == 3
    assert "undecided" in first.evidence and "undecided" not in decided.evidence


def test_equal_revisions_differ_in_nothing() -> None:
    volumes = (across(), box("East", 10.8, 49.9, 10.9, 50.1))
    assert not airspace_changes(volumes, volumes[::-1])
    assert changes_plain(airspace_changes(volumes, volumes)) == {"added": [], "retired": [], "changed": []}


def test_what_came_went_and_changed_is_told_by_name() -> None:
    moor, east, gone = across(), box("East", 10.8, 49.9, 10.9, 50.1), box("Gone", 12, 49, 13, 50)
    moved = replace(across("1500ft MSL"), polygons=box("x", 10.35, 49.9, 10.45, 50.1).polygons)
    grown = box("East", 10.7, 49.9, 11.0, 50.1)
    new = replace(box("New", 14, 49, 15, 50), kind=Kind.KEEP_OUT)
    changes = airspace_changes((moor, east, gone), (new, grown, moved))
    plain = changes_plain(changes)
    assert (plain["added"], plain["retired"]) == (["New"], ["Gone"])
    own = {change["name"]: change for change in plain["changed"]}
    assert own["East"]["ground"] == ["grew"] and own["East"]["moved_m"] == pytest.approx(0, abs=1)
    assert own["East"]["area_km2"] == pytest.approx([area_km2(east), area_km2(grown)], abs=1e-3)
    assert own["Moor"]["ground"] == ["moved"] and own["Moor"]["moved_m"] == pytest.approx(7_170, abs=15)
    assert own["Moor"]["fields"]["floor"] == [
        {"value_m": None, "reference": "GND", "text": "GND"},
        {"value_m": 457.2, "reference": "MSL", "text": "1500ft MSL"},
    ]
    assert own["Moor"]["words"] == ["moved 7.2 km", "floor GND to 1500ft MSL"]


def test_other_fields_and_a_smaller_ground_are_told() -> None:
    before, after = box("East", 10.7, 49.9, 11.0, 50.1), box("East", 10.8, 49.9, 10.9, 50.1, ceiling="FL95")
    (change,) = airspace_changes((before,), (replace(after, times="H24", kind=Kind.DANGER),)).changed
    assert change.fields == ("kind", "ceiling", "times")
    assert change.words[0].startswith("shrank (478")
    assert change.words[1:] == ("kind restricted to danger", "ceiling UNL to FL095", "times none to H24")
    assert parse_limit("FL095") == after.ceiling
