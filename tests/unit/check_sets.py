"""An invented country, its ground, and a set of points in it, for the tests of the checks."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from taskdb.core.checks.elevations import ElevationGrid
from taskdb.core.checks.given import CheckInput
from taskdb.core.checks.outlines import Outlines
from taskdb.core.checks.rules import RULES, run_checks
from taskdb.core.model import Finding, Typed, Waypoint
from tests.building import waypoint

# Two countries side by side, AA from 10° to 14° E and BB from 14° to 18° E, both from 46° to 50° N; and XX, without a
# code, south of AA.
_RINGS = {
    "AA": [(10, 46), (14, 46), (14, 50), (10, 50), (10, 46)],
    "BB": [(14, 46), (18, 46), (18, 50), (14, 50), (14, 46)],
    "": [(10, 44), (14, 44), (14, 46), (10, 46), (10, 44)],
}
_VERTICES = np.array([vertex for ring in _RINGS.values() for vertex in ring]) * 100_000
OUTLINES = Outlines(
    longitude_e5=_VERTICES[:, 0].astype(np.int32),
    latitude_e5=_VERTICES[:, 1].astype(np.int32),
    ring_end=np.array([5, 10, 15], dtype=np.int32),
    country=tuple(_RINGS),
    territory=("", "", ""),
)


def _ground() -> ElevationGrid:
    """The world at 400 m, but for a step to 1,200 m east of 16° E and no data south of the equator."""
    values = np.full((2160, 4320), 40, dtype=np.uint8)
    values[:, (180 + 16) * 12 :] = 120
    values[1080:] = 255
    return ElevationGrid(values, 10.0, 0.0, 255)


GROUND = _ground()


def point(code: str, latitude: float, longitude: float, name: str | None = None, **more: Any) -> Waypoint:
    return waypoint(code, name or f"Place {code}", latitude, longitude, **more)


def region(country: str | None = "AA", count: int = 100, **more: Any) -> list[Waypoint]:
    """A set of 100 points about 15 km apart in the middle of AA, none of them round."""
    points = []
    for number in range(count):
        row, column = divmod(number, 10)
        latitude = 47.2137 + 0.1357 * row + 0.0013 * column
        longitude = 11.0143 + 0.1973 * column + 0.0017 * row
        points.append(point(f"P{number:03d}", latitude, longitude, country=country, **more))
    return points


def typed_in_minutes(waypoint: Waypoint, latitude: str, longitude: str) -> Waypoint:
    return replace(waypoint, typed=Typed(latitude, longitude, "degrees-minutes", 3))


def findings(waypoints: list[Waypoint], rule: str, **more: Any) -> list[Finding]:
    """Return what one rule finds; outlines and ground are given unless told otherwise."""
    given = CheckInput("region", 1, tuple(waypoints), **({"outlines": OUTLINES, "elevation": GROUND} | more))
    return list(run_checks(given, [one for one in RULES if one.name == rule]))
