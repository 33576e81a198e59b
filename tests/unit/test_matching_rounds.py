"""Matching one catalogue to another: each round on its own, their order, and the traps that codes alone set."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace

import pytest
from geographiclib.geodesic import Geodesic

from taskdb.core.history.import_doubts import is_reused, what_differs
from taskdb.core.matching.match import Match, Matching, MatchRound, WhyUndecided, match_waypoints
from taskdb.core.model import Position, Radio, Runway, Waypoint


def place(code: str, name: str, latitude_deg: float, longitude_deg: float, identity: str | None = None) -> Waypoint:
    return Waypoint(code, name, Position.at(latitude_deg, longitude_deg), identity=identity)


def off(waypoint: Waypoint, metres: float, azimuth_deg: float = 60.0, **values: object) -> Waypoint:
    """Return a waypoint moved by metres along a geodesic (geographiclib), with other values."""
    at = waypoint.position
    end = Geodesic.WGS84.Direct(at.latitude_deg, at.longitude_deg, azimuth_deg, metres)
    return replace(waypoint, position=Position.at(end["lat2"], end["lon2"]), **values)  # type: ignore[arg-type]


ORMSAU = place("001", "Ormsau", 48.872, 11.8105)
KELMRIED = place("002", "Kelmried", 48.561, 11.522)
TANNWOEHR = place("003", "Tannwöhr", 49.051, 12.473)


def only_pair(old: Sequence[Waypoint], new: Sequence[Waypoint]) -> Match | None:
    matching = match_waypoints(old, new)
    assert len(matching.pairs) <= 1
    return matching.pairs[0] if matching.pairs else None


def rounds(old: Sequence[Waypoint], new: Sequence[Waypoint]) -> list[tuple[int, int, MatchRound]]:
    return [(p.old_index, p.new_index, p.round) for p in match_waypoints(old, new).pairs]


def test_identity_matches_whatever_else_changed() -> None:
    old = replace(ORMSAU, identity="x")
    new = place("777", "Elsewhere", -33.9, 151.2, identity="x")
    pair = only_pair([old], [new])
    assert pair is not None
    assert pair.round is MatchRound.IDENTITY
    expected = Geodesic.WGS84.Inverse(48.872, 11.8105, -33.9, 151.2)["s12"]
    assert pair.distance_m == pytest.approx(expected, abs=0.001)


def test_a_code_with_its_name_matches_over_any_distance() -> None:
    pair = only_pair([ORMSAU], [off(ORMSAU, 300_000, name="ORMSAU")])
    assert pair is not None
    assert (pair.round, round(pair.distance_m)) == (MatchRound.CODE_AND_NAME, 300_000)


@pytest.mark.parametrize(
    ("mine", "theirs"), [("Tannwöhr", "tannwohr"), ("Tannwöhr", "Tannwoehr"), ("Große A", "GROSSE A")]
)
def test_names_are_the_same_in_either_folding(mine: str, theirs: str) -> None:
    pair = only_pair([replace(TANNWOEHR, name=mine)], [off(TANNWOEHR, 90_000, name=theirs)])
    assert pair is not None
    assert pair.round is MatchRound.CODE_AND_NAME


def test_a_code_without_a_name_matches_by_place_only() -> None:
    old = replace(ORMSAU, name="")
    assert only_pair([old], [off(old, 90_000)]) is None
    assert rounds([old], [off(old, 20)]) == [(0, 0, MatchRound.POSITION)]


@pytest.mark.parametrize(("metres", "is_matched"), [(4_999.9, True), (5_000.1, False)])
def test_a_name_matches_within_five_kilometres(metres: float, is_matched: bool) -> None:
    for azimuth in (0.0, 45.0, 90.0, 200.0):
        pair = only_pair([ORMSAU], [off(ORMSAU, metres, azimuth, code="900")])
        assert (pair is not None and pair.round is MatchRound.NAME) == is_matched


def test_a_name_twice_within_five_kilometres_is_left_undecided() -> None:
    twins = [off(ORMSAU, 1_000, 0, code="901"), off(ORMSAU, 3_000, 180, code="902")]
    matching = match_waypoints([ORMSAU], twins)
    assert matching.pairs == ()
    assert [(u.old_index, u.new_indexes, u.why) for u in matching.undecided] == [(0, (0, 1), WhyUndecided.SAME_NAME)]
    assert match_waypoints(twins, [ORMSAU]).pairs == ()


def test_a_name_twice_but_once_within_five_kilometres_matches() -> None:
    near, far = off(ORMSAU, 1_000, 0, code="901"), off(ORMSAU, 30_000, 180, code="902")
    assert rounds([ORMSAU], [far, near]) == [(0, 1, MatchRound.NAME)]


@pytest.mark.parametrize(("metres", "is_matched"), [(29.99, True), (30.01, False)])
def test_a_place_matches_within_thirty_metres(metres: float, is_matched: bool) -> None:
    for azimuth in (0.0, 45.0, 90.0, 200.0):
        pair = only_pair([ORMSAU], [off(ORMSAU, metres, azimuth, code="900", name="Other")])
        assert (pair is not None and pair.round is MatchRound.POSITION) == is_matched


def test_a_second_candidate_within_thirty_metres_on_either_side_decides_nothing() -> None:
    here = [replace(ORMSAU, code="900", name="A"), off(ORMSAU, 25, code="901", name="B")]
    matching = match_waypoints([ORMSAU], here)
    assert matching.pairs == ()
    assert matching.undecided[0].why is WhyUndecided.SAME_PLACE
    assert match_waypoints(here, [ORMSAU]).pairs == ()


@pytest.mark.parametrize(("metres", "is_matched"), [(999.0, True), (1_001.0, False)])
def test_a_code_matches_within_a_kilometre(metres: float, is_matched: bool) -> None:
    pair = only_pair([ORMSAU], [off(ORMSAU, metres, name="Renamed")])
    assert (pair is not None and pair.round is MatchRound.CODE) == is_matched


def test_a_code_does_not_match_where_another_unmatched_point_is_nearer() -> None:
    old = [ORMSAU]
    new = [off(ORMSAU, 800, 0, name="Renamed"), off(ORMSAU, 700, 0, code="900", name="Nearer")]
    matching = match_waypoints(old, new)
    assert matching.pairs == ()
    assert matching.undecided[0].new_indexes == (0,)
    assert match_waypoints(new, old).pairs == ()


def test_a_code_does_not_match_where_two_points_are_equally_near() -> None:
    spot = off(ORMSAU, 500, 0, name="Renamed")
    assert match_waypoints([ORMSAU], [spot, replace(spot, code="900", name="Same spot")]).pairs == ()


def test_places_are_tried_before_codes() -> None:
    # Start points 400 m apart, renumbered by one inserted row and restyled: codes would carry each to its neighbour.
    starts = [off(ORMSAU, 400 * i, 90, code=f"S{i}", name=f"Start {i}") for i in range(6)]
    restyled = [replace(w, code=f"S{i + 1}", name=f"startpoint no {i + 1}") for i, w in enumerate(starts)]
    inserted = off(ORMSAU, 2_000, 0, code="S0", name="startpoint no 0")
    assert rounds(starts, [inserted, *restyled]) == [(i, i + 1, MatchRound.POSITION) for i in range(6)]


def test_a_list_renumbered_by_one_inserted_row_keeps_every_waypoint() -> None:
    source = random.Random(5)
    spots = [(source.uniform(47.0, 50.0), source.uniform(8.0, 13.0)) for _ in range(400)]
    old = [place(f"{i:03d}", f"Place {i}", *spot, identity=f"id{i}") for i, spot in enumerate(spots)]
    new = [replace(w, code=f"{i + 1:03d}", identity=None) for i, w in enumerate(old)]
    new.insert(0, place("000", "The inserted one", 48.5, 10.5))
    matching = match_waypoints(old, new)
    assert [(p.old_index, p.new_index) for p in matching.pairs] == [(i, i + 1) for i in range(400)]
    assert matching.unmatched_new == (0,)
    assert all(pair.distance_m == 0.0 for pair in matching.pairs)


def test_a_swap_of_two_codes_follows_the_places() -> None:
    new = [replace(ORMSAU, code="002"), replace(KELMRIED, code="001")]
    assert rounds([ORMSAU, KELMRIED], new) == [(0, 0, MatchRound.NAME), (1, 1, MatchRound.NAME)]


def test_a_swap_of_two_names_leaves_each_code_at_its_place() -> None:
    new = [replace(ORMSAU, name="Kelmried"), replace(KELMRIED, name="Ormsau")]
    assert rounds([ORMSAU, KELMRIED], new) == [(0, 0, MatchRound.POSITION), (1, 1, MatchRound.POSITION)]


@pytest.mark.parametrize(
    ("metres", "name", "expected"),
    [(999.0, "Tower", False), (1_001.0, "Tower", True), (1_001.0, "ORMSAU", False), (1_001.0, "", True)],
)
def test_a_code_names_another_place_over_a_kilometre_away_under_another_name(
    metres: float, name: str, expected: bool
) -> None:
    assert is_reused(ORMSAU, off(ORMSAU, metres, name=name)) is expected
    nameless = replace(ORMSAU, name="")
    assert is_reused(nameless, off(nameless, metres)) is (metres > 1_000)


def test_repeated_rows_of_one_code_and_name_are_not_guessed_between() -> None:
    far = [off(ORMSAU, 50_000, 0), off(ORMSAU, 60_000, 0)]
    assert match_waypoints([ORMSAU], far).pairs == ()
    assert match_waypoints(far, [ORMSAU]).pairs == ()


def test_places_match_across_the_antimeridian_and_at_the_poles() -> None:
    west, east = place("1", "A", -17.0, 179.99995), place("9", "B", -17.0, -179.99995)
    assert rounds([west], [east]) == [(0, 0, MatchRound.POSITION)]
    here, there = place("1", "A", 89.9999, 10.0), place("9", "B", 89.9999, -170.0)
    assert rounds([here], [there]) == [(0, 0, MatchRound.POSITION)]


@pytest.mark.parametrize(("old", "new"), [([], []), ([ORMSAU], []), ([], [ORMSAU])])
def test_an_empty_side_matches_nothing(old: list[Waypoint], new: list[Waypoint]) -> None:
    assert match_waypoints(old, new) == Matching.nothing(len(old), len(new))


def test_thousands_on_one_spot_are_left_undecided_without_trying_every_pair() -> None:
    # 4,000 × 4,000 pairs would take minutes; this takes part of a second.
    old = [replace(ORMSAU, code=f"A{i}", name=f"Old {i % 7}") for i in range(4_000)]
    new = [replace(ORMSAU, code=f"B{i}", name=f"New {i % 7}") for i in range(4_000)]
    matching = match_waypoints(old, new)
    assert matching.pairs == ()
    assert len(matching.undecided) == 4_000


def near(old: Sequence[Waypoint], new: Sequence[Waypoint]) -> list[tuple[int, int, float]]:
    """Return what the last round matches, with the distance."""
    pairs = match_waypoints(old, new, nearby=True).pairs
    return [(p.old_index, p.new_index, p.distance_m) for p in pairs if p.round is MatchRound.NEARBY]


RENAMED = off(ORMSAU, 150, code="900", name="Varnfeld")
ELSEWHERE = [KELMRIED, TANNWOEHR]


def test_another_code_and_name_near_where_it_stood_is_the_same_point_where_asked_for() -> None:
    old, new = [ORMSAU, *ELSEWHERE], [*ELSEWHERE, RENAMED]
    assert near(old, new) == [(0, 2, pytest.approx(150, abs=0.1))]
    assert match_waypoints(old, new, nearby=True).unmatched_old == ()
    assert match_waypoints(old, new).unmatched_old == (0,)


@pytest.mark.parametrize(("metres", "is_matched"), [(249.0, True), (251.0, False)])
def test_near_is_within_250_metres(metres: float, is_matched: bool) -> None:
    assert bool(near([ORMSAU], [off(ORMSAU, metres, code="900", name="Varnfeld")])) == is_matched


@pytest.mark.parametrize(
    "beside",
    [
        ([off(ORMSAU, 900, 0, code="901", name="Gone too")], []),
        ([], [off(ORMSAU, 900, 0, code="901", name="New too")]),
        ([off(ORMSAU, 500, 0, code="S1", name="Start 1")], [off(ORMSAU, 500, 0, code="S1", name="Start 1")]),
    ],
)
def test_other_points_about_leave_it_undecided(beside: tuple[list[Waypoint], list[Waypoint]]) -> None:
    old, new = [ORMSAU, *ELSEWHERE, *beside[0]], [RENAMED, *ELSEWHERE, *beside[1]]
    assert near(old, new) == []
    assert near(new, old) == []


@pytest.mark.parametrize(("metres", "is_matched"), [(999.0, False), (1_001.0, True)])
def test_another_point_without_counterpart_within_a_kilometre_leaves_it_undecided(
    metres: float, is_matched: bool
) -> None:
    gone = off(ORMSAU, metres, 240.0, code="901", name="Gone too")
    assert bool(near([ORMSAU, gone], [RENAMED])) is is_matched
    assert bool(near([RENAMED], [ORMSAU, gone])) is is_matched


@pytest.mark.parametrize(("metres", "is_matched"), [(449.0, False), (451.0, True)])
def test_a_matched_neighbour_lies_three_times_as_far_off(metres: float, is_matched: bool) -> None:
    town = off(ORMSAU, metres, 240.0, code="T1", name="Town")
    assert bool(near([ORMSAU, town], [town, RENAMED])) is is_matched


@pytest.mark.parametrize(("elevation_m", "is_matched"), [(430.0, True), (430.1, False)])
def test_thirty_metres_of_height_tell_two_points_apart(elevation_m: float, is_matched: bool) -> None:
    assert bool(near([replace(ORMSAU, elevation_m=400.0)], [replace(RENAMED, elevation_m=elevation_m)])) is is_matched


def test_a_matched_neighbour_far_enough_off_does_not_matter() -> None:
    town = off(ORMSAU, 800, 0, code="T1", name="Town")
    assert [pair[:2] for pair in near([ORMSAU, town], [town, RENAMED])] == [(0, 1)]


@pytest.mark.parametrize(
    ("mine", "theirs"),
    [
        ({"landable": "aerodrome"}, {"landable": "no"}),
        ({"feature": "water"}, {"feature": "relief"}),
        ({"country": "DE"}, {"country": "AT"}),
        ({"elevation_m": 400.0}, {"elevation_m": 440.0}),
        ({"radio": (Radio("123.505"),)}, {"radio": (Radio("122.480"),)}),
        ({"runways": (Runway("07/25"),)}, {"runways": (Runway("15/33"),)}),
    ],
)
def test_values_that_contradict_each_other_keep_two_near_points_apart(mine: object, theirs: object) -> None:
    old, new = replace(ORMSAU, **mine), replace(RENAMED, **theirs)  # type: ignore[arg-type]
    assert near([old], [new]) == []
    assert len(near([old], [RENAMED])) == len(near([ORMSAU], [new])) == len(near([ORMSAU], [RENAMED])) == 1


def test_start_points_restyled_and_moved_are_never_matched_by_nearness() -> None:
    starts = [off(ORMSAU, 400 * i, 90, code=f"S{i}", name=f"Start {i}") for i in range(6)]
    restyled = [off(w, 150, 90, code=f"P{i}", name=f"point no {i}") for i, w in enumerate(starts)]
    assert near(starts, restyled) == []


def test_lists_of_different_things_are_not_matched_by_chance() -> None:
    # As a list of towns and one of fields: many pairs within 1 km, and some within 250 m, that mean nothing.
    source = random.Random(3)
    fields = [place(f"F{i}", f"Field {i}", 45 + i // 30 / 10, 9 + i % 30 / 5) for i in range(900)]
    towns = [off(w, source.uniform(50, 1500), code=f"T{i}", name=f"Town {i}") for i, w in enumerate(fields)]
    assert near(fields, towns) == []


@pytest.mark.parametrize("key", [{"code": "7"}, {"identity": "x"}])
def test_what_two_rows_bear_matches_neither_of_them(key: dict[str, str]) -> None:
    # 400 m and 300 m away, one on each side: only what they share speaks for either.
    mine = replace(ORMSAU, **key)
    twice = [off(mine, 400, 0, name="Hill"), off(mine, 300, 180, name="Mill")]
    if "code" not in key:
        twice = [replace(one, code=f"9{number}") for number, one in enumerate(twice)]
    for old, new in (([mine], twice), (twice, [mine])):
        assert match_waypoints(old, new).pairs == ()
        # Once it is borne by one alone, it matches.
        assert len(match_waypoints(old[:1], new[:1]).pairs) == 1


def place_and_radio(*channels: str) -> Waypoint:
    return replace(ORMSAU, radio=tuple(Radio(channel) for channel in channels))


@pytest.mark.parametrize(
    ("before", "after", "differing"),
    [
        (place_and_radio("123.505"), place_and_radio("123.505"), []),
        (place_and_radio("123.505"), place_and_radio("122.475"), ["channel"]),
        (place_and_radio("123.505"), place_and_radio(), []),
        (place_and_radio(), place_and_radio("122.475"), []),
        (place_and_radio("123.505", "122.475"), place_and_radio("122.475", "123.505"), []),
        (ORMSAU, replace(ORMSAU, code="9"), ["code"]),
        (replace(ORMSAU, runways=(Runway("09/27"),)), replace(ORMSAU, runways=(Runway("18/36"),)), ["runways"]),
        (replace(ORMSAU, runways=(Runway("09/27"),)), ORMSAU, []),
    ],
)
def test_what_both_sides_state_and_state_otherwise_speaks_against_one_place(
    before: Waypoint, after: Waypoint, differing: list[str]
) -> None:
    assert what_differs(before, after) == differing
