"""Geodesics against published lines; the tables with their sources are in data/check_values.json."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from pyproj import Geod

from taskdb.core.geodesy import (
    EQUATOR_RADIUS_M,
    arrival_deg,
    bearing_deg,
    destination,
    distance_m,
    earth_vectors,
    inverse,
    length_m,
    quick_lengths_m,
    sphere_distance_m,
    turn_deg,
)
from taskdb.core.model import Earth, Position

TABLES = json.loads((Path(__file__).parent / "data" / "check_values.json").read_text(encoding="utf-8"))


def degrees(text: str) -> float:
    """Read degrees, minutes, seconds; the sign may stand before a zero (-0 59 53.83)."""
    whole, minutes, seconds = text.split()
    size = abs(float(whole)) + float(minutes) / 60 + float(seconds) / 3600
    return -size if whole.startswith("-") else size


@pytest.mark.parametrize("line", TABLES["geodtest_wgs84"]["lines"], ids=lambda line: f"{line['s12_m']:.0f} m")
def test_the_geodtest_lines_hold_both_ways(line: dict[str, float]) -> None:
    a = Position(line["lat1"], line["lon1"])
    b = Position(line["lat2"], (line["lon2"] + 180) % 360 - 180)
    there = inverse(a, b)
    assert there.distance_m == pytest.approx(line["s12_m"], abs=1e-7)
    assert turn_deg(there.bearing_deg or 0.0, line["azi1"]) == pytest.approx(0, abs=1e-11)
    assert turn_deg(there.arrival_deg or 0.0, line["azi2"]) == pytest.approx(0, abs=1e-11)
    end = destination(a, line["azi1"], line["s12_m"])
    assert distance_m(end, b) < 1e-6


def test_the_agencies_line_between_two_hills_holds() -> None:
    given = TABLES["flinders_peak_buninyong"]
    a = Position(degrees(given["lat1"]), degrees(given["lon1"]))
    b = Position(degrees(given["lat2"]), degrees(given["lon2"]))
    # GRS80 and WGS84 differ by less than 0.1 mm here; the sphere by 70 m.
    assert distance_m(a, b) == pytest.approx(given["s"], abs=1e-3)
    assert bearing_deg(a, b) == pytest.approx(degrees(given["az12"]), abs=0.01 / 3600)
    assert bearing_deg(b, a) == pytest.approx(degrees(given["az21"]), abs=0.01 / 3600)
    assert arrival_deg(a, b) == pytest.approx(degrees(given["az21"]) + 180, abs=0.01 / 3600)
    assert abs(sphere_distance_m(a, b) - given["s"]) > 20


@pytest.mark.parametrize("line", TABLES["vincenty_1975_table_II"]["lines"], ids=lambda line: line["line"])
def test_the_library_solves_vincentys_lines_on_their_own_ellipsoids(line: dict[str, Any]) -> None:
    # They are on other ellipsoids than ours: this holds the library, the signs and the order of its arguments.
    geod = Geod(ellps=line["ellps"])
    out, back, length = geod.inv(0, degrees(line["phi1"]), degrees(line["L"]), degrees(line["phi2"]))
    assert length == pytest.approx(line["s"], abs=1.5e-3)
    assert out % 360 == pytest.approx(degrees(line["alpha1"]), abs=0.0011 / 3600)
    assert (back + 180) % 360 == pytest.approx(degrees(line["alpha2"]), abs=0.0011 / 3600)


def test_analytic_lengths_hold() -> None:
    def along_equator(degrees_: float) -> float:
        return distance_m(Position(0, 10), Position(0, 10 + degrees_))

    assert along_equator(1) == pytest.approx(EQUATOR_RADIUS_M * math.pi / 180, abs=1e-8)
    assert along_equator(1) == pytest.approx(111_319.490793, abs=1e-6)
    # Quadrant of the meridian and the degree from 45 to 46 north, WGS84.
    assert distance_m(Position(0, 33), Position(90, 0)) == pytest.approx(10_001_965.729313, abs=1e-6)
    assert distance_m(Position(45, -7), Position(46, -7)) == pytest.approx(111_141.548474, abs=1e-6)
    half_minute = 0.5 / 60
    assert distance_m(Position(45 - half_minute, 0), Position(45 + half_minute, 0)) == pytest.approx(
        1852.196290, abs=1e-6
    )


def test_the_fai_sphere_has_its_own_degree_everywhere() -> None:
    # FAI General Section 7.3.1.1 (numbering of 2003): a sphere of 6371 km.
    for a, b in (((0, 0), (1, 0)), ((50, 10), (51, 10)), ((0, 179.5), (0, -179.5)), ((-89.5, 0), (-89.5, 180))):
        assert sphere_distance_m(Position(*a), Position(*b)) == pytest.approx(111_194.926645, abs=1e-6)


def test_the_models_differ_by_direction() -> None:
    # Computed for both models with pyproj and geographiclib: north-south differs by 0.031 %, east-west by 0.308 %.
    north = (Position(48, 10), Position(52, 10))
    east = (Position(50, 5), Position(50, 12))
    assert length_m(*north, Earth.WGS84) == pytest.approx(444_915.955, abs=1e-3)
    assert length_m(*north, Earth.FAI_SPHERE) == pytest.approx(444_779.707, abs=1e-3)
    assert length_m(*east, Earth.WGS84) == pytest.approx(501_687.019, abs=1e-3)
    assert length_m(*east, Earth.FAI_SPHERE) == pytest.approx(500_140.356, abs=1e-3)


@pytest.mark.parametrize(("metres", "within_m"), [(1.0, 1e-6), (10_000, 1e-6), (300_000, 1e-4), (1_000_000, 0.03)])
def test_the_quick_length_is_near_the_geodesic_in_all_directions(metres: float, within_m: float) -> None:
    for latitude in (-89.99, -50, 0, 0.3, 51, 90):
        for bearing in range(0, 360, 20):
            end = Geodesic.WGS84.Direct(latitude, 179.9, bearing, metres)
            places, normals = earth_vectors(np.array([latitude, end["lat2"]]), np.array([179.9, end["lon2"]]))
            length = quick_lengths_m(places[:, 1] - places[:, 0], normals[:, 1] - normals[:, 0], Earth.WGS84)
            assert float(length) == pytest.approx(metres, abs=within_m)


def test_the_quick_length_on_the_sphere_is_the_great_circle() -> None:
    a, b = Position(51, 9), Position(-30, -170)
    places, normals = earth_vectors(np.array([51.0, -30.0]), np.array([9.0, -170.0]))
    length = quick_lengths_m(places[:, 1] - places[:, 0], normals[:, 1] - normals[:, 0], Earth.FAI_SPHERE)
    assert float(length) == pytest.approx(sphere_distance_m(a, b), abs=1e-6)
