"""What a map of a catalogue shows first: its main part, where a few places lie far off, and how many those are."""

from __future__ import annotations

import random
from itertools import compress

import pytest

from taskdb.core.model import Position
from taskdb.report.pages.views import views_of


def region(latitude: float, longitude: float, count: int = 200, reach_deg: float = 1.5) -> list[Position]:
    chance = random.Random(7)
    return [
        Position.at(
            latitude + chance.uniform(-reach_deg, reach_deg),
            (longitude + chance.uniform(-reach_deg, reach_deg) + 180) % 360 - 180,
        )
        for _ in range(count)
    ]


@pytest.mark.parametrize("far", [[(-23.5, 17.1)], [(-23.5, 17.1), (40.0, -100.0), (0.0, 0.0)], [(48.5, 31.0)]])
def test_a_few_places_far_off_are_left_out_of_the_first_view_and_counted(far: list[tuple[float, float]]) -> None:
    near = region(48.5, 11.5)
    places = [*near[:50], *(Position.at(*one) for one in far), *near[50:]]
    views = views_of(places)
    assert views.outside == len(far) and views.near == views_of(near).near == views_of(near).whole
    assert {(p.latitude_deg, p.longitude_deg) for p in places if p not in near} == set(far)
    assert list(compress(places, views.is_main)) == near
    for latitude, longitude in far:
        (south, west), (north, east) = views.whole
        assert south <= latitude <= north and west <= longitude <= east


@pytest.mark.parametrize(
    "places",
    [
        region(48.5, 11.5),
        [*region(48.5, 11.5), Position.at(52.5, 13.4)],
        [*region(48.5, 11.5, 60), *region(-23.5, 17.1, 40)],
        [Position.at(48.0, 11.0), Position.at(-20.0, 17.0)],
        [Position.at(48.0, 11.0)] * 3,
        [*region(48.5, 11.5, reach_deg=0.02), Position.at(48.9, 11.9)],
        [Position.at(y, x) for y in range(-60, 61, 5) for x in range(-175, 180, 5)],
    ],
    ids=["a region", "one a little off", "two regions", "two places", "one spot", "a field and a town", "the earth"],
)
def test_else_all_is_shown(places: list[Position]) -> None:
    views = views_of(places)
    assert views.outside == 0 and views.near == views.whole and all(views.is_main)


def test_a_region_on_the_antimeridian_is_no_belt_round_the_earth() -> None:
    places = region(-17.5, 179.5)
    (_, west), (_, east) = views_of(places).near
    assert east - west < 3.01 and abs((west + east) / 2 % 360 - 179.5) < 0.2
    assert views_of([*places, Position.at(51.0, 0.0)]).outside == 1


def test_nothing_is_shown_by_a_degree_about_the_origin() -> None:
    assert views_of([]).near == ((-1.0, -1.0), (1.0, 1.0)) and views_of([]).outside == 0
