"""Paths of pictures are short and lose nothing: another reader of SVG paths, fontTools', has the same points."""

from __future__ import annotations

import math
import random
import re

import pytest
from geographiclib.geodesic import Geodesic
from shapely import LineString, Point

from taskdb.core.course.zones import parse_zone
from taskdb.core.model import Landable, Position, Role
from taskdb.report.map_frame import fit_frame, thinned
from taskdb.report.map_zones import ZoneDrawing, draw_zone, zone_ground
from taskdb.report.svg import path_data
from taskdb.report.symbols import place_symbols
from tests.drawn import paths_of, pen_of, vertices


@pytest.mark.parametrize("span_mm", [0.03, 1.0, 180.0, 1e7])
def test_a_path_of_steps_ends_where_its_points_are(span_mm: float) -> None:
    chance = random.Random(11)
    points = [(chance.uniform(-span_mm, span_mm), chance.uniform(-span_mm, span_mm)) for _ in range(500)]
    for (x, y), (to_x, to_y) in zip(points, vertices(path_data(points)), strict=True):
        assert to_x == pytest.approx(x, abs=0.0051, rel=1e-12) and to_y == pytest.approx(y, abs=0.0051, rel=1e-12)


def test_a_path_is_closed_where_asked_and_empty_for_nothing() -> None:
    assert path_data([]) == path_data([], closed=True) == ""
    assert path_data([(1.0, 2.0)]) == "M1 2"
    assert path_data([(0.5, -0.5), (1.0, -0.25), (1.0, 10.0)], closed=True) == "M.5-.5l.5 .25 0 10.25Z"
    assert pen_of(path_data([(0, 0), (1, 0), (1, 1)], closed=True))[-1][0] == "closePath"


def test_a_thinned_line_stays_within_a_hair_and_keeps_corners_ends_and_spikes() -> None:
    circle = [(50 * math.cos(n / 500 * math.tau), 50 * math.sin(n / 500 * math.tau)) for n in range(501)]
    kept = thinned(circle)
    assert len(kept) < 501 / 2 and kept[0] == circle[0] and kept[-1] == circle[-1]
    assert max(LineString(kept).distance(Point(at)) for at in circle) <= 0.015
    assert thinned([(0, 0), (5, 0), (10, 0), (10, 5), (10, 10)]) == ((0, 0), (10, 0), (10, 10))
    assert thinned([(0, 0), (10, 0), (4, 0)]) == ((0, 0), (10, 0), (4, 0))
    assert thinned([(1, 1)]) == ((1, 1),) and thinned([]) == ()


@pytest.mark.parametrize(("text", "radii_m"), [("cylinder 500m", [500]), ("area 5km..25km", [25_000, 5_000])])
@pytest.mark.parametrize("at", [(48.6, 12.3), (-33.0, 179.99), (78.0, 15.0)])
def test_a_round_zone_is_a_circle_as_wide_as_on_the_ellipsoid(
    text: str, radii_m: list[float], at: tuple[float, float]
) -> None:
    # The rim is computed by geographiclib, independent of the code that made the outline.
    here, off = Position(*at), Position(at[0] + 0.8, at[1] - 1.1)
    ground = zone_ground(parse_zone(text), Role.AREA, here, 3_000)
    frame = fit_frame([here, off], 126, 90, pad_mm=(9, 7))
    drawn = draw_zone(ZoneDrawing.on(frame, ground))
    circles = re.findall(r"M(\S+) (\S+)a(\S+) (\S+) 0 1 0 0 ([\d.]+)a\3 \4 0 1 0 0-\5Z", drawn)
    assert len(circles) == len(radii_m) and "l" not in paths_of(drawn)[0]
    for (x, y, r, _, across), radius_m in zip(circles, radii_m, strict=True):
        middle, radius = (float(x), float(y) + float(across) / 2), float(r)
        for bearing in range(0, 360, 5):
            rim = Geodesic.WGS84.Direct(*at, bearing, radius_m)
            there = frame.paper(Position.at(rim["lat2"], (rim["lon2"] + 180) % 360 - 180))
            assert abs(math.dist(middle, there) - radius) < 0.02


@pytest.mark.parametrize(
    "text",
    ["sector 90deg 10km 045", "sector 180deg 10km 045", "keyhole 500m 90deg 10km 235", "area 5km..25km 040..110"],
)
def test_what_is_not_round_keeps_its_corners(text: str) -> None:
    ground = zone_ground(parse_zone(text), Role.TURN, Position(48.6, 12.3), 3_000)
    frame = fit_frame(ground.extent, 60, 60, pad_mm=(2, 2))
    drawing = ZoneDrawing.on(frame, ground)
    drawn = vertices(paths_of(draw_zone(drawing))[0])
    assert len(drawn) >= len(drawing.rings[0])
    for (x, y), (to_x, to_y) in zip(drawing.rings[0], drawn, strict=False):
        assert (to_x, to_y) == (pytest.approx(x, abs=0.0051), pytest.approx(y, abs=0.0051))


@pytest.mark.parametrize("landable", [Landable.AERODROME, Landable.FIELD, Landable.NO])
def test_light_symbols_lie_where_their_places_are_to_a_twentieth_of_a_millimetre(landable: Landable) -> None:
    chance = random.Random(13)
    spots = [(chance.uniform(0, 180), chance.uniform(0, 130)) for _ in range(60)]
    shift = {Landable.AERODROME: (0.0, 0.0), Landable.FIELD: (0.55, 0.55)}.get(landable, (0.0, 0.0))
    data = paths_of(place_symbols(landable, spots))[0]
    begun = sorted((x + shift[0], y + shift[1]) for (x, y), *_ in (at for what, at in pen_of(data) if what == "moveTo"))
    assert len(begun) == len(spots)
    for x, y in spots:
        assert sum(abs(to_x - x) < 0.0501 and abs(to_y - y) < 0.0501 for to_x, to_y in begun) == 1
