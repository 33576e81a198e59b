"""How near a flight comes to a place from each moment on: exact on the pieces between fixes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from taskdb.core.flights.pieces import Pieces, nearest, seen_from
from taskdb.core.geodesy import earth_vectors, quick_lengths_m
from taskdb.core.model import Earth, Position

if TYPE_CHECKING:
    from taskdb.core.flights.fixes import Floats


@dataclass(frozen=True, slots=True, eq=False)
class Approach:
    """For each fix how near (m, on a task's earth) a place is come to from it to the next one, and from it to the end.

    The end is that of the stretch `first` to `last` for which it is made: arrays by fix from `first` on.
    """

    first: int
    places: Floats
    normals: Floats
    target: tuple[Floats, Floats]
    earth: Earth
    near_m: Floats
    along: Floats
    least_m: Floats

    @staticmethod
    def to(target: Position, pieces: Pieces, first: int, last: int, earth: Earth) -> Approach:
        track = pieces.track
        places = pieces.places[:, first : last + 1]
        _, normals = earth_vectors(track.latitude_deg[first : last + 1], track.longitude_deg[first : last + 1])
        aim = earth_vectors(np.array([target.latitude_deg]), np.array([target.longitude_deg]))
        _, along = nearest(seen_from(target, places), pieces.is_joined[first:last])
        along = np.concatenate([along, [0.0]])
        near = _lengths(places, normals, along, aim, earth)
        return Approach(first, places, normals, aim, earth, near, along, np.minimum.accumulate(near[::-1])[::-1])

    def from_moment(self, at: float) -> float:
        """Return how near the flight comes from a moment on, metres."""
        number = int(at) - self.first
        share = at % 1
        if not share:
            return float(self.least_m[number])
        later = float(self.least_m[number + 1])
        if self.along[number] > share:
            return min(later, float(self.near_m[number]))
        # Here it flies away from the place, and is nearest where it is.
        window = slice(number, number + 2)
        here = _lengths(
            self.places[:, window], self.normals[:, window], np.array([share, 0.0]), self.target, self.earth
        )
        return min(later, float(here[0]))


def _lengths(places: Floats, normals: Floats, along: Floats, aim: tuple[Floats, Floats], earth: Earth) -> Floats:
    """Return the lengths from the target to the places so far along each piece; the last piece has no length."""
    steps = np.diff(places, axis=1, append=places[:, -1:])
    turns = np.diff(normals, axis=1, append=normals[:, -1:])
    return quick_lengths_m(places + along * steps - aim[0], normals + along * turns - aim[1], earth)
