"""Catalogues that nobody here typed: what the checks say of them loudly is judged by hand, with the evidence beside it.

`data/untouched/make.py` made them from OurAirports (public domain), GeoNames (CC-BY 4.0), the 101 highest points of New
Zealand (LINZ, CC0) and well-known summits from memory. `judged.csv` has every verdict. They were looked at when the
rules were as good as final; odd degrees (five points), two islands, two rivers were put right for them.
"""

from __future__ import annotations

import csv
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from taskdb.core.checks.certain import sure_mends
from taskdb.core.checks.given import CheckInput, Reference
from taskdb.core.checks.rules import run_checks
from taskdb.core.model import Feature, Finding, Severity, Waypoint
from taskdb.formats.registry import read_set
from taskdb.reference.airports import load_airports
from taskdb.reference.outlines import load_elevation_grid, load_outlines

HERE = Path(__file__).parent / "data" / "untouched"
CATALOGUES = ("ethiopia", "indochina", "iran", "namibia", "papua", "peru")
SEEN_BEFORE = "new-zealand"
"""A catalogue on which the bands for summits were measured."""
FALSE_ALONE_PER_1000 = 2.0
FALSE_WITH_REFERENCE_PER_1000 = 1.0
"""To be 1 once towns are no slips of aerodromes: they are all of the false ones."""


def waypoints_of(name: str) -> tuple[Waypoint, ...]:
    with (HERE / f"{name}.csv").open("rb") as stream:
        reading = read_set(stream)
    assert not reading.problems
    return tuple(record.waypoint for record in reading.records)


@cache
def loud(name: str, *, with_airports: bool = False) -> tuple[Finding, ...]:
    references = (Reference("airports", "airports", load_airports()),) if with_airports else ()
    return tuple(one for one in findings(waypoints_of(name), references) if one.severity is not Severity.NOTE)


def findings(waypoints: tuple[Waypoint, ...], references: tuple[Reference, ...] = ()) -> tuple[Finding, ...]:
    outlines, grid = load_outlines(), load_elevation_grid()
    return run_checks(CheckInput("untouched", 1, waypoints, references, outlines=outlines, elevation=grid))


@cache
def judged() -> dict[tuple[str, str, str], str]:
    with (HERE / "judged.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert all(row["verdict"] in ("right", "false") and len(row["evidence"]) > 40 for row in rows)
    return {(row["catalogue"], row["rule"], row["code"]): row["verdict"] for row in rows}


def verdict_of(name: str, finding: Finding) -> str:
    """Return the verdict by hand; two lists that have one code at two places differ, whatever is right."""
    verdict = judged().get((name, finding.rule, finding.codes[0]))
    if verdict is None and finding.evidence.get("reference_code") == finding.codes[0]:
        return "right"
    assert verdict is not None, f"judge it, in judged.csv: {name}: {finding.rule}: {finding.message}"
    return verdict


def false_per_1000(names: tuple[str, ...], *, with_airports: bool = False) -> float:
    false = points = 0
    for name in names:
        points += len(waypoints_of(name))
        verdicts = [verdict_of(name, one) for one in loud(name, with_airports=with_airports)]
        false += verdicts.count("false")
    assert points > 2000
    return 1000 * false / points


def test_the_catalogues_are_mixed_and_of_the_size_of_a_clubs() -> None:
    for name in (*CATALOGUES, SEEN_BEFORE):
        waypoints = waypoints_of(name)
        kinds = {point.landable if point.feature is None else point.feature for point in waypoints}
        assert 300 <= len(waypoints) <= 700
        assert {"aerodrome", Feature.SETTLEMENT, Feature.STRUCTURE, Feature.RELIEF} <= kinds


def test_false_alarms_alone() -> None:
    assert false_per_1000(CATALOGUES) <= FALSE_ALONE_PER_1000
    assert false_per_1000((*CATALOGUES, SEEN_BEFORE)) <= FALSE_ALONE_PER_1000


@pytest.mark.slow
def test_false_alarms_against_the_airfields() -> None:
    assert false_per_1000(CATALOGUES, with_airports=True) <= FALSE_WITH_REFERENCE_PER_1000


@pytest.mark.slow
def test_no_mend_of_what_nobody_touched_is_sure() -> None:
    for name in (*CATALOGUES, SEEN_BEFORE):
        assert sure_mends(loud(name)) == ()
        assert sure_mends(loud(name, with_airports=True)) == ()


@pytest.mark.parametrize("name", CATALOGUES)
def test_without_what_the_points_are_no_more_is_said(name: str) -> None:
    bare = tuple(replace(point, landable=None, feature=None) for point in waypoints_of(name))
    said = {(one.rule, one.codes) for one in findings(bare) if one.severity is not Severity.NOTE}
    assert {codes for _, codes in said} <= {one.codes for one in loud(name)}


def test_real_summits_are_right() -> None:
    summits = waypoints_of("summits")
    assert len(summits) == 189
    rules = ("elevation-off", "elevation-unit")
    assert [one.message for one in findings(summits) if one.rule in rules] == []
    unnamed = tuple(replace(point, landable=None, feature=None) for point in summits)
    said = [one for one in findings(unnamed) if one.rule in rules]
    # Hills in flat land inland, which feet would explain as well: noted where nothing says that they are hills.
    assert len(said) <= 0.1 * len(summits)
    assert all(one.severity is Severity.NOTE and one.suggestion is None and not one.alternatives for one in said)


def test_settlements_close_together_are_no_misread_group() -> None:
    for name in (*CATALOGUES, SEEN_BEFORE):
        assert [one.message for one in loud(name) if one.rule == "misread-group"] == []
