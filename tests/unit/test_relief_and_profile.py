"""The relief under a map and the ground under a course: drawn from terrain alone, quiet, and the same each time."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import numpy as np
import pytest
from lxml import etree, html
from PIL import Image
from pyproj import Proj

from taskdb.core.course.regions import counted_position
from taskdb.core.ground import GroundHeights
from taskdb.core.judgement.cover import Cover, Terms, cover_course
from taskdb.core.judgement.fields import Fields
from taskdb.core.judgement.glide import Glide
from taskdb.core.model import Landable, Position, Waypoint
from taskdb.core.projection import Projection
from taskdb.core.quantities import Units
from taskdb.report.map import draw_map, frame_of
from taskdb.report.palette import VERMILLION
from taskdb.report.png import grey_png
from taskdb.report.profile import draw_profile, profile_words
from taskdb.report.relief import DARKEST, relief_levels
from taskdb.report.sheet import render_sheet
from taskdb.report.side_view import ground_profile
from tests.reference.pages import RACING, page

PAGE = page(RACING)
LEGS_M = [leg.distance_m for leg in PAGE.course.legs]


def ground(heights, *, is_users: bool = True, spacing_m: float = 90.0) -> GroundHeights:
    return GroundHeights("terrain <invented>", spacing_m, is_users, heights)


def ridge(latitude: np.ndarray, longitude: np.ndarray) -> np.ndarray:
    """A ridge from south to north along 12° E, 2,000 m high and 0.2° wide to either side, on land of 500 m."""
    return 500.0 + 1500.0 * np.clip(1.0 - np.abs(longitude - 12.0) / 0.2, 0.0, None)


def plain(latitude: np.ndarray, longitude: np.ndarray) -> np.ndarray:
    return np.full(len(latitude), 400.0) + 20.0 * np.sin(latitude * 50)


def frame():
    return frame_of([(PAGE.task, PAGE.course)], 160, 110)


@pytest.mark.parametrize("centre", [(48.0, 11.0), (-33.5, 179.9), (0.0, 0.0), (78.0, -40.0)])
def test_places_of_the_plane_are_where_another_library_has_them(centre: tuple[float, float]) -> None:
    """PROJ's oblique stereographic (+proj=sterea is the double one; +proj=stere on the ellipsoid is Snyder's)."""
    projection = Projection(Position(*centre))
    x, y = (np.random.default_rng(n).uniform(-300_000, 300_000, 500) for n in (1, 2))
    latitude, longitude = projection.places_deg(x, y)
    theirs = Proj(proj="stere", lat_0=centre[0], lon_0=centre[1], ellps="WGS84")(x, y, inverse=True)
    np.testing.assert_allclose(latitude, theirs[1], atol=2e-8)
    np.testing.assert_allclose((longitude - theirs[0] + 180) % 360 - 180, 0.0, atol=2e-7)
    for k in range(0, 500, 50):
        back = projection.project(Position.at(latitude[k], (longitude[k] + 180) % 360 - 180))
        assert back == pytest.approx((x[k], y[k]), abs=0.02)


def test_a_picture_of_greys_is_read_by_another_library() -> None:
    levels = np.random.default_rng(3).integers(0, 16, (301, 457)).astype(np.uint8)
    with Image.open(io.BytesIO(grey_png(levels, 51))) as picture:
        greys = np.asarray(picture.convert("L"))
    assert greys.shape == levels.shape
    np.testing.assert_array_equal(greys, np.round(51 + 204.0 * levels / 15))
    with pytest.raises(ValueError, match="levels"):
        grey_png(np.full((2, 2), 16, dtype=np.uint8), 0)


def test_slopes_away_from_the_north_west_are_grey_and_all_else_is_white() -> None:
    """The convention of maps: light from the upper left (E. Imhof, Cartographic Relief Presentation)."""
    shown = frame()
    levels = relief_levels(shown, ground(ridge))
    assert levels is not None
    rows, columns = levels.shape
    middle = shown.paper(Position(48.8, 12.0))[0] / shown.width_mm * columns
    east, west = levels[rows // 2, int(middle) + 8], levels[rows // 2, int(middle) - 8]
    assert west == 15 and east < 10
    assert (levels[:, : int(middle) - 60] == 15).all()
    assert (relief_levels(shown, ground(plain)) >= 12).all()
    assert relief_levels(shown, ground(lambda latitude, longitude: latitude * np.nan)) is None


def test_what_lies_beyond_the_terrain_is_white() -> None:
    half = ground(lambda latitude, longitude: np.where(latitude > 48.8, ridge(latitude, longitude), np.nan))
    levels = relief_levels(frame(), half)
    assert levels is not None and (levels[-40:] == 15).all() and (levels < 10).any()


def test_black_and_the_maps_colours_keep_their_contrast_on_the_darkest_grey() -> None:
    """WCAG 2.2, 1.4.3 and 1.4.11: 4.5:1 for text, 3:1 for graphics; relative luminance of sRGB."""
    from taskdb.report.palette import BLUE, INK, SOFT_INK

    def luminance(colour: str) -> float:
        parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    darkest = luminance(f"#{DARKEST:02x}{DARKEST:02x}{DARKEST:02x}")
    for colour, least in ((INK, 14.0), (SOFT_INK, 4.5), (BLUE, 3.0)):
        assert (darkest + 0.05) / (luminance(colour) + 0.05) >= least


def test_relief_lies_under_everything_and_only_where_terrain_was_given() -> None:
    bare = draw_map(PAGE.task, PAGE.course)
    assert draw_map(PAGE.task, PAGE.course, ground=ground(ridge, is_users=False)) == bare
    drawn = draw_map(PAGE.task, PAGE.course, ground=ground(ridge))
    assert drawn == draw_map(PAGE.task, PAGE.course, ground=ground(ridge))
    root = etree.fromstring(drawn.encode())
    (inside,) = [one for one in root if one.tag.endswith("svg")]
    assert [one.tag.rpartition("}")[2] for one in inside][:2] == ["rect", "image"]
    assert "relief: terrain &lt;invented&gt;" in drawn
    assert len(drawn) < len(bare) + 90_000
    without = re.sub(r"<image[^>]*/>|<text[^>]*>relief: [^<]*</text>", "", drawn)
    assert without == bare


def test_the_profile_has_the_highest_ground_of_each_leg() -> None:
    profile = ground_profile(PAGE.task, LEGS_M, ground(ridge))
    assert profile.points_m[-1] == pytest.approx(sum(leg.distance_m for leg in PAGE.course.legs))
    # The first leg crosses the ridge, the second stays east of it: its west end at 12.508° E is on flat land.
    assert profile.highest_m[0] == pytest.approx(2000.0, abs=12.0)
    assert profile.highest_m[1] == pytest.approx(500.0)
    assert profile.matters and not ground_profile(PAGE.task, LEGS_M, ground(plain)).matters
    # A height at least every spacing: no tower of ground narrower than that is jumped over.
    assert np.diff(profile.at_m).max() <= 90.0
    drawn = draw_profile(PAGE.task, profile, width_mm=186, units=Units.KM)
    etree.fromstring(drawn.encode())
    texts = re.findall(r">([^<>]+)</text>", drawn)
    assert {"500 m", "1000 m", "1500 m", "2000 m", "Start", "1", "2", "3"} <= set(texts)
    assert f"{sum(leg.distance_m for leg in PAGE.course.legs) / 1000:.0f} km" in texts


def test_unknown_ground_is_a_gap_and_said() -> None:
    def half(latitude: np.ndarray, longitude: np.ndarray) -> np.ndarray:
        return np.where(longitude < 12.1, ridge(latitude, longitude), np.nan)

    profile = ground_profile(PAGE.task, LEGS_M, ground(half))
    assert profile.highest_m[0] is None and profile.matters
    assert "nothing is known" in profile_words(profile, ground(half))
    assert "nothing is known" not in profile_words(ground_profile(PAGE.task, LEGS_M, ground(ridge)), ground(ridge))
    drawn = draw_profile(PAGE.task, profile, width_mm=186, units=Units.KM)
    assert "nan" not in drawn and "inf" not in drawn


def test_a_sheet_has_both_with_their_source_and_else_neither() -> None:
    without = render_sheet([PAGE])
    assert "img-src" not in without and "<image" not in without and 'class="profile"' not in without
    shown = render_sheet([replace(PAGE, ground=ground(ridge))])
    document = html.document_fromstring(shown)
    (policy,) = document.xpath("//meta[@http-equiv='Content-Security-Policy']/@content")
    assert policy == "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
    (heading,) = document.xpath("//div[@class='profile']/h2")
    said = " ".join(heading.text_content().split())
    assert "From terrain <invented>, a height every 90 m, metres above mean sea level; may be old." in said
    flat = render_sheet([replace(PAGE, ground=ground(plain))])
    assert 'class="profile"' not in flat and "<image" in flat
    assert shown == render_sheet([replace(PAGE, ground=ground(ridge))])


def covered(*codes: tuple[str, float, float]) -> Cover:
    """The cover of the page's course from 2,600 m with fields at these places, over the ridge."""
    made = [Waypoint(code, "", Position.at(*at), 500.0, Landable.FIELD) for code, *at in codes]
    points = [counted_position(point) for point in PAGE.task.points]
    terms = Terms(Glide(25, 100), 2600.0, "2600m MSL")
    return cover_course(points, Fields.of(made, [Landable.FIELD]), terms, ground=ground(ridge))


def test_the_profile_shows_the_fields_in_reach_and_hatches_where_none_is() -> None:
    start = PAGE.task.points[0].place.position
    cover = covered(("FIELD1", start.latitude_deg, start.longitude_deg))
    assert cover.stretches and cover.samples[0].code == "FIELD1"
    profile = ground_profile(PAGE.task, LEGS_M, ground(ridge))
    drawn = draw_profile(PAGE.task, profile, width_mm=186, units=Units.KM, cover=cover)
    etree.fromstring(drawn.encode())
    texts = re.findall(r">([^<>]+)</text>", drawn)
    assert {"2600m MSL", "FIELD1"} <= set(texts)
    assert VERMILLION in drawn and VERMILLION not in draw_profile(PAGE.task, profile, width_mm=186, units=Units.KM)
    # The axis reaches up to the altitude of the glide, and the picture down to the strip.
    assert {"2000 m", "3000 m"} & set(texts)
    words = profile_words(profile, ground(ridge), cover)
    assert "hatched where none is: 1 in 25" in words and "cleared by 100 m but for the last 2 km" in words
    assert "no circuit, fields as last inspected" in words


def test_a_sheet_draws_the_cover_in_plains_too() -> None:
    page = replace(PAGE, ground=ground(plain))
    assert 'class="profile"' not in render_sheet([page])
    drawn = render_sheet([replace(page, cover=covered(("A", 48.0, 12.0)))])
    assert 'class="profile"' in drawn and "2600m MSL" in drawn
