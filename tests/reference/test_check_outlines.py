"""Country outlines and elevation grid against airportsdata, shapely and pyproj."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import Geod
from shapely.geometry import Point, Polygon

from taskdb.core.checks.elevations import ground_at
from taskdb.core.checks.outlines import countries_at, distance_to_country_m
from taskdb.core.model import Position
from taskdb.reference.airports import load_airports
from taskdb.reference.outlines import load_elevation_grid, load_outlines

GEOD = Geod(ellps="WGS84")


def rings_of(code: str) -> list[Polygon]:
    outlines = load_outlines()
    return [
        Polygon(np.column_stack((outlines.longitude_e5[start:end], outlines.latitude_e5[start:end])) / 1e5)
        for number, (start, end) in enumerate(outlines.rings())
        if code in (outlines.country[number], outlines.territory[number])
    ]


@pytest.mark.parametrize("code", ["DE", "AT", "CH", "IT", "NL", "NZ"])
def test_inside_is_what_shapely_calls_inside(code: str) -> None:
    rings = rings_of(code)
    random = np.random.default_rng(5)
    west, south, east, north = max(rings, key=lambda ring: ring.area).bounds
    longitudes = random.uniform(west - 1, east + 1, 400)
    latitudes = random.uniform(south - 1, north + 1, 400)
    positions = [Position.at(a, b) for a, b in zip(latitudes, longitudes, strict=True)]
    ours = [code in codes for codes in countries_at(load_outlines(), positions)]
    # A hole is a ring inside a ring: parity.
    theirs = [
        sum(ring.contains(Point(place.longitude_deg, place.latitude_deg)) for ring in rings) % 2 == 1
        for place in positions
    ]
    assert ours == theirs
    assert 20 < sum(ours) < 380


@pytest.mark.parametrize("code", ["DE", "CH", "FJ"])
def test_the_distance_outside_is_that_of_a_dense_search(code: str) -> None:
    border = []
    for ring in rings_of(code):
        line = ring.exterior
        border += [line.interpolate(k / 4000, normalized=True).coords[0] for k in range(4000)]
    lon, lat = np.array(border).T
    middle = (float(lat.mean()), float(lon[0]))
    for north, east in ((4.0, 3.0), (-3.0, 6.0), (0.5, -5.0)):
        place = Position.at(middle[0] + north, middle[1] + east)
        _, _, metres = GEOD.inv(np.full(len(lon), place.longitude_deg), np.full(len(lon), place.latitude_deg), lon, lat)
        ours = distance_to_country_m(load_outlines(), code, place)
        assert ours is not None
        if ours:
            assert ours == pytest.approx(float(metres.min()), rel=0.02, abs=1000)


def test_a_code_without_an_outline_has_no_distance() -> None:
    assert distance_to_country_m(load_outlines(), "QQ", Position.at(47, 11)) is None


def test_airfields_lie_in_the_countries_that_airportsdata_states() -> None:
    # airportsdata (MIT) states the country of each airfield; a few of its positions are wrong.
    fields = [one for one in load_airports() if one.country in {"DE", "AT", "CH", "FR", "IT", "PL", "CZ", "GB", "ES"}]
    around = countries_at(load_outlines(), [one.position for one in fields])
    wrong = [one.code for one, codes in zip(fields, around, strict=True) if one.country not in codes]
    assert len(fields) > 1500
    assert len(wrong) <= 0.005 * len(fields)


def test_overseas_territories_answer_to_both_codes() -> None:
    # San Juan, Puerto Rico; Longyearbyen, Svalbard: positions from airportsdata.
    fields = {one.code: one for one in load_airports()}
    assert countries_at(load_outlines(), [fields["TJSJ"].position]) == [frozenset({"US", "PR"})]
    assert countries_at(load_outlines(), [fields["LFPG"].position]) == [frozenset({"FR", "FX"})]
    assert countries_at(load_outlines(), []) == []


# The bands that the data's notes give for stated elevation minus cell: 99 % of about 49,000 airfields lie within.
BANDS = [(60, -110, 138), (150, -211, 208), (300, -443, 325), (600, -769, 530), (1200, -1208, 820)]


def test_stated_elevations_fit_the_grid_as_published() -> None:
    fields = [one for one in load_airports() if one.elevation_m]
    within = total = 0
    for one, ground in zip(fields, ground_at(load_elevation_grid(), [one.position for one in fields]), strict=True):
        if ground is None or ground.lowest_m < -50:
            continue
        for relief, low, high in BANDS:
            if ground.relief_m <= relief:
                total += 1
                within += low <= (one.elevation_m or 0) - ground.cell_m <= high
                break
    assert total > 20_000
    assert within / total > 0.98


def test_known_heights_of_the_ground() -> None:
    # Amsterdam Schiphol lies below the sea, Denver at 5,433 ft (airportsdata); the cell is 9 km wide.
    fields = {one.code: one for one in load_airports()}
    schiphol, denver = ground_at(load_elevation_grid(), [fields["EHAM"].position, fields["KDEN"].position])
    assert schiphol is not None and denver is not None
    assert abs(schiphol.cell_m) < 30
    assert abs(denver.cell_m - 5433 * 0.3048) < 60
