"""Edges of zones as one coordinate: places on an edge are found again, others next to where they are."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from taskdb.core.course.boundary import edges
from taskdb.core.course.tracks import Tracks, lay_tracks
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import Position

AT = Position.at(47.0, 11.0)
ZONES = [
    "cylinder 5km",
    "area 5km..30km",
    "area 30km 040..110",
    "area 5km..30km 300..040",
    "sector 90deg 20km 225",
    "keyhole 500m 90deg 10km 225",
    "line 5km 310",
]


def tracks(text: str) -> Tracks:
    return lay_tracks(edges(parse_zone(text), 100_000.0), AT)


def apart_m(one: tuple[float, float], other: tuple[float, float]) -> float:
    return float(Geodesic.WGS84.Inverse(*one, *other)["s12"])


@pytest.mark.parametrize("text", ZONES)
def test_a_place_on_an_edge_is_found_again(text: str) -> None:
    laid = tracks(text)
    parts = np.linspace(0.013, 0.987, 40)
    along = np.concatenate([start + parts * length for start, length in zip(laid.starts, laid.lengths, strict=True)])
    latitudes, longitudes = laid.positions(along)
    _, again = laid.nearest(latitudes, longitudes)
    found = zip(*laid.positions(again), strict=True)
    assert max(map(apart_m, zip(latitudes, longitudes, strict=True), found)) < 0.01


@pytest.mark.parametrize("text", ZONES)
@pytest.mark.parametrize("bearing_deg", range(5, 360, 10))
def test_next_to_a_place_off_the_edges_is_what_lies_nearest_of_them(text: str, bearing_deg: int) -> None:
    laid = tracks(text)
    all_along = np.concatenate(
        [np.linspace(s, s + n, 2_000) for s, n in zip(laid.edge_starts, laid.edge_lengths, strict=True)]
    )
    edge = list(zip(*laid.positions(all_along), strict=True))
    for away_m in (700.0, 7_000.0):
        end = Geodesic.WGS84.Direct(47.0, 11.0, bearing_deg, away_m)
        place = (end["lat2"], end["lon2"])
        _, along = laid.nearest(np.array([place[0]]), np.array([place[1]]))
        ((latitude,), (longitude,)) = laid.positions(along)
        # Quick lengths choose among 2,000 samples of each edge; the place is found as on a plane.
        near = sorted(edge, key=lambda one: (one[0] - place[0]) ** 2 + ((one[1] - place[1]) * 0.682) ** 2)[:5]
        least = min(apart_m(place, one) for one in near)
        assert apart_m(place, (latitude, longitude)) <= least + 0.001 * away_m + 1.0
