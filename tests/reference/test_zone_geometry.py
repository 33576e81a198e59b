"""What zones hold, and how outlines fit the true edge, measured with geographiclib.

Every place and length here is computed apart from the package, from the definition: distance and bearing at the point.
"""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from geographiclib.geodesic import Geodesic

from taskdb.core.course.contains import contains
from taskdb.core.course.outline import line_ends, outline
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import Position

POINTS = [(0.0, 0.0), (51.17, -1.04), (-33.9, 151.2), (-45.0, 179.99), (65.0, -179.99), (84.0, 30.0)]


def at(latitude: float, longitude: float, bearing: float, metres: float) -> Position:
    line = Geodesic.WGS84.Direct(latitude, longitude, bearing, metres)
    return Position(line["lat2"], (line["lon2"] + 180) % 360 - 180)


def area_m2(ring: tuple[Position, ...]) -> float:
    """Return the area within a ring, counter-clockwise positive."""
    polygon = Geodesic.WGS84.Polygon()
    for corner in ring[:-1]:
        polygon.AddPoint(corner.latitude_deg, corner.longitude_deg)
    return float(polygon.Compute(False, True)[2])


def polar(latitude: float, longitude: float, position: Position) -> tuple[float, float]:
    line = Geodesic.WGS84.Inverse(latitude, longitude, position.latitude_deg, position.longitude_deg)
    return line["azi1"] % 360, line["s12"]


@pytest.mark.parametrize("point", POINTS)
@pytest.mark.parametrize(
    ("text", "inside", "outside"),
    [
        ("cylinder 5km", [(0, 0), (77, 4999.99), (200, 5000)], [(77, 5000.01), (10, 9000)]),
        ("area 5km..30km", [(10, 5000), (300, 29999.99)], [(0, 0), (10, 4999.99), (300, 30000.01)]),
        (
            "area 5km..30km 040..110",
            [(40, 20000), (110, 5000), (75, 30000), (40.001, 20000)],
            [(39.999, 20000), (110.001, 20000), (75, 4999), (255, 20000)],
        ),
        ("area 5km..30km 300..020", [(0, 20000), (310, 20000)], [(160, 20000), (21, 20000), (299, 20000)]),
        ("area 5km..30km 040..040", [(220, 20000), (40, 20000)], [(220, 4000)]),
        ("sector 90deg 20km 10", [(325, 19999), (55, 20000), (0, 0)], [(324.99, 9000), (55.01, 9000), (10, 20001)]),
        ("sector 90deg 350", [(305, 400000), (34.9, 900000)], [(304.9, 400000), (170, 1)]),
        ("sector 270deg 20km 90", [(90, 5000), (315.1, 5000), (224.9, 5000)], [(270, 5000), (226, 5000)]),
        ("keyhole 500m 90deg 10km 180", [(0, 500), (180, 9999), (136, 8000)], [(0, 501), (134, 501), (180, 10001)]),
        ("keyhole 10km 90deg 5km 180", [(0, 10000), (180, 10000)], [(180, 10001)]),
    ],
)
def test_zones_hold_what_they_say(
    point: tuple[float, float],
    text: str,
    inside: list[tuple[float, float]],
    outside: list[tuple[float, float]],
) -> None:
    zone, here = parse_zone(text), Position(*point)
    assert [p for p in inside if not contains(zone, here, at(*point, *p))] == []
    assert [p for p in outside if contains(zone, here, at(*point, *p))] == []


def test_a_line_holds_only_what_lies_on_it() -> None:
    zone, here = parse_zone("line 1km 310"), Position(51.17, -1.04)
    assert contains(zone, here, here)
    assert contains(zone, here, at(51.17, -1.04, 40, 499.9))
    assert not contains(zone, here, at(51.17, -1.04, 40, 500.1))
    assert not contains(zone, here, at(51.17, -1.04, 310, 0.01))


def _off_edge(text: str, bearing: float, away: float) -> float:
    """Return the distance to the edge of the few shapes below, from the definition (radials taken as on a plane)."""
    rims = {"cylinder 5km": [5000], "area 5km..30km": [5000, 30000], "area 5km..30km 040..110": [5000, 30000]}[text]
    off = [abs(away - rim) for rim in rims]
    if "040" in text:
        off += [away * abs(math.sin(math.radians(bearing - radial))) for radial in (40, 110)]
    return min(off)


@pytest.mark.parametrize("point", POINTS)
@pytest.mark.parametrize("text", ["cylinder 5km", "area 5km..30km", "area 5km..30km 040..110"])
def test_outlines_keep_to_the_true_edge(point: tuple[float, float], text: str) -> None:
    (shape,) = outline(parse_zone(text), Position(*point))
    assert len(shape.holes) == (1 if text == "area 5km..30km" else 0)
    for ring in (shape.exterior, *shape.holes):
        assert ring[0] == ring[-1]
        assert len(ring) > 4
        for vertex in ring:
            assert _off_edge(text, *polar(*point, vertex)) < 1e-3
        for a, b in pairwise(ring):
            # The chord as maps draw it: straight in longitude and latitude.
            longitude = (b.longitude_deg - a.longitude_deg + 180) % 360 - 180
            for part in (0.25, 0.5, 0.75):
                between = Position(
                    a.latitude_deg + part * (b.latitude_deg - a.latitude_deg), a.longitude_deg + part * longitude
                )
                assert _off_edge(text, *polar(*point, between)) < 5


@pytest.mark.parametrize("within_m", [0.5, 0.9, 4.0])
@pytest.mark.parametrize("point", [*POINTS, (88.5, -70.0)])
def test_outlines_have_as_many_vertices_as_they_need_and_no_more(point: tuple[float, float], within_m: float) -> None:
    for text in ("cylinder 5km", "area 5km..30km"):
        (shape,) = outline(parse_zone(text), Position(*point), within_m=within_m)
        for ring in (shape.exterior, *shape.holes):
            off = [_off_edge(text, *polar(*point, _between(a, b))) for a, b in pairwise(ring)]
            # No chord leaves the edge further than asked, and the one that leaves it most does so by nearly as much.
            assert max(off) < within_m
            if len(ring) > 25:  # at least 24 a circle, however far the chords are off
                assert max(off) > 0.8 * within_m


def _between(a: Position, b: Position) -> Position:
    """Return the middle of a chord as maps draw it: straight in longitude and latitude."""
    longitude = (b.longitude_deg - a.longitude_deg + 180) % 360 - 180
    return Position((a.latitude_deg + b.latitude_deg) / 2, a.longitude_deg + longitude / 2)


@pytest.mark.parametrize(
    "text", ["cylinder 5km", "area 5km..30km 040..110", "sector 90deg 20km 235", "keyhole 500m 90deg 10km 10"]
)
def test_exteriors_run_counter_clockwise_and_holes_clockwise(text: str) -> None:
    for point in POINTS:
        (shape,) = outline(parse_zone(text), Position(*point))
        assert area_m2(shape.exterior) > 0
    (ring,) = outline(parse_zone("area 5km..30km"), Position(51, 10))
    assert area_m2(ring.holes[0]) < 0


def test_a_line_has_ends_and_no_polygon() -> None:
    zone, here = parse_zone("line 1km 310"), Position(51.17, -1.04)
    assert outline(zone, here) == ()
    left, right = line_ends(zone, here)
    assert polar(51.17, -1.04, left) == (pytest.approx(220), pytest.approx(500))
    assert polar(51.17, -1.04, right) == (pytest.approx(40), pytest.approx(500))


def test_a_sector_without_a_radius_is_drawn_as_far_as_asked_for() -> None:
    (shape,) = outline(parse_zone("sector 90deg 10"), Position(51, 10), unbounded_radius_m=7000)
    assert max(polar(51, 10, p)[1] for p in shape.exterior) == pytest.approx(7000)


def test_an_axis_that_is_not_resolved_is_a_mistake_of_the_caller() -> None:
    for text in ("sector 90deg 20km", "line 1km", "keyhole 500m 90deg 10km"):
        with pytest.raises(ValueError, match="axis"):
            contains(parse_zone(text), Position(0, 0), Position(0, 1))
