"""Finding waypoints: references stage by stage, and searches that answer as the same filter does in Python."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

from taskdb.core.filters.waypoints import WaypointFilter
from taskdb.core.model import Feature, Landable, Position, Waypoint
from taskdb.store import sets, waypoints
from taskdb.store.engine import Store
from taskdb.store.waypoints import Stage, candidates, find_waypoints, names_near

NAMES = (
    ("001", "Zürich"), ("01", "Zuerich Hafen"), ("1A", "Straße Nord"), ("7", "Alte Mühle"),
    ("0070", "Alte Muehle Sued"),
    ("AB", "Æbelø 50%"), ("ab", "a_c"), ("Ab2", "京都"), ("X-Y", "Œuvre d'Été"), ("100%", "% _ \\ '"), ("9", ""),
)  # fmt: skip

Write = Callable[..., int]


def named() -> list[Waypoint]:
    return [
        Waypoint(code, name, Position.at(47 + i / 20, 8 + i / 10), identity=f"id{i}")
        for i, (code, name) in enumerate(NAMES)
    ]


@pytest.fixture
def wold(store: Store, write: Write) -> Store:
    """A set of odd names in two revisions that hold the same, so that old and new are read in both ways."""
    first = named()
    write("Wold", added=first)
    write("Wold", changed=[(first[0], replace(first[0], source="survey"))])
    return store


def hits(store: Store, stage: Stage, text: str) -> list[str]:
    """The codes found at a stage: the same in the newest revision, where indexes serve, and in the one before."""
    with store.reading() as c:
        newest, before = ([w.code for w in candidates(c, 1, number, stage, text)] for number in (2, 1))
    assert newest == before
    return newest


@pytest.mark.parametrize(
    ("stage", "text", "codes"),
    [
        (Stage.CODE, "ab", ["ab"]),
        (Stage.CODE, "Ab", []),
        (Stage.CODE, "100%", ["100%"]),
        (Stage.FOLDED_CODE, "aB", ["AB", "ab"]),
        (Stage.FOLDED_CODE, "x y", ["X-Y"]),
        (Stage.CODE_WITHOUT_ZEROS, "1", ["001", "01"]),
        (Stage.CODE_WITHOUT_ZEROS, "0001", ["001", "01"]),
        (Stage.CODE_WITHOUT_ZEROS, "007", ["7"]),
        (Stage.CODE_WITHOUT_ZEROS, "70", ["0070"]),
        (Stage.CODE_WITHOUT_ZEROS, "0", []),
        (Stage.NAME, "Zürich", ["001"]),
        (Stage.NAME, "zürich", []),
        (Stage.NAME, "% _ \\ '", ["100%"]),
        (Stage.NAME, "京都", ["Ab2"]),
        (Stage.FOLDED_NAME, "ZUERICH", ["001"]),
        (Stage.FOLDED_NAME, "zurich", ["001"]),
        (Stage.FOLDED_NAME, "Zürich Hafen", ["01"]),
        (Stage.FOLDED_NAME, "strasse nord", ["1A"]),
        (Stage.FOLDED_NAME, "aebelo 50", ["AB"]),
        (Stage.FOLDED_NAME, "oeuvre d ete", ["X-Y"]),
        (Stage.FOLDED_NAME, "nord", []),
        (Stage.BEGINNING, "alte m", ["0070", "7"]),
        (Stage.BEGINNING, "Alte Mühle", ["0070", "7"]),
        (Stage.BEGINNING, "str", ["1A"]),
        (Stage.BEGINNING, "00", ["001", "0070"]),
        (Stage.BEGINNING, "muehle", []),
        (Stage.BEGINNING, "%", []),
        (Stage.BEGINNING, "", []),
        (Stage.NAME, "", ["9"]),
    ],
)
def test_each_stage_finds_what_it_says(wold: Store, stage: Stage, text: str, codes: list[str]) -> None:
    assert hits(wold, stage, text) == codes


def test_only_the_set_asked_for_is_searched(wold: Store, write: Write) -> None:
    write("Other", added=[replace(w, identity=f"o{w.code}") for w in named()[:3]])
    assert hits(wold, Stage.FOLDED_NAME, "zurich") == ["001"]


def test_a_retired_waypoint_is_found_in_its_revision_only(wold: Store, write: Write) -> None:
    write("Wold", retired=named()[3:4])
    with wold.reading() as c:
        assert [w.code for w in candidates(c, 1, 2, Stage.NAME, "Alte Mühle")] == ["7"]
        assert candidates(c, 1, 3, Stage.NAME, "Alte Mühle") == []
        assert [w.code for w in find_waypoints(c, 1, 3, WaypointFilter("alte"))] == ["0070"]
        assert [w.code for w in find_waypoints(c, 1, 2, WaypointFilter("alte"))] == ["0070", "7"]


@pytest.mark.parametrize("is_large", [False, True])
def test_a_mistyped_name_is_answered_with_the_nearest(
    wold: Store, monkeypatch: pytest.MonkeyPatch, is_large: bool
) -> None:
    if is_large:
        monkeypatch.setattr(waypoints, "_FUZZY_LIMIT", 5)
    with wold.reading() as c:
        assert names_near(c, 1, 2, "Zürihc")[0] == "001 (Zürich)"
        assert names_near(c, 1, 2, "alte muhel")[0] in ("7 (Alte Mühle)", "0070 (Alte Muehle Sued)")
        assert names_near(c, 1, 2, "xqzzv") == []


TEXTS = st.one_of(
    st.sampled_from(
        ["zur", "zuer", "alte m", "m alte", "1", "0", "ab", "%", "_", "\\", "'", "nord str", "京", "50", "æ"]
    ),
    st.text(st.sampled_from("azuermühlsß 01%_\\'京"), max_size=4),
)
FILTERS = st.builds(
    WaypointFilter,
    text=st.one_of(st.none(), TEXTS),
    landable=st.sampled_from([None, None, *Landable]),
    feature=st.sampled_from([None, None, *Feature]),
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(wanted=FILTERS)
def test_a_search_by_sql_finds_what_the_filter_accepts(searched: Store, wanted: WaypointFilter) -> None:
    with searched.reading() as c:
        for number in (1, 2):
            everything = sets.waypoints_at(c, 1, number)
            assert find_waypoints(c, 1, number, wanted) == [w for w in everything if wanted.accepts(w)]


@pytest.fixture
def searched(store: Store, write: Write) -> Iterator[Store]:
    kinds = [(landable, feature) for landable in (None, *Landable) for feature in (None, *Feature)]
    many = [
        replace(w, landable=landable, feature=feature)
        for w, (landable, feature) in zip(named() * 4, kinds, strict=False)
    ]
    many = [replace(w, code=f"{w.code}.{i}", identity=f"m{i}") for i, w in enumerate(many)]
    write("Wold", added=many)
    write("Wold", changed=[(many[0], replace(many[0], name="Zürich Nord"))], retired=many[5:9])
    yield store


LATITUDES = st.one_of(st.floats(-90, 90), st.sampled_from([-90.0, 90.0, 89.9, -89.95, 0.0, 60.0]))
LONGITUDES = st.one_of(st.floats(-180, 179.999), st.sampled_from([-180.0, 179.9999, 0.0]))
METRES = st.sampled_from([0.0, 1.0, 500.0, 25_000.0, 300_000.0, 2_000_000.0, 12_000_000.0])


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(latitude=LATITUDES, longitude=LONGITUDES, within_m=METRES)
def test_a_search_by_nearness_finds_all_within_anywhere_on_earth(
    globe: Store, latitude: float, longitude: float, within_m: float
) -> None:
    wanted = WaypointFilter(near=Position.at(latitude, longitude), within_m=within_m)
    with globe.reading() as c:
        everything = sets.waypoints_at(c, 1, 1)
        assert find_waypoints(c, 1, 1, wanted) == [w for w in everything if wanted.accepts(w)]


@pytest.fixture
def globe(store: Store, write: Write) -> Iterator[Store]:
    """Places spread evenly over the globe (a golden spiral), thicker at the poles and the antimeridian."""
    spots = [
        (math.degrees(math.asin(1 - (2 * i + 1) / 300)), (i * 137.507764) % 360 - 180) for i in range(300)
    ]  # fmt: skip
    spots += [(90.0, 0.0), (-90.0, 0.0), (89.99, 120.0), (89.95, -60.0), (-89.9, 10.0)]
    spots += [
        (latitude, longitude) for latitude in (0.0, 60.0, -45.0) for longitude in (-180.0, 179.9999, -179.9, 179.0)
    ]
    write("Globe", added=[Waypoint(f"{i:03d}", "", Position.at(*s), identity=f"{i}") for i, s in enumerate(spots)])
    yield store
