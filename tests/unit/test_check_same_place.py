"""Rules same-place and one-name-two-places: what is one place, and what is one name too many."""

from __future__ import annotations

import pytest

from taskdb.core.checks.given import CheckInput
from taskdb.core.checks.rules import run_checks
from taskdb.core.model import Finding, Severity, Waypoint
from tests.building import waypoint

# 0.001 degree of latitude is 111.2 m at 47° N (WGS84 meridian arc).
STEP = 0.001


def points(*rows: tuple[str, str, float, float]) -> tuple[Waypoint, ...]:
    return tuple(waypoint(*row) for row in rows)


def found(waypoints: tuple[Waypoint, ...], rule: str, within_m: float = 250.0) -> list[Finding]:
    return [
        finding for finding in run_checks(CheckInput("region", 1, waypoints, within_m=within_m)) if finding.rule == rule
    ]


CASES = [
    ("one name, 111 m apart", [("A", "Hill", 47, 11), ("B", "HILL", 47 + STEP, 11)], [("A", "B")], Severity.WARNING),
    ("other names, 111 m apart", [("A", "Hill", 47, 11), ("B", "Mill", 47 + STEP, 11)], [("A", "B")], Severity.NOTE),
    ("other names, one position", [("A", "Hill", 47, 11), ("B", "Mill", 47, 11)], [("A", "B")], Severity.WARNING),
    ("334 m apart", [("A", "Hill", 47, 11), ("B", "Hill", 47 + 3 * STEP, 11)], [], None),
    ("across 180°", [("A", "Hill", 0, 179.9995), ("B", "Hill", 0, -179.9995)], [("A", "B")], Severity.WARNING),
    ("at the pole", [("A", "Pole", 90, 0), ("B", "Pole", 89.9999, 120)], [("A", "B")], Severity.WARNING),
    (
        "a chain of three is one finding",
        [("C", "Hill", 47, 11), ("A", "Mill", 47 + STEP, 11), ("B", "Rill", 47 + 3 * STEP, 11)],
        [("A", "B", "C")],
        Severity.NOTE,
    ),
]


@pytest.mark.parametrize(("title", "rows", "codes", "severity"), CASES, ids=[case[0] for case in CASES])
def test_same_place(title: str, rows: list, codes: list, severity: Severity | None) -> None:
    findings = found(points(*rows), "same-place")
    assert [finding.codes for finding in findings] == codes
    assert all(finding.severity is severity for finding in findings)


def test_every_pair_below_the_distance_is_listed_once_in_code_order() -> None:
    rows = [("C", "x", 47, 11), ("A", "y", 47, 11), ("B", "z", 47 + STEP, 11), ("D", "u", 47 + 3 * STEP, 11)]
    (finding,) = found(points(*rows), "same-place")
    assert [pair[:2] for pair in finding.evidence["pairs"]] == [["A", "B"], ["A", "C"], ["B", "C"], ["B", "D"]]
    assert finding.evidence["pairs"][1][2] == 0.0


def test_a_wide_distance_does_not_make_one_finding_of_a_whole_valley() -> None:
    rows = [(f"P{k:02d}", f"name {k}", 47 + k * STEP, 11) for k in range(30)]
    findings = found(points(*rows), "same-place", within_m=150.0)
    assert len(findings) == 29
    assert all(len(finding.codes) == 2 for finding in findings)


def test_five_thousand_points_on_one_spot_are_one_finding() -> None:
    rows = [(f"P{k:04d}", f"name {k}", 47, 11) for k in range(5000)]
    (finding,) = found(points(*rows), "same-place")
    assert len(finding.codes) == 5000
    assert len(finding.evidence["pairs"]) == 4999
    assert finding.evidence["truncated"] is True


NAMES = [
    ("far apart", [("A", "Neustadt", 47, 11), ("B", "neustadt", 48, 11)], [("A", "B")]),
    ("one place", [("A", "Neustadt", 47, 11), ("B", "Neustadt", 47 + STEP, 11)], []),
    ("other names", [("A", "Neustadt", 47, 11), ("B", "Altstadt", 48, 11)], []),
    ("no names", [("A", "", 47, 11), ("B", "", 48, 11)], []),
]


@pytest.mark.parametrize(("title", "rows", "codes"), NAMES, ids=[case[0] for case in NAMES])
def test_one_name_two_places(title: str, rows: list, codes: list) -> None:
    findings = found(points(*rows), "one-name-two-places")
    assert [finding.codes for finding in findings] == codes
    assert all(finding.severity is Severity.NOTE for finding in findings)


@pytest.mark.parametrize(("count", "pairs", "is_truncated"), [(63, 1953, False), (64, 63, True)])
def test_up_to_two_thousand_pairs_on_one_spot_are_all_listed(count: int, pairs: int, is_truncated: bool) -> None:
    # 63 points make 63 · 62 / 2 = 1,953 pairs, 64 make 2,016.
    (finding,) = found(points(*((f"P{k:02d}", f"name {k}", 47, 11) for k in range(count))), "same-place")
    assert len(finding.evidence["pairs"]) == pairs
    assert ("truncated" in finding.evidence) is is_truncated


def test_one_position_and_a_small_distance_are_told_apart_in_words() -> None:
    (same,) = found(points(("A", "Hill", 47, 11), ("B", "Mill", 47, 11)), "same-place")
    (near,) = found(points(("A", "Hill", 47, 11), ("B", "Mill", 47 + STEP, 11)), "same-place")
    assert "stand at one and the same position" in same.message
    assert "lie within 111 m of each other" in near.message
