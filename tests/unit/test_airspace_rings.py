"""Rings from files: what is refused, in which words, and what a mend makes of it."""

from __future__ import annotations

import math
import random

import pytest
import shapely

from taskdb.core.airspace.rings import MOST_VERTICES, Ground, mend
from taskdb.core.model import E7

SQUARE = [(10.0, 50.0), (11.0, 50.0), (11.0, 51.0), (10.0, 51.0), (10.0, 50.0)]
HOLE = [(10.2, 50.2), (10.2, 50.4), (10.4, 50.4), (10.4, 50.2), (10.2, 50.2)]
OUTSIDE = [(12.2, 50.2), (12.2, 50.4), (12.4, 50.4), (12.4, 50.2), (12.2, 50.2)]
BOW_TIE = [(10.0, 50.0), (11.0, 51.0), (11.0, 50.0), (10.0, 51.0), (10.0, 50.0)]
SPIKE = [(10.0, 50.0), (11.0, 50.0), (11.0, 52.0), (11.0, 51.0), (10.0, 51.0), (10.0, 50.0)]
BRIDGED = [
    (10.0, 50.0), (11.0, 50.0), (11.0, 51.0), (10.0, 51.0), (10.0, 50.5), (10.2, 50.5), (10.4, 50.7), (10.6, 50.5),
    (10.4, 50.3), (10.2, 50.5), (10.0, 50.5), (10.0, 50.0),
]  # fmt: skip
CURL = [(10.0, 50.0), (11.0, 50.0), (11.0, 51.0), (10.4, 50.4), (10.4, 50.6), (10.8, 50.3), (10.0, 51.0), (10.0, 50.0)]


def _area(ground: Ground) -> float:
    return shapely.union_all(
        [
            shapely.Polygon([(x / E7, y / E7) for x, y in p[0]], [[(x / E7, y / E7) for x, y in h] for h in p[1:]])
            for p in ground.polygons
        ]
    ).area


@pytest.mark.parametrize(
    ("name", "polygons", "code", "words"),
    [
        ("not closed", [[SQUARE[:-1]]], "not-closed", "begins at latitude 50.00000, longitude 10.00000"),
        ("bow-tie", [[BOW_TIE]], "crosses-itself", "near latitude 50.50000, longitude 10.50000"),
        ("spike", [[SPIKE]], "crosses-itself", "near latitude 52.00000, longitude 11.00000"),
        ("bridge to a hole", [[BRIDGED]], "crosses-itself", "touches itself"),
        ("axes", [[[(y, x + 100) for x, y in SQUARE]]], "exchanged-axes", "exchanged"),
        ("hole outside", [[SQUARE, OUTSIDE]], "hole-outside", "its hole lies outside"),
        ("hole that reaches out", [[SQUARE, [(x + 0.7, y) for x, y in HOLE]]], "hole-outside", "reaches out"),
        ("line", [[[(10, 50), (11, 51), (12, 52), (10, 50)]]], "no-area", "encloses nothing"),
        ("two places", [[[(10, 50), (11, 51), (10, 50)]]], "too-few-points", "fewer than three"),
        ("nothing", [], "no-ground", "no positions"),
        ("an empty ring", [[[]]], "no-ground", "no positions"),
        ("off the earth", [[[(10, 50), (11, 95), (200, 51), (10, 50)]]], "bad-position", "latitude 95.00000"),
        ("antimeridian", [[[(179, 50), (-179, 50), (-179, 51), (179, 51), (179, 50)]]], "crosses-antimeridian", "7946"),
        ("unrolled", [[[(179, 50), (181, 50), (181, 51), (179, 51), (179, 50)]]], "crosses-antimeridian", "7946"),
        ("pole", [[[(-90.0, 80), (0.0, 80), (90.0, 80), (180.0, 80), (-90.0, 80)]]], "round-a-pole", "once round"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_ring_is_said(name: str, polygons: list, code: str, words: str) -> None:  # type: ignore[type-arg]
    ground = mend(polygons)
    assert ground.polygons == ()
    assert ground.problems[0].code == code, ground.problems
    assert any(words in problem.message for problem in ground.problems)


@pytest.mark.parametrize(
    ("name", "polygons", "area", "count", "words"),
    [
        ("not closed", [[SQUARE[:-1]]], 1.0, 1, "its ring was closed"),
        ("bow-tie: both halves", [[BOW_TIE]], 0.5, 2, "parted into 2 polygon(s)"),
        ("spike: its tip has no ground", [[SPIKE]], 1.0, 1, "1 polygon(s)"),
        ("bridge: the hole stays a hole", [[BRIDGED]], 1 - 0.08, 1, "1 polygon(s) with 1 hole(s)"),
        ("hole outside: the volume is larger", [[SQUARE, OUTSIDE]], 1.0, 1, "larger than drawn"),
        ("hole that reaches out", [[SQUARE, [(x + 0.7, y) for x, y in HOLE]]], 1.0, 1, "larger than drawn"),
        ("hole that crosses itself", [[SQUARE, [(x / 5 + 8.2, y / 5 + 40.2) for x, y in BOW_TIE]]], 1.0, 1, "larger"),
        ("repeats", [[[SQUARE[0], *SQUARE]]], 1.0, 1, "1 position(s) that stood twice in a row"),
    ],
)  # fmt: skip
def test_a_mend_keeps_all_ground_that_was_drawn(
    name: str,
    polygons: list,
    area: float,
    count: int,
    words: str,  # type: ignore[type-arg]
) -> None:
    ground = mend(polygons, repair=True)
    assert ground.problems == ()
    assert len(ground.polygons) == count
    assert _area(ground) == pytest.approx(area, abs=1e-5)
    assert any(words in told for told in ground.mended), ground.mended


def test_exchanged_axes_are_turned_round() -> None:
    turned = mend([[[(y, x + 100) for x, y in SQUARE]]], repair=True)
    assert turned.polygons == mend([[[(x + 100, y) for x, y in SQUARE]]]).polygons
    assert turned.mended == ("longitude and latitude exchanged",)


def test_a_sound_polygon_is_taken_as_it_is_and_nothing_is_said() -> None:
    assert mend([[SQUARE, HOLE]], repair=True) == mend([[SQUARE, HOLE]])
    assert mend([[SQUARE, HOLE]]).mended == ()
    assert _area(mend([[SQUARE, HOLE]])) == pytest.approx(0.96)


def test_a_ring_over_the_antimeridian_runs_on() -> None:
    jumping = [(179, 50), (-179, 50), (-179, 51), (179, 51), (179, 50)]
    for ground in (mend([[jumping]], repair=True), mend([[jumping]], short_way=True)):
        assert {x / E7 for x, _ in ground.polygons[0][0]} == {179, 181}
    assert mend([[jumping]], short_way=True).mended == ()


def test_a_band_round_the_map_is_no_crossing() -> None:
    band = [(-180, -90), (180, -90), (180, -60), (-180, -60), (-180, -90)]
    assert mend([[band]]).problems == ()


def test_a_curl_is_mended_to_no_less_than_it_winds_round_or_refused() -> None:
    ground = mend([[CURL]], repair=True)
    if ground.problems:
        assert "draw it anew" in ground.problems[0].message
    else:
        assert _area(ground) >= shapely.make_valid(shapely.Polygon(CURL)).area - 1e-6


def test_random_rings_are_told_as_an_independent_library_tells_them() -> None:
    rng = random.Random(11)
    told = {True: 0, False: 0}
    for _ in range(400):
        corners = [(rng.randrange(0, 60), rng.randrange(0, 60)) for _ in range(rng.choice((4, 5, 6, 9)))]
        ring = [*corners, corners[0]]
        if len(set(corners)) < len(corners):
            continue
        is_sound = not mend([[ring]]).problems
        assert is_sound == shapely.Polygon(ring).is_valid, ring
        told[is_sound] += 1
        mended = mend([[ring]], repair=True)
        if not is_sound and not mended.problems:
            # Even-odd ground, which is what `make_valid` keeps, is at least covered.
            valid = shapely.make_valid(shapely.Polygon(ring))
            assert _area(mended) >= valid.area - 1e-5
    assert min(told.values()) > 50


def test_a_coastline_is_looked_through_and_a_tangle_refused() -> None:
    round_ = [(10 + math.cos(2 * math.pi * n / 15_000), 50 + math.sin(2 * math.pi * n / 15_000)) for n in range(15_000)]
    assert mend([[[*round_, round_[0]]]]).problems == ()
    comb = [(0.0 if n % 2 else 100.0, n / 300) for n in range(19_000)]
    assert mend([[[*comb, comb[0]]]]).problems[0].code == "too-many-points"
    assert mend([[[*round_, *round_, round_[0]]]]).problems[0].code == "too-many-points"
    assert MOST_VERTICES == 20_000
