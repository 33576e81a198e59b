"""What elevations tell: fields, towns and summits against a coarse grid, feet for metres, a column in doubt."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest

from taskdb.core.checks.elevations import Ground
from taskdb.core.checks.given import Reference
from taskdb.core.checks.ground_bands import (
    ABOVE_FIELDS_M,
    ABOVE_SUMMITS_M,
    ABOVE_SUMMITS_ON_SHORES_M,
    ABOVE_TOWNS_M,
    BELOW_M,
    are_off_fields,
    beyond_band_m,
    may_be_hill,
)
from taskdb.core.checks.mends import misfit
from taskdb.core.checks.rules import RULES
from taskdb.core.findings import page_of
from taskdb.core.model import Feature, Landable, Position, Runway, Severity, Waypoint
from tests.unit.check_sets import GROUND, findings, point, region

STANDING = [
    # title, longitude, stated metres, what it is, rule and severity: the ground has 400 m, 1,200 m east of 16° E
    ("an aerodrome in feet", 12.0, 1312.0, {"landable": Landable.AERODROME}, ("elevation-unit", Severity.WARNING)),
    (
        "a field with a runway in feet",
        12.0,
        1312.0,
        {"runways": (Runway("09/27"),)},
        ("elevation-unit", Severity.WARNING),
    ),
    ("a town in feet", 12.0, 1312.0, {"feature": Feature.SETTLEMENT}, ("elevation-unit", Severity.WARNING)),
    ("a town high up where land rises", 15.99, 1620.0, {"feature": Feature.SETTLEMENT}, None),
    ("a summit in the flat", 12.0, 740.0, {"feature": Feature.RELIEF}, None),
    ("too high for one", 12.0, 1000.0, {"feature": Feature.RELIEF}, ("elevation-off", Severity.WARNING)),
    ("a tower on a hill", 12.0, 740.0, {"feature": Feature.STRUCTURE}, None),
    ("a hill without a feature", 12.0, 740.0, {}, ("elevation-off", Severity.NOTE)),
    ("a summit in the mountains", 15.99, 3200.0, {"feature": Feature.RELIEF}, None),
    ("the same without a feature", 15.99, 3200.0, {}, None),
    (
        "the same as an aerodrome, in feet",
        15.99,
        3200.0,
        {"landable": Landable.FIELD},
        ("elevation-unit", Severity.WARNING),
    ),
    ("too high for any", 15.99, 4000.0, {}, ("elevation-unit", Severity.WARNING)),
]


@pytest.mark.parametrize("case", STANDING, ids=[case[0] for case in STANDING])
def test_elevations_by_what_stands_there(case: tuple) -> None:
    _, longitude, elevation, what, expected = case
    point_ = point("X", 48.0, longitude, elevation_m=elevation, **what)
    found = [
        (finding.rule, finding.severity)
        for rule in ("elevation-off", "elevation-unit")
        for finding in findings([*region(), point_], rule)
    ]
    assert found == ([expected] if expected else [])


def test_a_hill_that_feet_would_explain_is_noted_and_not_mended() -> None:
    # Říp stands at 459 m over land of 166 to 222 m in the grid; 459 ft are 140 m.
    (finding,) = findings([*region(), point("X", 48.0, 12.0, elevation_m=745.0)], "elevation-off")
    assert (finding.severity, finding.suggestion, finding.alternatives) == (Severity.NOTE, None, ())
    low = replace(GROUND, values=np.full((2160, 4320), 20, dtype=np.uint8))
    (finding,) = findings([*region(), point("X", 48.0, 12.0, elevation_m=530.0)], "elevation-unit", elevation=low)
    assert (finding.severity, finding.suggestion, finding.alternatives) == (Severity.NOTE, None, ())
    assert "a hill stands there, or feet were taken for metres (530 ft are 162 m)" in finding.message


def test_an_island_may_be_one_mountain() -> None:
    values = np.full((2160, 4320), 255, dtype=np.uint8)
    values[:, (180 + 16) * 12 :] = 255
    values[503:505, 2304:2306] = 6
    sea = replace(GROUND, values=values)
    stromboli = point("X", 48.02, 12.02, elevation_m=924.0)
    for rule in ("elevation-off", "elevation-unit"):
        assert findings([*region(), stromboli], rule, elevation=sea) == []
        assert findings([*region(), replace(stromboli, landable=Landable.FIELD)], "elevation-off", elevation=sea)


def test_summits_do_not_make_a_doubt_about_the_column() -> None:
    high = [replace(one, feature=Feature.RELIEF) for one in region(elevation_m=1000.0)[:40]]
    found = findings([*high, *region(elevation_m=400.0)[40:]], "elevation-off")
    assert len(found) == 40 and all(len(finding.codes) == 1 for finding in found)


def test_a_source_in_feet_is_told_once_and_the_rest_one_by_one() -> None:
    rows = region(elevation_m=400.0, landable=Landable.FIELD)
    for number in range(30):
        rows[number] = replace(rows[number], elevation_m=1312.0, source="old list")
    rows[50] = replace(rows[50], elevation_m=1312.0)
    found = findings(rows[:80] + rows[80:], "elevation-unit")
    once = [finding for finding in found if len(finding.codes) > 1]
    assert len(found) == 1 and len(once[0].codes) == 31 and "--elevation-unit" in once[0].message
    others = [replace(one, code=f"Q{one.code}") for one in region(elevation_m=400.0, landable=Landable.FIELD)]
    found = findings([*rows, *others], "elevation-unit")
    assert sorted(len(finding.codes) for finding in found) == [1, 30]
    assert next(f for f in found if len(f.codes) == 30).evidence["source"] == "old list"


def test_a_reference_whose_elevation_the_ground_does_not_bear_out_is_the_wrong_side() -> None:
    mine = point("X", 48.0, 12.0, elevation_m=400.0, landable=Landable.AERODROME)
    theirs = Reference("old", "set", (replace(mine, elevation_m=1312.0),))
    assert findings([*region(), mine], "elevation-unit", references=(theirs,)) == []
    wrong, right = replace(mine, elevation_m=1312.0), Reference("new", "set", (mine,))
    (finding,) = findings([*region(), wrong], "elevation-unit", references=(right,))
    assert finding.evidence["reference"] == "new"


def test_the_page_tells_the_bands_as_they_are() -> None:
    page = page_of("elevation-off", RULES)
    for band in (BELOW_M, ABOVE_FIELDS_M, ABOVE_TOWNS_M, ABOVE_SUMMITS_M, ABOVE_SUMMITS_ON_SHORES_M):
        assert re.search(r"\s+".join(f"{metres:.0f}" for metres in band), page), band


@pytest.mark.parametrize("ground", [Ground(1_500.0, 1_400.0, 1_600.0), Ground(1_500.0, 1_000.0, 2_000.0), None])
def test_how_well_an_elevation_fits_is_a_probability(ground: Ground | None) -> None:
    # Over all heights it comes to one; at a coast the half below the sea is not asked for (misstated: 2 %).
    fits = [math.exp(-misfit(point("X", 48.0, 12.0, elevation_m=float(metres)), ground)) for metres in range(1, 3_001)]
    assert math.fsum(fits) == pytest.approx(1.0 if ground is not None else 0.02 + 0.98 / 2, abs=0.01)


@pytest.mark.parametrize(("here", "there"), [(1_312.0, None), (None, 1_312.0), (1_312.0, 0.0), (0.0, 1_312.0)])
def test_a_height_that_one_side_does_not_state_is_no_unit_mixed_up(here: float | None, there: float | None) -> None:
    rows = region(elevation_m=400.0)
    listed = Reference("list", "file", (replace(rows[0], elevation_m=there), *rows[1:]))
    checked = [replace(rows[0], elevation_m=here), *rows[1:]]
    assert findings(checked, "elevation-unit", references=(listed,), elevation=None) == []


def test_an_elevation_that_the_sieve_lets_go_is_within_every_band():
    random = np.random.default_rng(4)
    lows = random.uniform(-400, 3_000, 3_000).round()
    highs = lows + random.choice([30.0, 100.0, 250.0, 500.0, 1_000.0, 1_500.0], len(lows)).round()
    near = np.where(random.random(len(lows)) < 0.5, lows, highs) + random.uniform(-1_000, 2_500, len(lows)).round()
    elevations = np.where(random.random(len(lows)) < 0.05, 0.0, near)
    is_off = are_off_fields(elevations, _Extremes(lows, highs))
    assert 200 < is_off.sum() < 2_900
    for feature in (None, Feature.SETTLEMENT, Feature.RELIEF):
        for landable in (None, Landable.FIELD):
            for off, low, high, metres in zip(is_off, lows, highs, elevations, strict=True):
                one = Waypoint("X", "x", Position.at(48, 11), float(metres), landable, feature)
                ground = Ground(float(low), float(low), float(high))
                if not off:
                    assert beyond_band_m(one, ground) == 0.0 and not may_be_hill(one, ground)
                elif landable is Landable.FIELD:
                    assert beyond_band_m(one, ground) > 0.0


class _Extremes:
    """Grounds that are known by their lowest and highest cells alone."""

    def __init__(self, lowest, highest):
        self.extremes_m, self.is_known = (lowest, highest), np.ones(len(lowest), dtype=bool)
