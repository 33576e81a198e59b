"""Zones as people type and read them."""

from __future__ import annotations

import pytest

from taskdb.core.course.zones import (
    BUILT_IN_ZONES,
    allowed_for_role,
    describe_zone,
    is_zone_text,
    parse_zone,
    same_geometry,
    zone_text,
)
from taskdb.core.model import Orientation, Role, Shape, Zone
from taskdb.core.quantities import Units
from taskdb.errors import ExitCode, UsageError


def test_every_shape_is_read_with_its_sizes_in_metres() -> None:
    assert parse_zone("cylinder 5km") == Zone(Shape.CYLINDER, "cylinder 5km", radius_m=5000)
    assert parse_zone("line 1km") == Zone(Shape.LINE, "line 1km", length_m=1000)
    assert parse_zone("sector 90deg") == Zone(Shape.SECTOR, "sector 90deg", opening_deg=90)
    assert parse_zone("sector 90deg 20km") == Zone(Shape.SECTOR, "sector 90deg 20km", opening_deg=90, radius_m=20000)
    assert parse_zone("keyhole 500m 90deg 10km") == Zone(
        Shape.KEYHOLE, "keyhole 500m 90deg 10km", core_radius_m=500, opening_deg=90, radius_m=10000
    )
    assert parse_zone("area 20km") == Zone(Shape.AREA, "area 20km", radius_m=20000)
    assert parse_zone("area 5km..30km") == Zone(Shape.AREA, "area 5km..30km", inner_radius_m=5000, radius_m=30000)
    assert parse_zone("area 0km..30km 040..110") == Zone(
        Shape.AREA, "area 0km..30km 040..110", inner_radius_m=0, radius_m=30000, from_radial_deg=40, to_radial_deg=110
    )


@pytest.mark.parametrize(
    ("text", "metres"),
    [("cylinder 3nmi", 5556.0), ("cylinder 3mi", 4828.032), ("cylinder 1500ft", 457.2), ("cylinder .5km", 500.0)],
)
def test_units_are_told_apart(text: str, metres: float) -> None:
    # 1 NM = 1852 m, 1 ft = 0.3048 m (ICAO Annex 5); 1 statute mile = 1609.344 m.
    assert parse_zone(text).radius_m == pytest.approx(metres, abs=1e-9)


@pytest.mark.parametrize("word", [o.value for o in Orientation if o is not Orientation.BEARING])
def test_an_orientation_may_follow_sector_keyhole_and_line(word: str) -> None:
    for text in ("sector 90deg", "sector 90deg 20km", "keyhole 500m 90deg 10km", "line 1km"):
        zone = parse_zone(f"{text} {word}")
        assert zone.orientation == Orientation(word)
        assert zone.axis_deg is None


def test_a_bare_number_behind_is_a_true_bearing_and_never_a_size() -> None:
    assert parse_zone("line 1km 310").axis_deg == 310
    sector = parse_zone("sector 90deg 235")
    assert (sector.orientation, sector.axis_deg, sector.radius_m) == (Orientation.BEARING, 235, None)
    assert parse_zone("sector 90deg 20km 235deg").axis_deg == 235
    assert parse_zone("keyhole 500m 90deg 10km 360").axis_deg == 0


def test_case_and_blanks_do_not_matter_and_units_stay_as_typed() -> None:
    assert parse_zone("  Keyhole 500 M  90 deg 10 KM ").text == "keyhole 500m 90deg 10km"
    assert parse_zone("area 5 km .. 30 km 040 .. 110").text == "area 5km..30km 040..110"
    assert parse_zone("cylinder 3 nmi").text == "cylinder 3nmi"


@pytest.mark.parametrize(
    "text", ["cylinder 5", "area 5..30km", "area 20", "line 1", "sector 90", "sector 90 20km", "keyhole 500 90deg 10km"]
)
def test_a_number_without_its_unit_is_refused_as_such(text: str) -> None:
    with pytest.raises(UsageError) as refused:
        parse_zone(text)
    assert refused.value.code == "missing-unit"
    assert refused.value.exit_code is ExitCode.USAGE
    assert "unit" in refused.value.message


@pytest.mark.parametrize(
    "text",
    [
        "", "circle 5km", "cylinder", "cylinder 5km 310", "cylinder 0m", "cylinder -5km", "cylinder 2000km", "line",
        "sector", "sector 0deg", "sector 360deg", "sector 90deg sideways", "sector 90deg 361", "keyhole 500m",
        "keyhole 500m 90deg", "area 30km..5km", "area 5km..5km", "area ..5km", "area 5km..30km 040",
        "area 20km 10..400",
        "area 5km..30km 040..110 235",
    ],
)  # fmt: skip
def test_what_is_no_zone_is_refused_with_the_forms(text: str) -> None:
    with pytest.raises(UsageError) as refused:
        parse_zone(text)
    assert refused.value.code == "bad-zone"
    assert "keyhole 500m 90deg 10km" in (refused.value.hint or "")


def test_all_reasons_are_given_at_once() -> None:
    with pytest.raises(UsageError) as refused:
        parse_zone("keyhole 500 400deg 10 sideways")
    assert len(refused.value.details["reasons"]) == 4


@pytest.mark.parametrize(
    "text", ["cylinder 5km", "Line 1km", "area 5km..30km", "sector 90deg", "cylinder 5", "area .5km"]
)
def test_a_shape_before_a_number_is_a_zone_among_words(text: str) -> None:
    assert is_zone_text(text)


@pytest.mark.parametrize("text", ["HOME", "cylinder", "Area North", "51.5,-1.2", "line-up 5", "5km", ""])
def test_other_words_are_points(text: str) -> None:
    assert not is_zone_text(text)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("cylinder 5km", "cylinder, radius 5 km"),
        ("cylinder 500m", "cylinder, radius 500 m"),
        ("line 1km", "line 1 km, 500 m each side"),
        ("line 3km 310", "line 3 km, 1.5 km each side"),
        ("sector 90deg 20km 225", "sector 90°, radius 20 km, opens towards 225°"),
        ("sector 90deg 5", "sector 90°, no limit of radius, opens towards 005°"),
        (
            "keyhole 500m 90deg 10km 225",
            "keyhole: cylinder radius 500 m and sector 90°, radius 10 km, opens towards 225°",
        ),
        ("area 20km", "area, radius 20 km"),
        ("area 5km..30km", "area, 5 km to 30 km"),
        ("area 0km..30km 040..110", "area, radius 30 km, from 040° clockwise to 110°"),
        ("area 5km..30km 040..110", "area, 5 km to 30 km, from 040° clockwise to 110°"),
        ("area 30km 359..001", "area, radius 30 km, from 359° clockwise to 001°"),
        ("area 30km 001..359.7", "area, radius 30 km, from 001° clockwise to 000°"),
    ],
)
def test_people_read_radius_and_each_side(text: str, words: str) -> None:
    assert describe_zone(parse_zone(text)) == words


def test_people_read_their_own_units() -> None:
    assert describe_zone(parse_zone("cylinder 3nmi"), Units.NMI) == "cylinder, radius 3 nmi"
    assert describe_zone(parse_zone("cylinder 5mi"), Units.MI) == "cylinder, radius 5 mi"
    assert describe_zone(parse_zone("cylinder 5mi"), Units.KM) == "cylinder, radius 8.047 km"


def test_only_bounded_zones_stand_at_an_area() -> None:
    for text in ("line 1km", "sector 90deg"):
        assert allowed_for_role(parse_zone(text), Role.AREA)
        assert allowed_for_role(parse_zone(text), Role.TURN) is None
    for text in ("area 20km", "cylinder 5km", "sector 90deg 20km", "keyhole 500m 90deg 10km"):
        assert allowed_for_role(parse_zone(text), Role.AREA) is None


def test_same_geometry_looks_through_units_and_resolved_axes_but_not_through_bearings() -> None:
    assert same_geometry(parse_zone("cylinder 5km"), parse_zone("cylinder 5000m"))
    assert same_geometry(parse_zone("area 0km..20km"), parse_zone("area 20km"))
    assert same_geometry(parse_zone("area 5km..20km 040..040"), parse_zone("area 5km..20km"))
    assert not same_geometry(parse_zone("cylinder 5km"), parse_zone("cylinder 5mi"))
    assert not same_geometry(parse_zone("line 1km 310"), parse_zone("line 1km 311"))
    assert not same_geometry(parse_zone("area 5km..20km 040..110"), parse_zone("area 5km..20km 110..040"))


def test_a_zone_made_from_numbers_gets_a_text_that_reads_back() -> None:
    assert zone_text(parse_zone("cylinder 3nmi")) == "cylinder 5.556km"
    assert zone_text(parse_zone("keyhole 0.5km 90° 10000m 5")) == "keyhole 500m 90deg 10km 005"


def test_the_built_in_zones_are_those_of_common_practice() -> None:
    # Common practice, no source.
    assert {role.value: zone.text for role, zone in BUILT_IN_ZONES.items()} == {
        "start": "line 1km", "turn": "cylinder 500m", "area": "area 20km", "finish": "line 1km"
    }  # fmt: skip
