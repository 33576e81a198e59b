"""Places, blocks and what is given, for tests of how proposals are judged and chosen."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np

from taskdb.core.geodesy import distance_m, lengths_m
from taskdb.core.kinds import HomeAt, ProposedShape
from taskdb.core.model import Earth, Position, Waypoint
from taskdb.core.proposing.apart import Places
from taskdb.core.proposing.blocks import Block, Given
from taskdb.core.proposing.legs import LegTable
from tests.building import waypoint

HOME = Position.at(48.872, 11.8105)


def turn_points(count: int, seed: int, reach_deg: float = 1.0, home: Position = HOME, **values: Any) -> list[Waypoint]:
    """Return places spread round home, coded T00, T01, …; the same ones for a seed."""
    rng = np.random.default_rng(seed)
    spread = rng.uniform(-reach_deg, reach_deg, (count, 2))
    return [
        waypoint(f"T{n:02d}", f"Turn {n}", home.latitude_deg + a, home.longitude_deg + b * 1.4, **values)
        for n, (a, b) in enumerate(spread.tolist())
    ]


def given(points: list[Waypoint], home: Position = HOME, **values: Any) -> Given:
    places = Places([point.position for point in points], home)
    lat, lon = places.latitudes, places.longitudes
    lengths = LegTable(len(places), lambda a, b: lengths_m(lat[a], lon[a], lat[b], lon[b], Earth.WGS84), both_ways=True)
    known = {"inspected_since": "2026-05-01", "shape": ProposedShape.TRIANGLE, "start": HomeAt.CORNER} | values
    return Given(places=places, waypoints=points, lengths_m=lengths, **known)


def block(turns: list[tuple[int, ...]], points: list[Waypoint], home: Position = HOME, margin: float = 1.0) -> Block:
    """Return courses over numbered places, measured one leg at a time."""
    lengths = []
    for row in turns:
        path = [home, *(points[n].position for n in row), home]
        lengths.append(sum(distance_m(a, b) for a, b in itertools.pairwise(path)))
    nothing = np.full(len(turns), np.nan)
    return Block(np.array(turns, dtype=np.int32), np.array(lengths), nothing, np.full(len(turns), margin))


def all_pairs(count: int) -> list[tuple[int, int]]:
    return [(a, b) for a in range(count) for b in range(count) if a != b]
