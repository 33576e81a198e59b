"""Random volumes and legs for the checks of airspace, and the independent judge: shapely in longitude and latitude."""

from __future__ import annotations

import math
import random

import shapely

from taskdb.core.airspace.volume import GROUND, UNLIMITED, Kind, Ring, Volume
from taskdb.core.model import E7


def blob(rng: random.Random, longitude: float, latitude: float, radius_deg: float, corners: int) -> Ring:
    """Return a star-shaped ring about a place, of about a radius on the ground."""
    wide = radius_deg / max(0.01, math.cos(math.radians(latitude)))
    turns = sorted(rng.uniform(0, 2 * math.pi) for _ in range(corners))
    ring = []
    for turn in turns:
        reach = rng.uniform(0.6, 1.0)
        ring.append((longitude + wide * reach * math.cos(turn), latitude + radius_deg * reach * math.sin(turn)))
    rounded = [(round(x * E7), round(y * E7)) for x, y in ring]
    return (*rounded, rounded[0])


def as_shape(volume: Volume) -> shapely.MultiPolygon:
    """Return a volume's ground as the other library has it, in longitude and latitude, degrees."""
    return shapely.MultiPolygon(
        [shapely.Polygon(_degrees(rings[0]), [_degrees(hole) for hole in rings[1:]]) for rings in volume.polygons]
    )


def _degrees(ring: Ring) -> list[tuple[float, float]]:
    return [(x / E7, y / E7) for x, y in ring]


def random_volume(rng: random.Random, name: str, longitude: float, latitude: float, radius_deg: float) -> Volume:
    """Return a volume with a hole now and then, cut at the antimeridian where it lies across it."""
    while True:
        corners = rng.choice((4, 5, 8, 30, 100))
        exterior = blob(rng, longitude, latitude, radius_deg, corners)
        hole = blob(rng, longitude, latitude, radius_deg * rng.uniform(0.1, 0.4), rng.choice((4, 9)))
        shape = shapely.Polygon(_degrees(exterior))
        if not shape.is_valid or shape.area < radius_deg**2 / 4:
            continue
        if rng.random() < 0.5:
            pierced = shapely.Polygon(_degrees(exterior), [_degrees(hole)])
            shape = pierced if pierced.is_valid else shape
        return _as_volume(name, shape)


def _as_volume(name: str, shape: shapely.Polygon) -> Volume:
    """Return a shape whose longitudes may run beyond ±180 as a volume, cut there by the other library."""
    polygons = []
    for turn in (-360, 0, 360):
        strip = shapely.box(turn - 180, -90, turn + 180, 90)
        for part in shapely.get_parts(shape.intersection(strip)):
            if part.geom_type == "Polygon" and part.area > 0:
                rings = [part.exterior, *part.interiors]
                polygons.append([[(round((x - turn) * E7), round(y * E7)) for x, y in ring.coords] for ring in rings])
    return Volume.of(name, Kind.RESTRICTED, GROUND, UNLIMITED, polygons)
