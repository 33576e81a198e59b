"""A season carried over against the known truth: no point is ever taken for another, nothing clear is left undone."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

import pytest
from geographiclib.geodesic import Geodesic

from taskdb.core.geodesy import destination
from taskdb.core.history.carry import Carried, CarryOver, Doubtful
from taskdb.core.model import Place, Position, Waypoint

SYLLABLES = [
    "Ans",
    "Berg",
    "Dorn",
    "Eich",
    "Fels",
    "Gruen",
    "Hohen",
    "Karl",
    "Linden",
    "Muehl",
    "Ober",
    "Quell",
    "Stein",
]
ENDINGS = ["au", "bach", "burg", "feld", "hof", "kirch", "ried", "see", "tal", "wald", "wang", "zell"]


@dataclass(frozen=True)
class Season:
    """Last season's list, this season's, and which old index is which new one (None: gone or split)."""

    old: list[Waypoint]
    new: list[Waypoint]
    truth: dict[int, int | None]


def moved(rng: random.Random, at: Position, low_m: float, high_m: float) -> Position:
    there = destination(at, rng.uniform(0, 360), rng.uniform(low_m, high_m))
    return Position.at(there.latitude_deg, there.longitude_deg)


def catalogue(rng: random.Random, count: int) -> list[Waypoint]:
    """Return a list with clusters of start points a few hundred metres apart, and a few names borne twice."""
    points = []
    while len(points) < count:
        centre = Position.at(rng.uniform(47.5, 49.5), rng.uniform(9.0, 12.0))
        name = f"{rng.choice(SYLLABLES)}{rng.choice(ENDINGS)}{rng.choice(ENDINGS)} {rng.randrange(40)}"
        if rng.random() < 0.05:
            for number in range(5):
                points.append((f"Start {name} {number + 1}", moved(rng, centre, 150, 700)))
        else:
            points.append((name, centre))
    return [
        Waypoint(f"{i + 1:03d}", name, at, 400.0, identity=f"old-{i}") for i, (name, at) in enumerate(points[:count])
    ]


def season(seed: int, count: int = 500) -> Season:
    """Return a season: 30 moved by 5 to 400 m, 10 renamed, 10 removed, 5 split, all renumbered in one of three ways."""
    rng = random.Random(seed)
    old = catalogue(rng, count)
    order = rng.sample(range(count), 55)
    to_move, to_rename, to_remove, to_split = order[:30], order[30:40], order[40:50], order[50:]
    rows: list[tuple[int | None, Waypoint]] = []
    for index, waypoint in enumerate(old):
        if index in to_remove:
            continue
        if index in to_split:
            for side in ("Nord", "Süd"):
                twin = replace(
                    waypoint, name=f"{waypoint.name} {side}", position=moved(rng, waypoint.position, 60, 300)
                )
                rows.append((None, twin))
            continue
        after = waypoint
        if index in to_move:
            after = replace(after, position=moved(rng, after.position, 5, 400))
        if index in to_rename:
            after = replace(after, name=f"Neu {rng.choice(SYLLABLES)}{rng.choice(ENDINGS)} {index}")
        rows.append((index, after))
    way = seed % 3
    inserted = Waypoint("x", "Eingefügt", Position.at(48.4, 10.4), 400.0)
    rows.insert(rng.randrange(len(rows)), (None, inserted))
    codes = [f"{number + 1:03d}" for number in range(len(rows))]
    if way == 1:
        codes = [waypoint.code for _, waypoint in rows]
        seen: set[str] = set()
        codes = [c if not (c in seen or seen.add(c)) and c != "x" else f"N{i}" for i, c in enumerate(codes)]
        for _ in range(40):
            a, b = rng.sample(range(len(codes)), 2)
            codes[a], codes[b] = codes[b], codes[a]
    elif way == 2:
        rng.shuffle(codes)
    new = [replace(w, code=code, identity=f"new-{i}") for i, ((_, w), code) in enumerate(zip(rows, codes, strict=True))]
    truth: dict[int, int | None] = dict.fromkeys(range(count))
    truth.update({index: i for i, (index, _) in enumerate(rows) if index is not None})
    return Season(old, new, truth)


def place(waypoint: Waypoint) -> Place:
    return Place(waypoint.code, waypoint.name, waypoint.position, waypoint.elevation_m, waypoint.identity)


@pytest.mark.parametrize("seed", range(12))
def test_no_point_is_carried_onto_another_and_none_that_is_clear_is_left(seed):
    given = season(seed)
    carry_over = CarryOver(given.old, given.new)
    doubtful = 0
    for index, waypoint in enumerate(given.old):
        result = carry_over.carry(place(waypoint))
        true = given.truth[index]
        if isinstance(result, Carried):
            assert true is not None, f"{waypoint} is gone or split, and was carried onto {result.place}"
            assert result.place.identity == given.new[true].identity, f"{waypoint} onto {result.place}"
        else:
            doubtful += true is not None
    # A start point moved by hundreds of metres among others a few hundred metres away is doubtful, and rightly so.
    assert doubtful <= 3


@pytest.mark.parametrize("seed", range(12))
def test_points_renumbered_renamed_and_moved_a_little_are_carried_and_none_wrongly(seed):
    given, rng = season(seed), random.Random(seed)
    new = list(given.new)
    kept = [old for old, true in given.truth.items() if true is not None and "Start" not in given.old[old].name]
    altered = rng.sample(kept, 15)
    for index in altered:
        at = given.truth[index]
        position = moved(rng, new[at].position, 100, 200)
        new[at] = replace(new[at], code=f"R{index}", name=f"{rng.choice(SYLLABLES)}{rng.choice(ENDINGS)} neu {index}")
        new[at] = replace(new[at], position=position)
    carry_over = CarryOver(given.old, new)
    carried = 0
    for index, waypoint in enumerate(given.old):
        result, true = carry_over.carry(place(waypoint)), given.truth[index]
        if isinstance(result, Carried):
            assert true is not None, f"{waypoint} is gone or split, and was carried onto {result.place}"
            assert result.place.identity == new[true].identity, f"{waypoint} onto {result.place}"
            carried += index in altered
    # A point whose move adds up to more than 250 m, or that has a neighbour about, is left to a person.
    assert carried >= 12


def test_a_point_that_would_move_over_a_kilometre_waits_for_a_person():
    old = [Waypoint("1", "Mill", Position.at(48.0, 11.0), identity="a")]
    new = [Waypoint("1", "Mill", Position.at(48.2, 11.0), identity="a")]
    doubt = CarryOver(old, new).carry(place(old[0]))
    assert isinstance(doubt, Doubtful)
    assert doubt.candidates == (new[0],)
    assert "to be confirmed" in doubt.reason
    assert isinstance(CarryOver(old, new, confirm_far=True).carry(place(old[0])), Carried)
    assert isinstance(CarryOver(old, new, mapping={"1": "1"}).carry(place(old[0])), Carried)


@pytest.mark.parametrize(("metres", "is_carried"), [(999.0, True), (1_001.0, False)])
@pytest.mark.parametrize("identity", ["a", "b"])
def test_a_kilometre_is_the_limit_by_identity_and_by_code_with_name(metres, is_carried, identity):
    at = Geodesic.WGS84.Direct(48.0, 11.0, 30.0, metres)
    old = [Waypoint("1", "Mill", Position.at(48.0, 11.0), identity="a")]
    new = [Waypoint("1", "Mill", Position.at(at["lat2"], at["lon2"]), identity=identity)]
    result = CarryOver(old, new).carry(place(old[0]))
    assert isinstance(result, Carried) is is_carried
    if isinstance(result, Doubtful):
        assert result.candidates == (new[0],) and "to be confirmed" in result.reason


@pytest.mark.parametrize(("metres", "is_offered"), [(4_999.0, True), (5_001.0, False)])
def test_what_lies_within_five_kilometres_is_offered(metres, is_offered):
    at = Geodesic.WGS84.Direct(48.0, 11.0, 30.0, metres)
    old = [Waypoint("1", "Mill", Position.at(48.0, 11.0), identity="a")]
    new = [Waypoint("9", "Hut", Position.at(at["lat2"], at["lon2"]), identity="b")]
    doubt = CarryOver(old, new).carry(place(old[0]))
    assert isinstance(doubt, Doubtful)
    assert doubt.candidates == ((new[0],) if is_offered else ())


def test_a_point_dropped_by_merging_follows_to_the_one_that_was_kept():
    at = Position.at(48.0, 11.0)
    old = [Waypoint("1", "Mill", at, identity="dropped"), Waypoint("2", "Old mill", at, identity="kept")]
    result = CarryOver(old, [old[1]], successors={"dropped": "kept"}).carry(place(old[0]))
    assert isinstance(result, Carried)
    assert (result.place.code, result.matched_by) == ("2", "identity")


@pytest.mark.parametrize("latitude_deg", [48.004, 48.4])
def test_a_code_alone_is_never_followed_near_or_far(latitude_deg):
    old = [Waypoint("7", "Quarry", Position.at(48.0, 11.0), identity="a")]
    tower = Waypoint("7", "Tower", Position.at(latitude_deg, 11.0), identity="b")
    new = [tower, Waypoint("8", "Hut", Position.at(49, 12))]
    doubt = CarryOver(old, new).carry(place(old[0]))
    assert isinstance(doubt, Doubtful)
    assert doubt.candidates[0].code == "7"


def test_a_code_that_the_old_state_does_not_have_is_what_a_person_says_or_doubtful():
    mill = Waypoint("1", "Mill", Position.at(48.0, 11.0), identity="a")
    assert CarryOver([], [mill], mapping={"9": "1"}).carry_code("9") == Carried(Place.of(mill), "map", None)
    for mapping in ({}, {"9": "8"}):
        doubt = CarryOver([], [mill], mapping=mapping).carry_code("9")
        assert isinstance(doubt, Doubtful) and doubt.place.code == "9" and doubt.candidates == ()
