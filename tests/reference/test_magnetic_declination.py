"""Declination against the published rows of the World Magnetic Model 2025 (report table and WMM2025_TEST_VALUES)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from taskdb.core.model import Position
from taskdb.reference.magnetic import decimal_year, declination, field_at

ROWS = json.loads((Path(__file__).parent / "data" / "wmm2025_test_values.json").read_text(encoding="utf-8"))

# Half of the last printed digit, 0.005 degrees, and 1e-4 for the rounding of what was rounded.
PRINTED_DEG = 0.0051


@pytest.mark.parametrize("row", ROWS["report"] + ROWS["points"], ids=lambda r: f"{r['date']} {r['lat']} {r['lon']}")
def test_the_published_declinations_are_met_to_their_last_digit(row: dict[str, float]) -> None:
    field = field_at(row["lat"], row["lon"], row["h_km"], row["date"])
    assert abs(field.d - row["D"]) <= PRINTED_DEG
    # The report prints H to 0.1 nT, the file of 100 rows to 1 nT.
    assert abs(field.h - row["H"]) <= (0.06 if "X" in row else 0.51)


def test_all_published_rows_are_there() -> None:
    assert (len(ROWS["report"]), len(ROWS["points"])) == (12, 100)


def test_a_place_and_a_date_give_an_east_positive_declination() -> None:
    # Computed with pygeomag 1.1 and wmm-calculator 1.4.4, which agree to six decimals: 3.941 at mid-2025.
    found = declination(Position.at(50, 10), "2025-07-02", elevation_m=300)
    assert found.degrees == pytest.approx(3.941, abs=0.001)
    west = declination(Position.at(-29, 21), "2025-07-02", elevation_m=1000)
    assert west.degrees == pytest.approx(-21.887, abs=0.001)


def test_a_year_goes_by_day_by_day() -> None:
    assert decimal_year("2025-01-01") == 2025.0
    assert decimal_year("2028-07-02") == 2028.5
    assert decimal_year("2027-12-31") == pytest.approx(2027 + 364 / 365)


@pytest.mark.parametrize("date", ["2024-12-31", "2030-01-01", "2019-06-01"])
def test_outside_the_models_years_there_is_a_note_and_no_number(date: str) -> None:
    found = declination(Position.at(50, 10), date)
    assert found.degrees is None
    assert found.note is not None and date in found.note and "2025" in found.note


@pytest.mark.parametrize("date", ["2025-01-01", "2029-12-31"])
def test_the_first_and_the_last_day_of_the_model_have_a_number(date: str) -> None:
    assert declination(Position.at(50, 10), date).degrees is not None


def test_where_a_compass_points_nowhere_there_is_no_number() -> None:
    found = declination(Position.at(86.5, 139), "2026-06-01")
    assert found.degrees is None
    assert found.note is not None and "too weak" in found.note
