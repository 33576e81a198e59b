"""The flight between fixes: straight pieces through earth-centred space, each flown at even speed.

Between two fixes the geodesic lies above the chord by c²/8R (7 cm over 2 km) and beside it by nothing that counts, so a
place on the chord stands for the place on the geodesic: a crossing is then a root of a line or of a square, for all
pieces at once, with no case of its own at a pole or the antimeridian.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from taskdb.core.flights.fixes import Track
from taskdb.core.geodesy import ECCENTRICITY_2, EQUATOR_RADIUS_M, destination, earth_vectors, inverse
from taskdb.core.model import Position

if TYPE_CHECKING:
    from taskdb.core.flights.fixes import Bools, Floats


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """A track's fixes in space (3, fixes), metres, and whether the flight from each to the next is proven.

    A moment of the flight is told by its place along the fixes, `at`: 7.25 is a quarter of the way from fix 7 to fix 8.
    """

    track: Track
    places: Floats
    is_joined: Bools

    @staticmethod
    def of(track: Track) -> Pieces:
        places, _ = earth_vectors(track.latitude_deg, track.longitude_deg)
        return Pieces(track, places, track.is_joined)

    def time_s(self, at: Floats) -> Floats:
        """Return the times of moments (of any shape), seconds as the track counts them."""
        whole = np.minimum(at.astype(np.intp), max(0, len(self.track) - 2))
        first = self.track.time_s[whole]
        following = self.track.time_s[np.minimum(whole + 1, len(self.track) - 1)]
        times: Floats = first + (at - whole) * (following - first)
        return times

    def position(self, at: float) -> Position:
        """Return the place of a moment on the geodesic, rounded to 1e-7°."""
        whole = min(int(at), len(self.track) - 1)
        here = self.track.position(whole)
        if at == whole:
            return here
        line = inverse(here, self.track.position(whole + 1))
        if line.bearing_deg is None:
            return here
        there = destination(here, line.bearing_deg, (at - whole) * line.distance_m)
        return Position.at(there.latitude_deg, there.longitude_deg)


def seen_from(position: Position, places: Floats) -> Floats:
    """Return places in space (3, n) as seen from a position: metres to the east, the north and up (3, n)."""
    latitude, longitude = np.array([position.latitude_deg]), np.array([position.longitude_deg])
    here, _ = earth_vectors(latitude, longitude)
    phi, lam = math.radians(position.latitude_deg), math.radians(position.longitude_deg)
    turned = np.array(
        [
            [-math.sin(lam), math.cos(lam), 0.0],
            [-math.sin(phi) * math.cos(lam), -math.sin(phi) * math.sin(lam), math.cos(phi)],
            [math.cos(phi) * math.cos(lam), math.cos(phi) * math.sin(lam), math.sin(phi)],
        ]
    )
    seen: Floats = turned @ (places - here)
    return seen


def chord_m(length_m: float, latitude_deg: float) -> float:
    """Return the straight line through the earth under a geodesic of a length; within 1 cm of it up to 100 km.

    The earth's curvature is the mean one at the latitude. An infinite length stays so.
    """
    if math.isinf(length_m):
        return length_m
    squared = 1.0 - ECCENTRICITY_2 * math.sin(math.radians(latitude_deg)) ** 2
    radius_m = EQUATOR_RADIUS_M * math.sqrt(1.0 - ECCENTRICITY_2) / squared
    return 2.0 * radius_m * math.sin(min(length_m / (2.0 * radius_m), math.pi / 2))


def nearest(seen: Floats, is_joined: Bools) -> tuple[Floats, Floats]:
    """Return for each piece how near it comes to where it is seen from (chord, m), and where along it, 0 to 1.

    A piece that is not proven counts at its first fix alone.
    """
    a, step = seen[:, :-1], np.diff(seen, axis=1)
    squared = np.maximum((step * step).sum(axis=0), 1e-12)
    along = np.where(is_joined, np.clip(-(a * step).sum(axis=0) / squared, 0.0, 1.0), 0.0)
    at = a + along * step
    near: Floats = np.sqrt((at * at).sum(axis=0))
    return near, along
