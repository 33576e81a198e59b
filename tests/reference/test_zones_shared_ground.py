"""Shared ground of two zones against shapely's polygons on a local projection, an independent computation."""

from __future__ import annotations

import math
import random

import pytest
import shapely
from pyproj import Transformer

from taskdb.core.course.contains import contains
from taskdb.core.course.outline import line_ends, outline
from taskdb.core.course.zones import parse_zone
from taskdb.core.geodesy import destination, distance_m
from taskdb.core.model import Position, Shape, Zone
from taskdb.core.review.shared_ground import shared_place

SHAPES = (
    "cylinder {a}m",
    "area {b}m",
    "area {a}m..{b}m",
    "area {a}m..{b}m {p}..{q}",
    "sector 90deg {b}m {p}",
    "sector 60deg {p}",
    "keyhole {a}m 90deg {b}m {p}",
    "line {b}m {p}",
)


def random_zone(rng: random.Random) -> Zone:
    sizes = {"a": rng.randint(200, 9000), "p": rng.randint(0, 359), "q": rng.randint(0, 359)}
    return parse_zone(rng.choice(SHAPES).format(b=rng.randint(9001, 25000), **sizes))


def flat(zone: Zone, at: Position, to_plane: Transformer) -> shapely.Geometry:
    def plane(ring: tuple[Position, ...]) -> list[tuple[float, float]]:
        return [to_plane.transform(p.longitude_deg, p.latitude_deg) for p in ring]

    if zone.shape is Shape.LINE:
        return shapely.LineString(plane(line_ends(zone, at)))
    parts = [shapely.Polygon(plane(o.exterior), [plane(hole) for hole in o.holes]) for o in outline(zone, at)]
    return shapely.union_all(parts)


@pytest.mark.parametrize("centre", [(50.0, 10.0), (-33.0, 149.0), (0.0, 179.95), (68.0, -20.0)])
def test_shared_ground_agrees_with_polygons(centre: tuple[float, float]) -> None:
    # Outlines leave the true edge by up to 5 m and the projection is true within metres here: within 15 m the
    # polygons do not decide.
    rng = random.Random(f"{centre}")
    to_plane = Transformer.from_crs(
        "EPSG:4326", f"+proj=aeqd +lat_0={centre[0]} +lon_0={centre[1]} +ellps=WGS84", always_xy=True
    )
    counts = {"apart": 0, "shared": 0, "close": 0}
    for _ in range(150):
        at = Position.at(*centre)
        other_at = destination(at, rng.uniform(0, 360), rng.uniform(0, 45_000))
        zone, other = random_zone(rng), random_zone(rng)
        found = shared_place(zone, at, other, other_at)
        first, second = flat(zone, at, to_plane), flat(other, other_at, to_plane)
        if found is not None:
            for one, place in ((zone, at), (other, other_at)):
                assert contains(one, place, found, tolerance_m=1e-3), (zone.text, other.text)
        if first.distance(second) > 15:
            counts["apart"] += 1
            assert found is None, (zone.text, other.text)
        elif first.buffer(-15 if first.area else 0).intersects(second.buffer(-15 if second.area else 0)):
            counts["shared"] += 1
            assert found is not None, (zone.text, other.text)
        else:
            counts["close"] += 1
    assert counts["apart"] > 30 and counts["shared"] > 30, counts


@pytest.mark.parametrize("gap_m", [-5000.0, -100.0, -1.0, -0.01, 0.01, 1.0, 100.0])
@pytest.mark.parametrize("bearing", [0.0, 37.0, 123.4, 270.0])
def test_two_circles_share_ground_exactly_where_their_radii_reach(gap_m: float, bearing: float) -> None:
    # On the ellipsoid too: the geodesic between the points is the shortest way, and runs through both edges.
    at = Position.at(48.5, 9.0)
    other_at = destination(at, bearing, 17_300.0 + gap_m)
    found = shared_place(parse_zone("cylinder 12300m"), at, parse_zone("cylinder 5km"), other_at)
    assert (found is not None) == (gap_m < 0)


def test_a_zone_within_another_shares_it_and_one_in_its_hole_does_not() -> None:
    at = Position.at(48.5, 9.0)
    inside = destination(at, 80.0, 3_000.0)
    assert shared_place(parse_zone("area 20km"), at, parse_zone("cylinder 500m"), inside) is not None
    assert shared_place(parse_zone("area 5km..20km"), at, parse_zone("cylinder 500m"), inside) is None
    assert shared_place(parse_zone("area 2km..20km"), at, parse_zone("cylinder 500m"), inside) is not None


def test_lines_share_the_place_where_they_cross() -> None:
    at = Position.at(48.5, 9.0)
    beside = destination(at, 90.0, 400.0)
    found = shared_place(parse_zone("line 2km 000"), at, parse_zone("line 1km 090"), beside)
    assert found is not None
    assert distance_m(found, beside) < 0.01
    assert shared_place(parse_zone("line 2km 000"), at, parse_zone("line 1km 000"), destination(at, 0.0, 5.0)) is None


def test_an_endless_sector_counts_up_to_the_stated_radius() -> None:
    at = Position.at(48.5, 9.0)
    far = destination(at, 45.0, 40_000.0)
    sector, turn = parse_zone("sector 90deg 045"), parse_zone("cylinder 500m")
    assert shared_place(sector, at, turn, far) is None
    assert shared_place(sector, at, turn, far, unbounded_radius_m=41_000.0) is not None
    assert math.isclose(distance_m(at, far), 40_000.0)
