"""How far legs keep from airspace: both ways of measuring it, against distances on a flat map."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from pyproj import Geod, Proj
from shapely.geometry import LineString, Polygon

from taskdb.core.airspace.clearance import CLEAR_M, Clearances, clearance_m
from taskdb.core.airspace.volume import GROUND, UNLIMITED, Kind, Volume
from taskdb.core.model import E7, Position

GEOD = Geod(ellps="WGS84")


def volume(*corners: tuple[float, float]) -> Volume:
    """Return a volume through corners, longitude and latitude in degrees."""
    ring = [(round(x * E7), round(y * E7)) for x, y in (*corners, corners[0])]
    return Volume.of("V", Kind.RESTRICTED, GROUND, UNLIMITED, [[ring]])


def scattered(seed: int, middle: tuple[float, float]) -> tuple[list[Volume], list[Position]]:
    rng = np.random.default_rng(seed)
    volumes = []
    for _ in range(6):
        x, y = middle[0] + rng.uniform(-1, 1), middle[1] + rng.uniform(-0.7, 0.7)
        turns = np.sort(rng.uniform(0, 2 * math.pi, 5))
        size = rng.uniform(0.03, 0.15)
        volumes.append(volume(*((x + size * math.cos(t), y + size * math.sin(t)) for t in turns)))
    places = [Position.at(middle[1] + a, middle[0] + b) for a, b in rng.uniform(-0.8, 0.8, (9, 2)).tolist()]
    return volumes, places


def judge_m(a: Position, b: Position, volumes: list[Volume], middle: tuple[float, float]) -> float:
    """Return the distance by shapely (GEOS) on PROJ's azimuthal equidistant map, where 10 km are right to 0.1 %."""
    flat = Proj(proj="aeqd", lat_0=middle[1], lon_0=middle[0], ellps="WGS84")
    ends = (a.longitude_deg, a.latitude_deg, b.longitude_deg, b.latitude_deg)
    path = [ends[:2], *GEOD.npts(*ends, 200), ends[2:]]
    leg = LineString([flat(*place) for place in path])
    rings = [[(x / E7, y / E7) for x, y in one.polygons[0][0]] for one in volumes]
    # Edges are straight in longitude and latitude.
    dense = [
        [tuple(place) for p, q in itertools.pairwise(ring) for place in np.linspace(p, q, 50).tolist()]
        for ring in rings
    ]
    return min(float(leg.distance(Polygon([flat(*place) for place in ring]))) for ring in dense)


@pytest.mark.parametrize(("seed", "middle"), [(1, (11.5, 48.9)), (2, (-70.0, -33.0)), (3, (0.0, 65.0))])
def test_clearance_is_the_distance_to_the_nearest_place_of_an_edge(seed, middle) -> None:
    volumes, places = scattered(seed, middle)
    raster = Clearances(
        tuple(volumes), Position.at(middle[1], middle[0]),
        np.array([p.latitude_deg for p in places]), np.array([p.longitude_deg for p in places]),
    )  # fmt: skip
    seen = set()
    for n, (a, b) in enumerate(itertools.pairwise(places)):
        judged = judge_m(a, b, volumes, middle)
        found = clearance_m((a, b), tuple(volumes))
        quick = float(raster.of_legs_m(np.array([n]), np.array([n + 1]))[0])
        assert found == pytest.approx(min(judged, CLEAR_M), rel=0.01, abs=5)
        assert quick == pytest.approx(found, abs=800)
        seen.add("touches" if found == 0 else "clear" if found == CLEAR_M else "near")
    assert "near" in seen and len(seen) >= 2


def test_a_leg_within_a_volume_has_no_clearance() -> None:
    wide = volume((11.0, 48.0), (12.0, 48.0), (12.0, 49.0), (11.0, 49.0))
    a, b = Position.at(48.4, 11.4), Position.at(48.6, 11.6)
    assert clearance_m((a, b), (wide,)) == 0.0
    raster = Clearances((wide,), a, np.array([48.4, 48.6]), np.array([11.4, 11.6]))
    assert raster.of_legs_m(np.array([0]), np.array([1])).tolist() == [0.0]


def test_a_meridian_where_longitudes_jump_is_none() -> None:
    beside = volume((179.9, 10.0), (180.1, 10.0), (180.1, 10.1), (179.9, 10.1))
    a, b = Position.at(10.15, 179.8), Position.at(10.15, -179.8)
    # 0.05 degrees of latitude at 10 degrees north are 5,530 m (110,608 m a degree; meridian arc of WGS84).
    assert clearance_m((a, b), (beside,)) == pytest.approx(5530, rel=0.01)
    raster = Clearances((beside,), a, np.array([10.15, 10.15]), np.array([179.8, -179.8]))
    assert raster.of_legs_m(np.array([0]), np.array([1]))[0] == pytest.approx(5530, abs=800)


def test_what_is_farther_than_asked_is_clear() -> None:
    far = volume((11.0, 48.0), (11.1, 48.0), (11.1, 48.1), (11.0, 48.1))
    leg = (Position.at(48.3, 11.0), Position.at(48.3, 11.1))
    assert clearance_m(leg, (far,)) == CLEAR_M
    raster = Clearances((far,), leg[0], np.array([48.3, 48.3]), np.array([11.0, 11.1]))
    assert raster.of_legs_m(np.array([0]), np.array([1])).tolist() == [CLEAR_M]
