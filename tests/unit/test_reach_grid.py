"""The grid of reach against lengths by hand: fields at both ends of a leg, in calm air and in wind."""

from __future__ import annotations

import numpy as np
import pytest

from taskdb.core.judgement.fields import Fields
from taskdb.core.judgement.glide import Glide
from taskdb.core.judgement.reach_grid import ReachGrid
from taskdb.core.model import Landable, Waypoint
from taskdb.core.quantities import Wind
from tests.unit.review_examples import off

ENDS = (off(45, 90), off(45, 270))
LATITUDES = np.array([at.latitude_deg for at in ENDS])
LONGITUDES = np.array([at.longitude_deg for at in ENDS])
LENGTHS = np.full(2, 90_000.0)


def fields(count: int) -> Fields:
    made = [Waypoint(f"F{n}", "", at, 300.0, Landable.FIELD) for n, at in enumerate(ENDS[:count])]
    return Fields.of(made, [Landable.FIELD])


def out_m(count: int, altitude_m: float, wind: Wind) -> list[float]:
    grid = ReachGrid.of(fields(count), Glide(30, 100, wind), LATITUDES, LONGITUDES)
    there = LATITUDES[::-1], LONGITUDES[::-1]
    return list(grid.out_of_reach_m(altitude_m, LATITUDES, LONGITUDES, *there, LENGTHS))


@pytest.mark.parametrize(
    ("count", "altitude_m", "wind", "expected_m"),
    [
        (2, 1300.0, Wind(0, 0), 30_000),  # 1,000 m above both fields: 30 km from either end of 90
        (1, 1300.0, Wind(0, 0), 60_000),
        (1, 1300.0, Wind(90, 50), 75_000),  # the field lies to the east, against the wind: half as far
        (1, 1300.0, Wind(270, 50), 45_000),  # with the wind half as far again
        (2, 2500.0, Wind(0, 0), 0),
        (0, 2500.0, Wind(0, 0), 90_000),
    ],
)
def test_it_tells_of_each_leg_how_much_lies_out_of_reach(
    count: int, altitude_m: float, wind: Wind, expected_m: float
) -> None:
    assert out_m(count, altitude_m, wind) == pytest.approx([expected_m, expected_m], abs=2500)


def test_places_on_both_sides_of_the_earth_have_no_grid() -> None:
    with pytest.raises(ValueError, match="too far apart"):
        ReachGrid.of(fields(2), Glide(30, 100), np.array([0.0, 0.0]), np.array([0.0, 179.0]))
