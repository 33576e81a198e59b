"""The flat map is conformal, has the scale that it states, and agrees with an independent implementation."""

from __future__ import annotations

import math

import pytest
from geographiclib.geodesic import Geodesic
from pyproj import Proj

from taskdb.core.model import Position
from taskdb.core.projection import Projection, centre_of

CENTRES = [Position(48.87, 11.81), Position(-33.4, 151.2), Position(0.0, -179.9), Position(67.8, 20.3)]


@pytest.mark.parametrize("centre", CENTRES)
@pytest.mark.parametrize(("bearing", "away_m"), [(10, 500), (95, 40_000), (200, 180_000), (311, 400_000)])
def test_agrees_with_the_stereographic_projection_of_proj_to_a_millimetre(
    centre: Position, bearing: float, away_m: float
) -> None:
    # Source: PROJ's ellipsoidal oblique stereographic (proj=stere), an independent implementation.
    ahead = Geodesic.WGS84.Direct(centre.latitude_deg, centre.longitude_deg, bearing, away_m)
    proj = Proj(proj="stere", lat_0=centre.latitude_deg, lon_0=centre.longitude_deg, ellps="WGS84")
    expected = proj(ahead["lon2"], ahead["lat2"])
    assert Projection(centre).project(Position(ahead["lat2"], ahead["lon2"])) == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize("away_m", [0, 50_000, 250_000, 400_000])
def test_keeps_angles_and_one_scale_all_round_in_a_small_zone_far_from_its_centre(away_m: float) -> None:
    centre = Position(48.87, 11.81)
    projection = Projection(centre)
    at = Geodesic.WGS84.Direct(centre.latitude_deg, centre.longitude_deg, 57, away_m)
    place = Position(at["lat2"], at["lon2"])
    x0, y0 = projection.project(place)
    turns, stretches = [], []
    for bearing in (0, 90, 180, 270):
        rim = Geodesic.WGS84.Direct(place.latitude_deg, place.longitude_deg, bearing, 100.0)
        x, y = projection.project(Position(rim["lat2"], rim["lon2"]))
        turns.append(math.degrees(math.atan2(x - x0, y - y0)) - bearing)
        stretches.append(math.hypot(x - x0, y - y0) / 100.0)
    first = turns[0]
    assert all(abs((turn - first + 180) % 360 - 180) < 0.002 for turn in turns)
    # Source: the scale that PROJ states for its own projection there; a tenth of a percent at 400 km.
    proj = Proj(proj="stere", lat_0=centre.latitude_deg, lon_0=centre.longitude_deg, ellps="WGS84")
    assert stretches == pytest.approx([proj.get_factors(at["lon2"], at["lat2"]).meridional_scale] * 4, rel=1e-5)
    assert max(stretches) < 1.0011


def test_the_middle_of_positions_on_both_sides_of_the_antimeridian_lies_between_them() -> None:
    middle = centre_of([Position(-17.0, 179.5), Position(-17.0, -179.5)])
    assert abs(abs(middle.longitude_deg) - 180) < 1e-6


def test_a_map_about_the_pole_can_be_drawn() -> None:
    x_m, y_m = Projection(Position(90.0, 0.0)).project(Position(89.0, 90.0))
    assert math.hypot(x_m, y_m) == pytest.approx(111_694, rel=1e-3)  # 1° of latitude at the pole, WGS84, computed
