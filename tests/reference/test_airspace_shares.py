"""Shares of zones under volumes, areas and middles against shapely in an equal-area projection about the zone (PROJ's
Lambert azimuthal one on WGS84), within 0.2 %."""

from __future__ import annotations

import random

import numpy as np
import pytest
import shapely
from pyproj import Transformer

from taskdb.core.airspace.extent import area_km2, middle_of
from taskdb.core.airspace.sharing import share_of_zone, volumes_over_point
from taskdb.core.airspace.volume import GROUND, UNLIMITED, Kind, Volume
from taskdb.core.course.outline import outline
from taskdb.core.course.regions import reach_m
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import E7, Position
from tests.reference.airspaces import as_shape, random_volume

pytestmark = pytest.mark.slow

ZONES = (
    "area 20km", "area 60km", "area 3km", "area 5km..30km 040..110", "area 10km..25km", "cylinder 500m",
    "keyhole 500m 90deg 10km 235", "sector 90deg 30km 120", "area 150km",
)  # fmt: skip


def in_plane(shape: shapely.Geometry, at: Position) -> shapely.Geometry:
    """Return a shape in longitude and latitude on the equal-area plane about a position, edges kept straight there."""
    plane = f"+proj=laea +lat_0={at.latitude_deg} +lon_0={at.longitude_deg} +ellps=WGS84"
    project = Transformer.from_crs("EPSG:4326", plane, always_xy=True)
    fine = shapely.segmentize(shape, 0.005)
    return shapely.transform(fine, lambda xy: np.column_stack(project.transform(*xy.T.tolist())))


def zone_in_plane(text: str, at: Position) -> shapely.Geometry:
    pieces = outline(parse_zone(text), at, within_m=0.5)
    shapes = [
        shapely.Polygon(
            [(p.longitude_deg, p.latitude_deg) for p in piece.exterior],
            [[(p.longitude_deg, p.latitude_deg) for p in hole] for hole in piece.holes],
        )
        for piece in pieces
    ]
    return shapely.union_all([in_plane(shape, at) for shape in shapes])


@pytest.mark.parametrize("text", ZONES)
def test_a_share_is_that_of_polygons_in_an_equal_area_projection(text: str) -> None:
    rng = random.Random(text)
    partly = 0
    for case in range(10):
        at = Position.at(rng.uniform(-65, 65), rng.uniform(-170, 170))
        reach = reach_m(parse_zone(text)) / 111_000
        volumes = tuple(
            random_volume(
                rng,
                f"V{n}",
                at.longitude_deg + rng.uniform(-1, 1) * reach / np.cos(np.radians(at.latitude_deg)),
                at.latitude_deg + rng.uniform(-1, 1) * reach,
                reach * rng.uniform(0.05, 1.2),
            )
            for n in range((1, 3, 8)[case % 3])
        )
        zone = zone_in_plane(text, at)
        union = shapely.union_all([in_plane(as_shape(volume), at) for volume in volumes])
        share = share_of_zone(parse_zone(text), at, volumes)
        assert share is not None
        other = zone.intersection(union).area / zone.area
        assert share.share == pytest.approx(other, abs=0.002), (at, case)
        assert share.usable == pytest.approx(1 - other, abs=0.002)
        partly += 0.02 < other < 0.98
        if other > 0.01:
            over = {
                n for n, v in enumerate(volumes) if zone.intersection(in_plane(as_shape(v), at)).area > 1e-3 * zone.area
            }
            assert over <= set(share.volumes)
    assert partly >= 3


def _box(name: str, west: float, south: float, east: float, north: float) -> Volume:
    corners = [(west, south), (east, south), (east, north), (west, north), (west, south)]
    return Volume.of(name, Kind.OTHER, GROUND, UNLIMITED, [[[(round(x * E7), round(y * E7)) for x, y in corners]]])


def test_two_volumes_over_the_same_ground_count_once() -> None:
    at, zone = Position.at(48, 11), parse_zone("area 20km")
    west = _box("west", 10, 47, 11, 49)
    once, twice = (share_of_zone(zone, at, volumes) for volumes in ((west,), (west, _box("also", 10, 47, 11, 49))))
    assert once is not None and twice is not None
    assert once.share == twice.share == pytest.approx(0.5, abs=1e-3)
    assert twice.volumes == (0, 1)


def test_a_zone_wholly_under_a_volume_and_one_under_none() -> None:
    at, zone = Position.at(48, 11), parse_zone("area 20km")
    whole, none = (share_of_zone(zone, at, (box,)) for box in (_box("a", 10, 47, 12, 49), _box("b", 20, 47, 22, 49)))
    assert whole is not None and none is not None
    assert (whole.share, none.share, none.volumes) == (pytest.approx(1.0, abs=1e-12), 0.0, ())
    assert share_of_zone(parse_zone("line 1km 90"), at, ()) is None
    assert share_of_zone(parse_zone("sector 90deg 120"), at, ()) is None


def test_a_line_is_under_a_volume_that_only_its_end_reaches() -> None:
    at, box = Position.at(48, 11.004), _box("a", 10, 47, 11, 49)
    assert volumes_over_point(parse_zone("line 1km 0"), at, (box,)) == (0,)
    assert volumes_over_point(parse_zone("line 400m 0"), at, (box,)) == ()
    assert volumes_over_point(parse_zone("cylinder 1km"), at, (box,)) == ()


def test_areas_and_middles_are_those_of_the_equal_area_plane() -> None:
    rng = random.Random(9)
    for n in range(30):
        at = Position.at(rng.uniform(-70, 70), 180 + rng.uniform(-1, 1) if n % 5 == 0 else rng.uniform(-179, 179))
        volume = random_volume(rng, "V", at.longitude_deg, at.latitude_deg, rng.uniform(0.05, 1))
        plane = in_plane(as_shape(volume), at)
        assert area_km2(volume) == pytest.approx(plane.area / 1e6, rel=1e-4)
        middle = middle_of(volume)
        off = plane.centroid.distance(in_plane(shapely.Point(middle.longitude_deg, middle.latitude_deg), at))
        assert off < 0.01 * plane.area**0.5


def test_a_zone_over_the_antimeridian_is_shared_as_any_other() -> None:
    shares = []
    for shift in (0.0, 169.0):
        at = Position.at(48, 11 + shift)
        halves = (_box("west", 10.9 + shift, 47, 11 + shift, 49),)
        over = _box("east", 11 + shift, 48, 12 + shift, 49) if not shift else _box("east", -180, 48, -179, 49)
        found = share_of_zone(parse_zone("area 20km"), at, (*halves, over))
        assert found is not None
        shares.append(found.share)
    assert shares[0] == pytest.approx(shares[1], abs=1e-6)
    assert 0.4 < shares[0] < 0.7
