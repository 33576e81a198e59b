"""Geodesics where numbers go wrong: coincident places, the antimeridian, the poles, longitudes beyond their range."""

from __future__ import annotations

import subprocess
import sys
from itertools import pairwise

import numpy as np
import pytest

from taskdb.core.geodesy import (
    Inverse,
    bearing_deg,
    bearings_and_distances,
    densify,
    destination,
    destinations,
    distance_m,
    inverse,
    path_length_m,
    sphere_distance_m,
    turn_deg,
    wrap_bearing,
    wrap_longitude,
)
from taskdb.core.model import Earth, Position


def test_coincident_positions_have_no_course() -> None:
    here = Position(51.2, 9.7)
    assert inverse(here, here) == Inverse(0.0, None, None)
    assert bearing_deg(here, here) is None
    assert sphere_distance_m(here, here) == 0
    assert distance_m(Position(90, 0), Position(90, 77)) == pytest.approx(0, abs=1e-8)


def test_bearings_stay_below_a_full_turn() -> None:
    assert bearing_deg(Position(0, 0), Position(1, 0)) == 0
    assert bearing_deg(Position(0, 0), Position(0, -1)) == 270
    assert wrap_bearing(-1e-20) == 0
    assert wrap_bearing(720) == 0
    assert turn_deg(350, 10) == pytest.approx(20)
    assert turn_deg(10, 350) == pytest.approx(-20)


def test_longitudes_stay_in_range_over_the_antimeridian() -> None:
    west = destination(Position(10, 179.99), 90, 10_000)
    assert -180 <= west.longitude_deg < -179.8
    assert wrap_longitude(180.0) == -180.0
    assert wrap_longitude(-180.0 - 1e-15) == -180.0
    assert distance_m(Position(0, 179.5), Position(0, -179.5)) == pytest.approx(111_319.490793, abs=1e-6)


def test_a_negative_distance_runs_backwards() -> None:
    here = Position(-33, 151)
    assert distance_m(destination(here, 40, -5000), destination(here, 220, 5000)) < 1e-6


def test_densify_keeps_ends_and_steps() -> None:
    a, b = Position(60, -10), Position(60, 10)
    line = densify(a, b, 50_000)
    assert (line[0], line[-1]) == (a, b)
    steps = [distance_m(p, q) for p, q in pairwise(line)]
    assert max(steps) <= 50_000
    assert sum(steps) == pytest.approx(distance_m(a, b), abs=1e-6)
    # The geodesic bulges towards the pole, which a straight line on the map would not.
    assert max(p.latitude_deg for p in line) > 60.3
    assert densify(a, a, 100) == (a, a)
    with pytest.raises(ValueError, match="step"):
        densify(a, b, 0)


def test_a_path_of_fewer_than_two_points_has_no_length() -> None:
    assert path_length_m([], Earth.WGS84) == 0
    assert path_length_m([Position(1, 1)], Earth.FAI_SPHERE) == 0


def test_an_array_of_one_value_stays_an_array() -> None:
    """Some releases of numpy let pyproj take it for a number, with a warning, and give a number back."""
    one = np.array([[48.0]])
    latitudes, longitudes = destinations(one, one - 37.0, one, one * 1000.0)
    assert latitudes.shape == longitudes.shape == (1, 1)
    pair = destinations(*(np.repeat(values, 2) for values in (one, one - 37.0, one, one * 1000.0)))
    assert (latitudes.item(), longitudes.item()) == (pair[0][0], pair[1][0])
    out, away = bearings_and_distances(Position(48.0, 11.0), latitudes, longitudes)
    assert out.shape == away.shape == (1, 1)
    assert (out.item(), away.item()) == pytest.approx((48.0, 48_000.0))


def test_heavy_libraries_come_with_their_first_use_only() -> None:
    # Completion and searches import the course; pyproj and numpy cost more than most commands.
    program = """
import sys
import taskdb.core.geodesy, taskdb.core.course.measure, taskdb.core.course.zones, taskdb.core.course.axes
import taskdb.core.course.outline, taskdb.core.course.contains, taskdb.core.course.declared
import taskdb.core.course.fingerprint
assert not {"pyproj", "numpy", "scipy"} & set(sys.modules), sorted(sys.modules)
"""
    subprocess.run([sys.executable, "-c", program], check=True)
