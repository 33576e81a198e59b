"""Where gliders stood, gathered into places, and a set's aerodromes held against them."""

from __future__ import annotations

from dataclasses import replace

import pytest
from pyproj import Geod

from taskdb.core.checks.flown_places import (
    ELEVATION_OFF_M,
    is_elevation_off,
    marked_by,
    misplaced_aerodromes,
)
from taskdb.core.checks.given import CheckInput
from taskdb.core.checks.rules import run_checks
from taskdb.core.flights.places import ONE_PLACE_M, Stood, gather_places
from taskdb.core.model import Landable, Position, Severity, Typed
from tests.building import waypoint

GEOD = Geod(ellps="WGS84")
HOME = Position.at(48.872, 11.8105)


def off(position, bearing_deg, metres):
    lon, lat, _ = GEOD.fwd(position.longitude_deg, position.latitude_deg, bearing_deg, metres)
    return Position.at(lat, lon)


def stood(position=HOME, day="2027-06-14", is_take_off=True, altitude=440.0):
    return Stood(position, day, is_take_off, altitude)


def aerodrome(code, at, **values):
    return waypoint(code, code.title(), at.latitude_deg, at.longitude_deg, landable=Landable.AERODROME, **values)


DAYS = ("2027-06-14", "2027-06-15")
ON_TWO_DAYS = [stood(off(HOME, 90, 100.0 * n), day) for day in DAYS for n in range(3)]


def test_gliders_along_a_runway_stood_at_one_place_and_its_middle_is_the_median():
    along = [stood(off(HOME, 90, metres)) for metres in (0, 1_400, 2_800)]
    (place,) = gather_places(along)
    assert place.take_offs == 3 and place.landings == 0 and place.days == ("2027-06-14",)
    assert place.position.longitude_deg == pytest.approx(along[1].position.longitude_deg, abs=1e-6)
    apart = [stood(HOME), stood(off(HOME, 90, ONE_PLACE_M + 5))]
    assert len(gather_places(apart)) == 2
    assert len(gather_places([stood(HOME), stood(off(HOME, 90, ONE_PLACE_M - 5))])) == 1
    assert gather_places([]) == ()


def test_a_place_on_the_antimeridian_is_one():
    both = [stood(Position.at(-17.0, 179.9995)), stood(Position.at(-17.0, -179.9995))]
    (place,) = gather_places(both)
    assert abs(abs(place.position.longitude_deg) - 180.0) < 1e-6


def test_places_of_most_days_come_first():
    field = off(HOME, 0, 30_000)
    places = gather_places([stood(field, is_take_off=False), *ON_TWO_DAYS])
    assert [len(place.days) for place in places] == [2, 1]
    assert (places[1].take_offs, places[1].landings) == (0, 1)


def test_a_waypoint_marks_a_place_within_a_kilometre_and_a_half_of_a_glider():
    (place,) = gather_places([stood(HOME)])
    near, far = waypoint("A", "A", *_at(off(HOME, 10, 1_495))), waypoint("B", "B", *_at(off(HOME, 10, 1_505)))
    assert [point.code for _, point in marked_by(place, [far, near])] == ["A"]


def _at(position):
    return position.latitude_deg, position.longitude_deg


def test_the_nearest_aerodrome_without_gliders_of_its_own_is_the_one_that_is_misplaced():
    places = gather_places(ON_TWO_DAYS)
    beside = aerodrome("BESIDE", off(HOME, 200, 3_000))
    (found,) = misplaced_aerodromes(places, [beside, aerodrome("FARTHER", off(HOME, 10, 4_500))])
    assert found.waypoint is beside and found.away_m == pytest.approx(3_000, abs=1)
    assert misplaced_aerodromes(places, [beside, aerodrome("HERE", off(HOME, 10, 900))]) == (), "it is marked"
    assert misplaced_aerodromes(places, [replace(beside, landable=Landable.FIELD)]) == ()
    assert misplaced_aerodromes(places, [aerodrome("AWAY", off(HOME, 200, 5_100))]) == (), "no slip explains it"


@pytest.mark.parametrize(
    "evidence",
    [
        [stood(off(HOME, 90, 100.0 * n)) for n in range(5)],
        [stood(day=day, is_take_off=False) for day in DAYS],
        [stood(), stood(day="2027-06-15", is_take_off=False)],
    ],
)
def test_one_day_of_take_offs_or_landings_alone_speak_against_no_aerodrome(evidence):
    assert misplaced_aerodromes(gather_places(evidence), [aerodrome("BESIDE", off(HOME, 200, 3_000))]) == ()


IN_MINUTES = Typed(notation="degrees-minutes", decimals=3)
# 48°52.320' typed as 48°25.320'.
SWAPPED = aerodrome("SWAPPED", Position.at(48.422, 11.8105), typed=IN_MINUTES, elevation_m=389.0)


def test_a_slip_that_leads_to_where_gliders_took_off_is_the_suggestion():
    findings = run_checks(CheckInput("s", 1, [SWAPPED], flights=gather_places(ON_TWO_DAYS)))
    (found,) = [one for one in findings if one.rule == "away-from-flights"]
    assert found.severity is Severity.WARNING and found.suggestion is not None
    assert found.suggestion.position == Position.at(48.872, 11.8105)
    assert "52" in found.message and found.evidence["days"] == 2
    silent = run_checks(CheckInput("s", 1, [SWAPPED]))
    assert not [one for one in silent if one.rule == "away-from-flights"], "without flights it does not run"


def test_an_elevation_that_does_not_fit_speaks_against_a_slip():
    high = replace(SWAPPED, elevation_m=1_200.0)
    assert misplaced_aerodromes(gather_places(ON_TWO_DAYS), [high]) == ()


def test_of_several_aerodromes_that_a_slip_explains_none_is_sure():
    # 11°48.630' typed as 11°84.630' cannot be; one digit of the degrees can.
    other = aerodrome("OTHER", Position.at(48.872, 12.8105), typed=IN_MINUTES)
    findings = run_checks(CheckInput("s", 1, [SWAPPED, other], flights=gather_places(ON_TWO_DAYS)))
    told = [one for one in findings if one.rule == "away-from-flights"]
    assert {one.codes for one in told} == {("SWAPPED",), ("OTHER",)}
    assert all(one.severity is Severity.NOTE for one in told)


@pytest.mark.parametrize(
    ("stated", "is_told"),
    [
        (440.0 - ELEVATION_OFF_M, False),
        (440.0 - ELEVATION_OFF_M - 1, True),
        (440.0 + ELEVATION_OFF_M + 1, True),
        (None, False),
    ],
)  # fmt: skip
def test_elevations_are_told_only_beyond_a_hundred_metres(stated, is_told):
    places = gather_places(ON_TWO_DAYS)
    home = aerodrome("HOME", HOME, elevation_m=stated)
    assert is_elevation_off(home, places[0]) is is_told
    findings = run_checks(CheckInput("s", 1, [home], flights=places))
    told = [one for one in findings if one.rule == "elevation-off-flights"]
    assert bool(told) is is_told and all(one.severity is Severity.NOTE for one in told)


def test_an_elevation_in_the_other_unit_is_said():
    # 440 m are 1,443.6 ft (1 ft = 0.3048 m, ISO 80000-3).
    home = aerodrome("HOME", HOME, elevation_m=1_443.6)
    findings = run_checks(CheckInput("s", 1, [home], flights=gather_places(ON_TWO_DAYS)))
    (told,) = [one for one in findings if one.rule == "elevation-off-flights"]
    assert "read in the other unit it is 440 m and fits" in told.message


@pytest.mark.parametrize(("away_m", "severity"), [(2_900, Severity.WARNING), (3_100, Severity.NOTE)])
def test_an_aerodrome_that_no_slip_explains_is_a_warning_only_where_it_is_hardly_off(away_m, severity):
    # On 220° both coordinates differ, so that no slip in one of them leads there.
    beside = aerodrome("BESIDE", off(HOME, 220, away_m), typed=IN_MINUTES)
    findings = run_checks(CheckInput("s", 1, [beside], flights=gather_places([stood(day=day) for day in DAYS])))
    (told,) = [one for one in findings if one.rule == "away-from-flights"]
    assert told.suggestion is None and told.severity is severity
