"""Matching over random catalogues: one to one, against an exhaustive reading of the rounds, whichever side is old."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings, strategies as st

from taskdb.core.matching import sides
from taskdb.core.matching.match import TIE_WITHIN_M, MatchRound, match_waypoints
from taskdb.core.model import Position, Waypoint
from taskdb.core.names import fold

Catalogues = tuple[list[Waypoint], list[Waypoint]]

# Offsets in 1e-7 degree that make pairs at metres, at tens of metres, at hundreds and at kilometres.
STEPS = st.sampled_from([0, 1_000, 2_500, 3_000, 60_000, 100_000, 400_000, 900_000])
CORNERS = st.sampled_from([(48.0, 11.0), (-17.0, 179.999), (89.9, 30.0)])


@st.composite
def catalogues(draw: st.DrawFn) -> tuple[list[Waypoint], list[Waypoint]]:
    """Two catalogues of one small region, so that much of one may be found in the other."""
    corner = draw(CORNERS)
    return draw(catalogue("old", corner)), draw(catalogue("new", corner))


@st.composite
def catalogue(draw: st.DrawFn, prefix: str, corner: tuple[float, float]) -> list[Waypoint]:
    count = draw(st.integers(0, 7))
    numbers = draw(st.lists(st.integers(0, 9), min_size=count, max_size=count, unique=True))
    made = []
    for number in numbers:
        latitude = corner[0] + draw(STEPS) / 1e7
        longitude = corner[1] + draw(STEPS) / 1e7
        name = draw(st.sampled_from(["Ormsau", "ORMSAU", "Kelmried", "Tannwöhr", "Hof", ""]))
        identity = draw(st.sampled_from([None, f"shared{number}", f"{prefix}{number}"]))
        made.append(Waypoint(f"{number:03d}", name, Position.at(latitude, longitude), identity=identity))
    return made


def geodesic_m(a: Waypoint, b: Waypoint) -> float:
    (p, q) = (a.position, b.position)
    return float(Geodesic.WGS84.Inverse(p.latitude_deg, p.longitude_deg, q.latitude_deg, q.longitude_deg)["s12"])


def exhaustive(old: Sequence[Waypoint], new: Sequence[Waypoint]) -> set[tuple[int, int, MatchRound]]:
    """The rounds as they are described, trying every pair, with geographiclib's distances."""
    found: set[tuple[int, int, MatchRound]] = set()
    left, right = set(range(len(old))), set(range(len(new)))
    distance = {(i, j): geodesic_m(old[i], new[j]) for i in left for j in right}

    def take(made_by: MatchRound, pairs: set[tuple[int, int]]) -> None:
        found.update((i, j, made_by) for i, j in pairs)
        left.difference_update(i for i, _ in pairs)
        right.difference_update(j for _, j in pairs)

    def only(test: Callable[[int, int], bool]) -> set[tuple[int, int]]:
        fitting = {(i, j) for i in left for j in right if test(i, j)}
        mine, theirs = [i for i, _ in fitting], [j for _, j in fitting]
        return {(i, j) for i, j in fitting if mine.count(i) == 1 and theirs.count(j) == 1}

    def same_name(i: int, j: int) -> bool:
        return bool(fold(old[i].name)) and fold(old[i].name) == fold(new[j].name)

    def nearest(i: int, j: int) -> bool:
        reach = distance[i, j] + TIE_WITHIN_M
        nearer = [k for k in right if k != j and distance[i, k] <= reach]
        return not nearer and not [k for k in left if k != i and distance[k, j] <= reach]

    take(MatchRound.IDENTITY, only(lambda i, j: old[i].identity is not None and old[i].identity == new[j].identity))
    take(MatchRound.CODE_AND_NAME, only(lambda i, j: old[i].code == new[j].code and same_name(i, j)))
    take(MatchRound.NAME, only(lambda i, j: same_name(i, j) and distance[i, j] <= 5000))
    take(MatchRound.POSITION, only(lambda i, j: distance[i, j] <= 30))
    codes = only(lambda i, j: old[i].code == new[j].code)
    take(MatchRound.CODE, {(i, j) for i, j in codes if distance[i, j] <= 1000 and nearest(i, j)})
    return found


@settings(max_examples=600, deadline=None)
@given(catalogues())
def test_the_rounds_find_what_trying_every_pair_finds(both: Catalogues) -> None:
    old, new = both
    matching = match_waypoints(old, new)
    assert {(p.old_index, p.new_index, p.round) for p in matching.pairs} == exhaustive(old, new)


@settings(max_examples=200, deadline=None)
@given(catalogues())
def test_every_waypoint_is_matched_once_or_left_over(both: Catalogues) -> None:
    old, new = both
    matching = match_waypoints(old, new)
    assert sorted([p.old_index for p in matching.pairs] + list(matching.unmatched_old)) == list(range(len(old)))
    assert sorted([p.new_index for p in matching.pairs] + list(matching.unmatched_new)) == list(range(len(new)))
    for undecided in matching.undecided:
        assert undecided.old_index in matching.unmatched_old
        assert set(undecided.new_indexes) <= set(matching.unmatched_new)


@settings(max_examples=200, deadline=None)
@given(catalogues())
def test_it_does_not_matter_which_side_is_old(both: Catalogues) -> None:
    old, new = both
    for nearby in (False, True):
        forth = {(p.old_index, p.new_index, p.round) for p in match_waypoints(old, new, nearby=nearby).pairs}
        back = {(p.new_index, p.old_index, p.round) for p in match_waypoints(new, old, nearby=nearby).pairs}
        assert forth == back


@settings(max_examples=200, deadline=None)
@given(catalogues())
def test_the_last_round_adds_pairs_and_takes_none_away(both: Catalogues) -> None:
    old, new = both
    without, within = match_waypoints(old, new).pairs, match_waypoints(old, new, nearby=True).pairs
    assert set(without) <= set(within)
    for pair in set(within) - set(without):
        assert pair.round is MatchRound.NEARBY and pair.distance_m <= 250.001


@settings(max_examples=100, deadline=None)
@given(catalogues(), st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_matter(both: Catalogues, source: random.Random) -> None:
    old, new = both
    order = list(range(len(new)))
    source.shuffle(order)
    plain = {(p.old_index, p.new_index) for p in match_waypoints(old, new).pairs}
    shuffled = match_waypoints(old, [new[k] for k in order])
    assert {(p.old_index, order[p.new_index]) for p in shuffled.pairs} == plain


@settings(max_examples=200, deadline=None)
@given(catalogues(), st.integers(1, 3))
def test_many_rows_worked_through_in_parts_match_as_at_once(both: Catalogues, at_once: int) -> None:
    whole = match_waypoints(*both, nearby=True)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sides, "AT_ONCE", at_once)
        assert match_waypoints(*both, nearby=True) == whole
