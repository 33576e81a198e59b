"""On the sides between which places home lies: how far it is off the geodesic between two of them, ends included.

Seen from home, on the sphere that fits the ellipsoid there, every side is a great circle to some centimetres; where
that is too coarse to decide, the foot on the geodesic itself is found.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from taskdb.core.geodesy import ECCENTRICITY_2, EQUATOR_RADIUS_M, along_lines, inverses
from taskdb.core.model import Position
from taskdb.core.proposing.places import Floats, Ints, Places, Singles, doubt_m

_FOOT_WITHIN_M = 1e-4
"""Where a foot is this well known along its side, its distance is known to far less."""
_MOST_STEPS = 20
_DOUBT_M = 10.0
"""Of a side's distance on the sphere, with an end 1,000 km away, growing with the fourth power of that: three times
what was measured at all latitudes."""


@dataclass(frozen=True, slots=True)
class Sides:
    """Sides that home lies on, in order of their places' numbers, `a` below `b`; `off_m` is quick, to `doubt_m`."""

    a: Ints
    b: Ints
    off_m: Floats
    doubt_m: Floats

    def __len__(self) -> int:
        """Return how many sides there are."""
        return len(self.a)


def sides_at(
    places: Places, home: Position, quick_m: Singles, within_m: float, least_m: float, longest_m: float
) -> Sides:
    """Return the sides of `least_m` to `longest_m` (by quick lengths, with their doubt) that home lies within of."""
    a, b = _that_pass_near(places, quick_m, within_m, least_m, longest_m)
    off, doubt = _quick_off_m(places, home, a, b)
    is_near = off <= within_m
    unsure = np.flatnonzero(np.abs(off - within_m) <= doubt)
    is_near[unsure] = exact_off_m(places, home, a[unsure], b[unsure]) <= within_m
    return Sides(a[is_near], b[is_near], off[is_near], doubt[is_near])


def _that_pass_near(
    places: Places, quick_m: Singles, within_m: float, least_m: float, longest_m: float
) -> tuple[Ints, Ints]:
    """Return sides by way of home that are not longer by more than there and back from the foot; and some more."""
    count, slack = len(places), doubt_m(longest_m)
    home = places.home_m.astype(np.float32)
    found = []
    for row in range(count - 1):
        lengths = quick_m[row, row + 1 :]
        # One per cent more, since the lengths may be those of the sphere while home's distance is always WGS84's.
        reach = home[row + 1 :] - lengths <= 2.02 * within_m - home[row] + slack + 1.0
        found.append(np.flatnonzero(reach & (lengths >= least_m - slack) & (lengths <= longest_m + slack)) + row + 1)
    if not found:
        return np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp)
    return np.repeat(np.arange(count - 1), [len(ones) for ones in found]), np.concatenate(found)


def _quick_off_m(places: Places, home: Position, a: Ints, b: Ints) -> tuple[Floats, Floats]:
    """Return how far home is off these sides, and how far that may be off, metres."""
    sine = math.sin(math.radians(home.latitude_deg))
    radius = EQUATOR_RADIUS_M * math.sqrt(1 - ECCENTRICITY_2) / (1 - ECCENTRICITY_2 * sine * sine)
    angle, out = places.geodesic_m / radius, np.radians(places.out_deg)
    x, y, z = np.sin(angle) * np.cos(out), np.sin(angle) * np.sin(out), np.cos(angle)
    across = x[a] * y[b] - y[a] * x[b]
    cosine = x[a] * x[b] + y[a] * y[b] + z[a] * z[b]
    side = np.sqrt(np.square(y[a] * z[b] - z[a] * y[b]) + np.square(z[a] * x[b] - x[a] * z[b]) + np.square(across))
    ends = np.minimum(places.geodesic_m[a], places.geodesic_m[b])
    is_beside = (z[b] > cosine * z[a]) & (z[a] > cosine * z[b]) & (side > 0)
    foot = radius * np.arcsin(np.minimum(1.0, np.abs(across) / np.where(side > 0, side, 1.0)))
    far = np.maximum(places.geodesic_m[a], places.geodesic_m[b])
    return np.where(is_beside, foot, ends), 0.05 + _DOUBT_M * (far / 1e6) ** 4


def exact_off_m(places: Places, home: Position, a: Ints, b: Ints) -> Floats:
    """Return how far home is off the WGS84 geodesics between places, ends included, metres.

    Newton's way: from a point of the geodesic along it to where home would be abeam on a sphere, and again.
    """
    latitude, longitude = places.latitude_deg[a], places.longitude_deg[a]
    bearing, length = inverses(latitude, longitude, places.latitude_deg[b], places.longitude_deg[b])
    home_latitude, home_longitude = (
        np.full_like(latitude, home.latitude_deg),
        np.full_like(latitude, home.longitude_deg),
    )
    to_a, to_b = places.geodesic_m[a], places.geodesic_m[b]
    along = np.clip((length + (to_a - to_b) * (to_a + to_b) / np.maximum(length, 1e-9)) / 2, 0.0, length)
    off = np.zeros_like(along)
    for _ in range(_MOST_STEPS):
        at_latitude, at_longitude, course = along_lines(latitude, longitude, bearing, along)
        towards, off = inverses(at_latitude, at_longitude, home_latitude, home_longitude)
        angle = off / EQUATOR_RADIUS_M
        step = EQUATOR_RADIUS_M * np.arctan2(np.sin(angle) * np.cos(np.radians(towards - course)), np.cos(angle))
        moved = np.clip(along + step, 0.0, length)
        is_there = bool(np.all(np.abs(moved - along) <= _FOOT_WITHIN_M))
        along = moved
        if is_there:
            break
    # An end is measured as everywhere else, so that two sides that share it are equally far.
    exact: Floats = np.select([along <= _FOOT_WITHIN_M, along >= length - _FOOT_WITHIN_M], [to_a, to_b], off)
    return exact
