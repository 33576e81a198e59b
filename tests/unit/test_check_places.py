"""Places as a reference by name: hits, non-hits and mends, as data."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from geographiclib.geodesic import Geodesic

from taskdb.core.checks.gazetteer import Gazetteer, Place
from taskdb.core.model import Finding, Position, Severity, Typed, Waypoint
from taskdb.core.names import fold
from tests.unit.check_sets import findings, point, region

HOME = Place("Altdorf", "AA", Position.at(47.6137, 11.5237))


def places(*listed: Place) -> Gazetteer:
    by_name: dict[str, tuple[Place, ...]] = {}
    for one in listed:
        by_name[fold(one.name)] = (*by_name.get(fold(one.name), ()), one)
    return Gazetteer("GeoNames (geonames.org, CC BY 4.0)", by_name)


def told(stands: Waypoint, *listed: Place, rows: list[Waypoint] | None = None) -> list[Finding]:
    return findings([*(rows or region()), stands], "away-from-namesake", places=places(*listed))


def altdorf(latitude: float, longitude: float, **more: Any) -> Waypoint:
    typed = Typed(notation="decimal-degrees", decimals=4)
    return point("ALT", latitude, longitude, **({"name": "Altdorf", "country": "AA", "typed": typed} | more))


def test_a_slip_away_from_the_place_of_that_name_is_told_with_the_own_place() -> None:
    # The point stands 600 m from the centre, but for one wrong digit.
    (finding,) = told(altdorf(47.6181, 12.5201), HOME)
    assert (finding.codes, finding.severity) == (("ALT",), Severity.WARNING)
    assert finding.suggestion is not None
    assert finding.suggestion.position == Position.at(47.6181, 11.5201)
    assert "Altdorf (AA) in GeoNames (geonames.org, CC BY 4.0)" in finding.message
    assert finding.evidence["left_over_m"] == pytest.approx(570, abs=30)
    assert len(finding.alternatives) <= 2


SILENT = [
    ("two makers have a town a kilometre apart", altdorf(47.6237, 11.5317), (HOME,)),
    ("a namesake is near", altdorf(47.6181, 12.5201), (HOME, Place("Altdorf", "AA", Position.at(47.58, 12.55)))),
    ("the name is not known", altdorf(47.6181, 12.5201, name="Altdorf church"), (HOME,)),
    ("no name", altdorf(47.6181, 12.5201, name=" "), (HOME,)),
    ("no slip leads there", altdorf(47.9263, 12.2718), (HOME,)),
    ("the namesake is in another country", altdorf(47.6181, 12.5201, country="BB"), (HOME,)),
    ("the list is empty", altdorf(47.6181, 12.5201), ()),
]


@pytest.mark.parametrize("case", SILENT, ids=[case[0] for case in SILENT])
def test_it_is_silent_where(case: tuple[str, Waypoint, tuple[Place, ...]]) -> None:
    _, stands, listed = case
    assert told(stands, *listed) == []


def test_a_point_without_a_country_belongs_to_those_of_its_set() -> None:
    rows = region(None)
    stands = altdorf(47.6181, 12.5201, country=None)
    assert len(told(stands, HOME, rows=rows)) == 1
    assert told(stands, HOME._replace(country="BB"), rows=rows) == []


def test_without_a_list_of_places_the_rule_is_left_out() -> None:
    assert findings([*region(), altdorf(47.6181, 12.5201)], "away-from-namesake") == []


def test_the_finding_goes_when_the_point_is_mended() -> None:
    (finding,) = told(altdorf(47.6181, 12.5201), HOME)
    assert finding.suggestion is not None and finding.suggestion.position is not None
    assert told(replace(altdorf(47.6181, 12.5201), position=finding.suggestion.position), HOME) == []


@pytest.mark.parametrize(("metres", "is_told"), [(1_990.0, True), (2_010.0, False)])
@pytest.mark.parametrize("azimuth_deg", [0.0, 90.0, 180.0])
def test_a_slip_leads_to_a_namesake_within_two_kilometres(azimuth_deg: float, metres: float, is_told: bool) -> None:
    # One degree of longitude wrong, from so far beside the centre (geographiclib).
    true = Geodesic.WGS84.Direct(HOME.position.latitude_deg, HOME.position.longitude_deg, azimuth_deg, metres)
    assert bool(told(altdorf(true["lat2"], true["lon2"] + 1.0), HOME)) is is_told
