"""Rule `off-terrain`: an elevation against fine terrain, by what stands there; the slip that would make it right."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from taskdb.core.checks.gazetteer import Gazetteer, Place
from taskdb.core.checks.ground_bands import Standing
from taskdb.core.checks.terrain_fit import WITHIN_M, terrain_fits
from taskdb.core.ground import GroundHeights, filled_by, filled_text
from taskdb.core.model import Feature, Landable, Position, Severity, Typed
from tests.unit.check_sets import findings, point, region, typed_in_minutes

FIELD = {"landable": Landable.AERODROME}
SUMMIT = {"feature": Feature.RELIEF}


def hills(latitude: np.ndarray, longitude: np.ndarray) -> np.ndarray:
    """Flat land at 500 m west of 12° E, and east of it a slope of 10,000 m a degree of longitude."""
    return 500.0 + 10_000.0 * np.clip(longitude - 12.0, 0.0, 0.1)


TERRAIN = GroundHeights("terrain test", 90.0, True, hills)

STANDING = [
    # title, longitude, stated metres, what it is, severity: on flat land 35 m for all, 70 m above what may be a summit
    ("right", 11.9, 500.0, FIELD, None),
    ("within", 11.9, 534.0, FIELD, None),
    ("just above", 11.9, 536.0, FIELD, Severity.NOTE),
    ("just below", 11.9, 464.0, FIELD, Severity.NOTE),
    ("far below", 11.9, 400.0, FIELD, Severity.WARNING),
    ("60 m beyond", 11.9, 596.0, FIELD, Severity.WARNING),
    ("a town as a field", 11.9, 536.0, {"feature": Feature.SETTLEMENT}, Severity.NOTE),
    ("a top stands above its cells", 11.9, 569.0, SUMMIT, None),
    ("but not so far", 11.9, 571.0, SUMMIT, Severity.NOTE),
    ("nor below", 11.9, 464.0, SUMMIT, Severity.NOTE),
    ("what says nothing may be a top", 11.9, 569.0, {}, None),
    ("zero is no evidence", 11.9, 0.0, FIELD, None),
    ("nor is none", 11.9, None, FIELD, None),
]


@pytest.mark.parametrize("case", STANDING, ids=[case[0] for case in STANDING])
def test_elevations_by_what_stands_there(case: tuple) -> None:
    _, longitude, elevation, what, expected = case
    one = point("X", 48.0, longitude, elevation_m=elevation, **what)
    found = [finding.severity for finding in findings([*region(), one], "off-terrain", terrain=TERRAIN)]
    assert found == ([] if expected is None else [expected])


def test_the_tolerance_follows_the_relief_within_what_a_position_may_be_off() -> None:
    position = Position.at(48.0, 12.05)
    (fit,) = terrain_fits(TERRAIN, [point("X", 48.0, 12.05, **FIELD)], [position])
    assert fit is not None
    # 200 m east or west at 48° N are 0.00269 degrees: 27 m of this slope.
    relief = 2 * 10_000 * WITHIN_M[Standing.FIELD] / (111_195 * np.cos(np.radians(48)))
    assert fit.highest_m - fit.lowest_m == pytest.approx(relief, abs=0.01)
    assert fit.height_m == pytest.approx(1000.0)
    assert fit.below_m == pytest.approx(35 + 0.15 * relief) and fit.above_m == fit.below_m
    assert fit.beyond_m(fit.highest_m + fit.above_m) == pytest.approx(0.0, abs=1e-9)
    assert fit.beyond_m(fit.highest_m + fit.above_m + 1.0) == pytest.approx(1.0)


def test_terrain_speaks_in_place_of_the_grid_where_it_knows_the_ground() -> None:
    # The grid of the tests has 400 m: a field at 640 m is off by it, and right by the terrain.
    high = replace(TERRAIN, heights_m=lambda latitude, longitude: np.where(latitude < 48.5, 640.0, np.nan))
    there, beyond = (point(code, lat, 12.0, elevation_m=640.0, **FIELD) for code, lat in (("X", 48.0), ("Y", 49.0)))
    points = [*region(), there, beyond]
    assert {f.codes[0] for f in findings(points, "elevation-off")} == {"X", "Y"}
    assert {f.codes[0] for f in findings(points, "elevation-off", terrain=high)} == {"Y"}
    assert findings(points, "off-terrain", terrain=high) == []
    # Without terrain the rule does not run; one as coarse as the grid knows no better than it.
    assert findings(points, "off-terrain") == []
    assert findings(points, "off-terrain", terrain=replace(high, spacing_m=900.0)) == []


def test_the_slip_that_makes_the_elevation_right_is_offered() -> None:
    # The true place is 12°03.000' E, at 1,000 m; its minutes were typed the other way round.
    wrong = typed_in_minutes(point("X", 48.0, 12.5, elevation_m=1000.0, **FIELD), "48°00.000'N", "012°30.000'E")
    (finding,) = findings([*region(), wrong], "off-terrain", terrain=TERRAIN)
    assert finding.suggestion is None
    assert Position.at(48.0, 12.05) in [mend.position for mend in finding.alternatives]
    # On ground that lies as high everywhere nothing tells that place from others.
    level = replace(TERRAIN, heights_m=lambda latitude, longitude: longitude * 0 + 500.0)
    (blind,) = findings([*region(), wrong], "off-terrain", terrain=level)
    assert [mend.position for mend in blind.alternatives] != [mend.position for mend in finding.alternatives]
    assert finding.evidence["terrain"] == TERRAIN.source


def test_a_settlement_of_its_name_decides_between_slips() -> None:
    wrong = typed_in_minutes(
        point("X", 48.0, 12.2, "Altdorf", elevation_m=500.0, feature=Feature.SETTLEMENT), "48°00.000'N", "012°12.000'E"
    )
    there = Position.at(48.0, 11.2)
    places = Gazetteer("test", {"altdorf": (Place("Altdorf", "AA", there),)})
    (finding,) = findings([*region(), wrong], "off-terrain", terrain=TERRAIN, places=places)
    assert finding.alternatives[0].position == there
    (alone,) = findings([*region(), wrong], "off-terrain", terrain=TERRAIN)
    assert [mend.position for mend in alone.alternatives] != [mend.position for mend in finding.alternatives]


def test_an_elevation_that_was_filled_in_is_no_evidence_of_where_a_point_belongs() -> None:
    text = filled_text(512.4, TERRAIN)
    assert text == "512 m by terrain test"
    filled = point("X", 48.0, 12.0, elevation_m=512.0, typed=Typed(elevation=text, elevation_unit="m"))
    assert filled_by(filled) == "terrain test"
    assert filled_by(replace(filled, typed=Typed(elevation="512 m"))) is None
    assert filled_by(replace(filled, typed=None)) is None and filled_by(replace(filled, elevation_m=None)) is None


def test_many_at_once_are_a_doubt_about_the_column() -> None:
    rows = region(elevation_m=500.0, **FIELD)
    feet = [replace(one, elevation_m=1640.0) for one in rows]
    found = findings(feet, "off-terrain", terrain=replace(TERRAIN, heights_m=lambda lat, lon: lat * 0 + 500.0))
    assert len(found) == 1 and len(found[0].codes) == 100
    one = findings([*rows[1:], feet[0]], "off-terrain", terrain=replace(TERRAIN, heights_m=lambda a, o: a * 0 + 500.0))
    assert len(one) == 1 and "read in the other unit it is 500 m and fits" in one[0].message
