"""Limits above ground are compared with the user's terrain under the volume, and stay undecided where it has gaps.

The verdicts follow from the definitions of heights above ground and above sea level (ICAO Annex 2, definitions).
"""

from __future__ import annotations

import numpy as np
import pytest

from taskdb.core.airspace.heights import FlownHeights, parse_limit, that_may_matter
from taskdb.core.airspace.over_ground import ground_range_m
from taskdb.core.airspace.volume import E7, Kind, Volume
from taskdb.core.ground import GroundHeights

FLOWN = FlownHeights(working_altitude_m=1500.0)


def box(floor: str, west: float = 12.0, east: float = 12.2) -> Volume:
    ring = [(west, 48.0), (east, 48.0), (east, 48.1), (west, 48.1), (west, 48.0)]
    vertices = [(round(x * E7), round(y * E7)) for x, y in ring]
    return Volume.of("Moor", Kind.RESTRICTED, parse_limit(floor), parse_limit("FL95"), [[vertices]])


def terrain(east_m: float, west_m: float = 400.0, *, gap: bool = False, is_users: bool = True) -> GroundHeights:
    """Ground that rises evenly from west (12.0) to east (12.2); `gap`: nothing is known east of 12.19."""

    def heights(latitudes: np.ndarray, longitudes: np.ndarray) -> np.ndarray:
        found = west_m + (longitudes - 12.0) / 0.2 * (east_m - west_m)
        return np.where(gap & (longitudes > 12.19), np.nan, found)

    return GroundHeights("invented", 90.0, is_users, heights)


def test_the_range_holds_the_ground_with_fifty_metres_to_spare() -> None:
    assert ground_range_m(box("800m AGL"), terrain(900.0)) == pytest.approx((350.0, 950.0))


@pytest.mark.parametrize(
    ("floor", "east_m", "said"),
    [
        ("800m AGL", 449.0, "conflict"),  # at most 400 - 50 + 800 = 1,150 m in the west: flown into for sure
        ("800m AGL", 900.0, "undecided"),  # 1,150 m in the west, 1,750 m in the east
        ("1151m AGL", 400.0, "clear"),  # at least 350 + 1,151 = 1,501 m
        ("1149m AGL", 400.0, "undecided"),  # 1,499 m or more
    ],
)
def test_a_floor_above_ground_is_compared_with_what_is_flown(floor: str, east_m: float, said: str) -> None:
    told = that_may_matter([box(floor)], FLOWN, terrain(east_m))
    assert said == ("clear" if not told else "undecided" if told[0][1] else "conflict")


@pytest.mark.parametrize("ground", [None, terrain(449.0, gap=True), terrain(449.0, is_users=False)])
def test_it_stays_undecided_where_not_all_of_the_ground_is_known(ground: GroundHeights | None) -> None:
    assert [undecided for _, undecided in that_may_matter([box("800m AGL")], FLOWN, ground)] == [True]


def test_a_volume_too_large_for_the_terrains_steps_is_not_judged_by_samples() -> None:
    assert ground_range_m(box("800m AGL", 0.0, 60.0), terrain(449.0)) is None
    assert ground_range_m(box("800m AGL", -179.0, 179.0), terrain(449.0)) is None


def test_the_ground_under_a_volume_is_looked_at_once_for_all_rules_and_tasks() -> None:
    asked: list[int] = []

    def heights(latitudes: np.ndarray, longitudes: np.ndarray) -> np.ndarray:
        asked.append(len(latitudes))
        return np.full(len(longitudes), 400.0)

    ground = GroundHeights("invented", 90.0, True, heights)
    told = [that_may_matter([box("800m AGL")], FLOWN, ground) for _ in range(3)]
    assert told[0] == told[1] == told[2] and len(asked) == 1
