"""The search for courses: what is refused, what counts once, what filters do, and how it hands on millions."""

from __future__ import annotations

import random
import sys
from collections.abc import Sequence
from itertools import combinations, pairwise

import numpy as np
import pytest

from taskdb.core.filters.tasks import Sector
from taskdb.core.geodesy import destination, length_m, lengths_m
from taskdb.core.kinds import HomeAt, ProposedShape
from taskdb.core.model import Earth, Position
from taskdb.core.proposing.courses import BLOCK
from taskdb.core.proposing.places import doubt_m, places_round, quick_matrix_m
from taskdb.core.proposing.search import courses
from taskdb.core.proposing.wanted import HOME, Wanted

AT = Position.at(48.0, 9.5)
OUT, FAI, TRIANGLE, ROUND = (
    ProposedShape.OUT_AND_RETURN, ProposedShape.FAI_TRIANGLE, ProposedShape.TRIANGLE, ProposedShape.QUADRILATERAL,
)  # fmt: skip


def round_home(count: int, reach_m: float, seed: int = 4, home: Position = AT) -> list[Position]:
    rng = random.Random(seed)
    spots = [destination(home, rng.uniform(0, 360), reach_m * rng.uniform(0.2, 1)) for _ in range(count)]
    return [Position.at(spot.latitude_deg, spot.longitude_deg) for spot in spots]


def turns(places: Sequence[Position], wanted: Wanted, home: Position = AT) -> list[tuple[int, ...]]:
    return [tuple(row) for block in courses(places, home, wanted) for row in block.turns.tolist()]


@pytest.mark.parametrize(
    "numbers",
    [
        {"least_m": 0.0, "most_m": 300e3}, {"least_m": 300e3, "most_m": 290e3}, {"least_m": 1e6, "most_m": 6e6},
        {"least_m": float("nan"), "most_m": 3e5},
        {"least_m": 2e5, "most_m": 3e5, "home": HomeAt.SIDE, "within_m": -1.0},
        {"least_m": 2e5, "most_m": 3e5, "least_share_percent": 60.0},
        {"least_m": 2e5, "most_m": 3e5, "shape": ROUND, "home": HomeAt.SIDE},
        {"least_m": 2e5, "most_m": 3e5, "shape": OUT, "home": HomeAt.SIDE},
    ],
)  # fmt: skip
def test_numbers_that_describe_no_course_are_refused(numbers: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=r"home|band|share"):
        Wanted(**{"shape": FAI, **numbers})  # type: ignore[arg-type]


@pytest.mark.parametrize("shape", ProposedShape)
def test_no_places_or_too_few_give_no_courses(shape: ProposedShape) -> None:
    wanted = Wanted(shape, 100e3, 500e3)
    assert turns([], wanted) == []
    assert turns([AT], wanted) == []
    if shape is not OUT:
        assert turns([destination(AT, 40, 80e3)], wanted) == []


def test_an_out_and_return_has_its_length_there_and_back() -> None:
    places = [destination(AT, 40, 99_999.0), destination(AT, 50, 100_001.0), destination(AT, 60, 120e3)]
    assert turns(places, Wanted(OUT, 200e3, 230e3)) == [(1,)]


def test_two_codes_at_one_place_are_two_turn_points_but_never_both_of_one_course() -> None:
    places = round_home(12, 90e3)
    twice = [*places, places[0]]
    for wanted in (Wanted(TRIANGLE, 50e3, 400e3), Wanted(ROUND, 50e3, 600e3, least_share_percent=0)):
        found = turns(twice, wanted)
        instead = {tuple(12 if turn == 0 else turn for turn in row) for row in turns(places, wanted) if 0 in row}
        assert {frozenset({row, row[::-1]}) for row in found if 12 in row} == {
            frozenset({row, row[::-1]}) for row in instead
        }
        assert instead and not any({0, 12} <= set(row) for row in found)


def test_at_a_pole_every_longitude_is_one_place() -> None:
    home = Position.at(89.0, 0.0)
    places = [Position.at(90.0, 0.0), Position.at(90.0, 120.0), Position.at(88.5, 90.0)]
    assert sorted(sorted(row) for row in turns(places, Wanted(TRIANGLE, 50e3, 600e3), home)) == [[0, 2], [1, 2]]


def test_homes_own_place_is_no_turn_point() -> None:
    places = [*round_home(10, 90e3), AT]
    for shape, at in ((TRIANGLE, HomeAt.CORNER), (TRIANGLE, HomeAt.SIDE), (ROUND, HomeAt.CORNER), (OUT, HomeAt.CORNER)):
        found = turns(places, Wanted(shape, 1e3, 900e3, at, within_m=1000.0, least_share_percent=0))
        assert not any(10 in row for row in found)


def test_three_turn_points_make_three_quadrilaterals() -> None:
    places = [destination(AT, bearing, 60e3) for bearing in (0.0, 80.0, 170.0)]
    found = turns(places, Wanted(ROUND, 100e3, 500e3, least_share_percent=0))
    assert {row[1] for row in found} == {0, 1, 2} and len(found) == 3


def test_a_least_share_holds_for_15_percent_of_quadrilaterals_unless_said_otherwise() -> None:
    places = round_home(20, 100e3)

    def least(wanted: Wanted) -> float:
        shares = []
        for row in turns(places, wanted):
            path = [AT, *(places[turn] for turn in row), AT]
            legs = [length_m(a, b, Earth.WGS84) for a, b in pairwise(path)]
            shares.append(100 * min(legs) / sum(legs))
        return min(shares)

    assert 15 <= least(Wanted(ROUND, 200e3, 400e3)) < 15.5
    assert 22 <= least(Wanted(ROUND, 200e3, 400e3, least_share_percent=22)) < 22.5
    assert 20 <= least(Wanted(TRIANGLE, 200e3, 300e3, least_share_percent=20)) < 21
    assert least(Wanted(TRIANGLE, 200e3, 300e3)) < 15


def test_a_course_is_given_in_a_way_that_the_first_and_last_course_allow() -> None:
    places = [destination(AT, bearing, 70e3) for bearing in (10.0, 100.0, 190.0)]
    wide = Wanted(TRIANGLE, 100e3, 400e3)
    (block,) = courses(places, AT, wide)
    assert block.both_ways.all() and len(block) == 3
    to_the_east = Wanted(TRIANGLE, 100e3, 400e3, first_deg=Sector(60, 140))
    (block,) = courses(places, AT, to_the_east)
    assert {tuple(row) for row in block.turns.tolist()} == {(1, 0), (1, 2)} and not block.both_ways.any()
    # From the place in the south one flies home on a course of about 10 degrees.
    home_from_the_south = Wanted(TRIANGLE, 100e3, 400e3, first_deg=Sector(60, 140), last_deg=Sector(350, 20))
    assert turns(places, home_from_the_south) == [(1, 2)]


def test_no_turn_point_is_farther_from_home_than_is_wanted() -> None:
    places = round_home(30, 120e3)
    for shape in (TRIANGLE, ROUND):
        near = {n for n, place in enumerate(places) if length_m(AT, place, Earth.WGS84) <= 90e3}
        wanted = Wanted(shape, 100e3, 400e3, farthest_m=90e3)
        found = turns(places, wanted)
        assert found and {turn for row in found for turn in row} <= near


@pytest.mark.parametrize("shape", ProposedShape)
def test_no_blocked_leg_is_flown_and_each_is_asked_for_with_home_first(shape: ProposedShape) -> None:
    places, asked = round_home(25, 100e3), []
    barred = {(HOME, 3), (4, 9), (5, 20), (11, 12)}

    def blocked(first: np.ndarray, second: np.ndarray) -> np.ndarray:
        legs = list(zip(first.tolist(), second.tolist(), strict=True))
        assert len(legs) == len(set(legs)) and all(a < b for a, b in legs)
        asked.extend(legs)
        return np.array([leg in barred for leg in legs])

    wide = Wanted(shape, 120e3, 320e3)

    def legs(row: tuple[int, ...]) -> set[tuple[int, int]]:
        path = [HOME, *row, HOME]
        return {(min(a, b), max(a, b)) for a, b in pairwise(path)}

    free = {row for row in turns(places, wide) if not legs(row) & barred}
    assert set(turns(places, Wanted(shape, 120e3, 320e3, blocked=blocked))) == free
    assert asked and len(free) < len(turns(places, wide))


def test_home_on_a_side_is_flown_from_its_end_with_the_third_corner_between() -> None:
    a, b = destination(AT, 90, 50e3), destination(AT, 270, 55e3)
    third = destination(AT, 5, 88e3)
    assert turns([a, third, b], Wanted(FAI, 290e3, 330e3, HomeAt.SIDE)) == [(0, 1, 2)]


def test_a_course_by_way_of_home_is_longer_than_the_perimeter_of_its_triangle() -> None:
    a, b, third = destination(AT, 85, 50e3), destination(AT, 275, 55e3), destination(AT, 5, 88e3)
    (block,) = courses([a, third, b], AT, Wanted(FAI, 290e3, 330e3, HomeAt.SIDE))
    legs = [length_m(p, q, Earth.WGS84) for p, q in ((AT, a), (a, third), (third, b), (b, AT))]
    assert block.length_m[0] == pytest.approx(sum(legs), abs=1e-6)
    sides = [length_m(p, q, Earth.WGS84) for p, q in ((a, b), (a, third), (third, b))]
    assert block.perimeter_m[0] == pytest.approx(sum(sides), abs=1e-6) and sum(legs) > sum(sides)


@pytest.mark.parametrize(("shape", "at"), [(FAI, HomeAt.CORNER), (FAI, HomeAt.SIDE), (ROUND, HomeAt.CORNER)])
def test_neither_the_order_of_the_places_nor_the_meridian_changes_what_is_found(
    shape: ProposedShape, at: HomeAt
) -> None:
    places, wanted = round_home(50, 120e3), Wanted(shape, 250e3, 330e3, at)

    def sets_of(found: list[tuple[int, ...]], names: Sequence[int]) -> set[frozenset[tuple[int, ...]]]:
        named = [tuple(names[turn] for turn in row) for row in found]
        return {frozenset({row, row[::-1]}) for row in named}

    plain = sets_of(turns(places, wanted), range(50))
    order = random.Random(1).sample(range(50), 50)
    assert sets_of(turns([places[n] for n in order], wanted), order) == plain
    moved = [Position.at(place.latitude_deg, place.longitude_deg + 170.6) for place in [AT, *places]]
    assert sets_of(turns(moved[1:], wanted, moved[0]), range(50)) == plain and plain


def test_millions_come_in_blocks_of_bounded_size_and_are_as_many_as_plain_counting_finds() -> None:
    places, wanted = round_home(160, 130e3), Wanted(ROUND, 380e3, 430e3)
    blocks = list(courses(places, AT, wanted))
    assert len(blocks) > 1 and all(0 < len(block) <= BLOCK for block in blocks)
    assert all(block.turns.dtype == np.int32 for block in blocks)
    latitude = np.array([place.latitude_deg for place in places])
    longitude = np.array([place.longitude_deg for place in places])
    a, b = np.meshgrid(np.arange(160), np.arange(160))
    leg = lengths_m(
        latitude[a].ravel(), longitude[a].ravel(), latitude[b].ravel(), longitude[b].ravel(), Earth.WGS84
    ).reshape(160, 160)
    home = np.array([length_m(AT, place, Earth.WGS84) for place in places])
    total = 0
    for middle in range(160):
        length = home[:, None] + leg[middle][:, None] + leg[middle][None, :] + home[None, :]
        least = np.minimum(
            np.minimum(home[:, None], home[None, :]), np.minimum(leg[middle][:, None], leg[middle][None, :])
        )
        total += int(np.count_nonzero(np.triu((length >= 380e3) & (length <= 430e3) & (least >= 0.15 * length), 1)))
    assert sum(len(block) for block in blocks) == total > BLOCK


@pytest.mark.parametrize("latitude_deg", [0.0, 45.0, 89.0])
@pytest.mark.parametrize("most_m", [100e3, 700e3, 2_000e3, 5_000e3])
def test_quick_lengths_stay_within_their_doubt(latitude_deg: float, most_m: float) -> None:
    home = Position.at(latitude_deg, 20.0)
    places = places_round(round_home(150, most_m / 4, home=home), home, Wanted(TRIANGLE, most_m / 2, most_m))
    quick = quick_matrix_m(places, Earth.WGS84)
    a, b = np.triu_indices(150, 1)
    latitude, longitude = places.latitude_deg, places.longitude_deg
    exact = lengths_m(latitude[a], longitude[a], latitude[b], longitude[b], Earth.WGS84)
    # Three or four such legs are summed, but no course has more than two legs as long as these may be.
    assert 4 * np.abs(quick[a, b] - exact).max() < doubt_m(most_m)


def test_lengths_on_the_fai_sphere_are_those_of_single_legs() -> None:
    places = round_home(20, 300e3)
    for a, b in combinations(places, 2):
        one = [np.array([value]) for value in (a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)]
        for earth in Earth:
            assert lengths_m(*one, earth)[0] == pytest.approx(length_m(a, b, earth), abs=1e-6)  # type: ignore[arg-type]


def test_what_is_wanted_can_be_said_without_numpy() -> None:
    import subprocess

    script = "import sys, taskdb.core.proposing.wanted; print('numpy' in sys.modules, 'pyproj' in sys.modules)"
    told = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert told.stdout.split() == ["False", "False"]
