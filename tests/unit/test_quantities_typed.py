"""Typed quantities: conversions that are exact by definition (ICAO Annex 5), and refusals of what is ambiguous."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from taskdb.core.quantities import (
    HeightReference,
    Units,
    Wind,
    format_bearing,
    format_distance,
    format_duration,
    parse_bearing_deg,
    parse_date,
    parse_distance_m,
    parse_duration_s,
    parse_height,
    parse_speed_kmh,
    parse_time_of_day,
    parse_wind,
)
from taskdb.errors import UsageError


@pytest.mark.parametrize(
    ("text", "metres"),
    # ICAO Annex 5: 1 NM = 1852 m, 1 ft = 0.3048 m; a statute mile is 5280 ft = 1609.344 m.
    [("5km", 5000), ("500m", 500), ("1mi", 1609.344), ("3nmi", 5556), ("1500ft", 457.2), ("0.5 KM", 500)],
)
def test_a_distance_is_read_in_its_unit(text: str, metres: float) -> None:
    assert parse_distance_m(text) == pytest.approx(metres, abs=1e-9)


def test_a_bare_distance_is_refused_with_the_units_to_choose_from() -> None:
    with pytest.raises(UsageError) as refused:
        parse_distance_m("20")
    assert refused.value.code == "missing-unit"
    assert "20km" in (refused.value.hint or "")


@pytest.mark.parametrize("text", ["", "km", "-5km", "5 k m", "1e3m", "5km5", "5miles", "nan", "١km"])
def test_what_is_no_distance_is_refused(text: str) -> None:
    with pytest.raises(UsageError):
        parse_distance_m(text)


def test_a_height_carries_unit_and_reference() -> None:
    assert parse_height("1500ft MSL").metres == pytest.approx(457.2)
    assert parse_height("800m agl").reference is HeightReference.AGL
    assert parse_height("FL95").metres == pytest.approx(9500 * 0.3048)
    for bare in ("1500", "1500ft", "MSL"):
        with pytest.raises(UsageError):
            parse_height(bare)


@pytest.mark.parametrize(
    ("text", "seconds"), [("3:00", 10800), ("2h45m", 9900), ("2:45:30", 9930), ("90m", 5400), ("4h", 14400)]
)
def test_a_duration_is_read(text: str, seconds: int) -> None:
    assert parse_duration_s(text) == seconds


@pytest.mark.parametrize("text", ["3", "", "3:60", "h", "-1:00"])
def test_what_is_no_duration_is_refused(text: str) -> None:
    with pytest.raises(UsageError):
        parse_duration_s(text)


@given(st.integers(min_value=0, max_value=359_999))
def test_a_printed_duration_reads_back_and_never_shows_sixty(seconds: int) -> None:
    text = format_duration(seconds)
    assert ":60" not in text
    assert parse_duration_s(text) == seconds


def test_speeds_know_the_knot_and_the_mile() -> None:
    assert parse_speed_kmh("95km/h") == 95
    assert parse_speed_kmh("51kt") == pytest.approx(94.452)
    assert parse_speed_kmh("60mph") == pytest.approx(96.56064)
    with pytest.raises(UsageError):
        parse_speed_kmh("95")


def test_bearings_and_winds_are_true_and_below_360() -> None:
    assert parse_bearing_deg("040") == 40
    assert parse_bearing_deg("360") == 0
    assert parse_wind("240/15kt") == Wind(240, 27.78)
    for bad in ("361", "x", ""):
        with pytest.raises(UsageError):
            parse_bearing_deg(bad)
    for bad in ("240", "240/15", "240-15kt"):
        with pytest.raises(UsageError):
            parse_wind(bad)


def test_dates_and_times_of_day_must_exist() -> None:
    assert parse_date("2028-02-29") == "2028-02-29"
    assert parse_time_of_day("9:05") == "09:05"
    for bad in ("2027-02-29", "14.5.2027", "20270514"):
        with pytest.raises(UsageError):
            parse_date(bad)
    with pytest.raises(UsageError):
        parse_time_of_day("24:00")


def test_distances_and_bearings_are_shown_in_the_chosen_unit() -> None:
    assert format_distance(510_019.421) == "510.0 km"
    assert format_distance(510_019.421, Units.NMI) == "275.4 nmi"
    assert format_distance(510_019.421, Units.MI) == "316.9 mi"
    assert format_bearing(359.7) == "000"
