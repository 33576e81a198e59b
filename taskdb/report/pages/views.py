"""What a map of a catalogue shows first: all of it, or its main part where a few places lie far off.

One place abroad, or one mistyped, would else shrink all others to a dot. It stays a button away, and is counted.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median_low

from taskdb.core.model import Position
from taskdb.core.projection import centre_of

_LEAST_SHARE = 0.75
"""So much of a catalogue is its main part, at least: two regions of one size are both shown."""
_APART = 3.0
"""What lies so many times as far from the middle as all nearer ones is far off."""
_NEAR_DEG = 0.25
"""No catalogue is so small that a place 80 km from its middle is far off."""

Bounds = tuple[tuple[float, float], tuple[float, float]]
"""South and west, north and east, in degrees; the east may lie past 180°."""


@dataclass(frozen=True, slots=True)
class Views:
    """The bounds of a catalogue's main part and of all of it; `is_main` says of each place whether it is there."""

    near: Bounds
    whole: Bounds
    is_main: tuple[bool, ...]

    @property
    def outside(self) -> int:
        """How many places lie far off the main part."""
        return self.is_main.count(False)


def views_of(positions: Sequence[Position]) -> Views:
    """Return what maps of positions show; a degree about 0° 0° for none."""
    if not positions:
        nothing = ((-1.0, -1.0), (1.0, 1.0))
        return Views(nothing, nothing, ())
    # Longitudes are counted from the middle of them all, so that none lies beyond the antimeridian.
    west_deg = centre_of(positions).longitude_deg - 180.0
    places = [(p.latitude_deg, round((p.longitude_deg - west_deg) % 360.0 + west_deg, 7)) for p in positions]
    near = _bounds(_main_part(places))
    (south, west), (north, east) = near
    is_main = tuple(south <= y <= north and west <= x <= east for y, x in places)
    return Views(near, _bounds(places), is_main)


def _main_part(places: Sequence[tuple[float, float]]) -> Sequence[tuple[float, float]]:
    """Return the places about the middle one up to the first wide gap; all where there is none."""
    y, x = median_low(y for y, _ in places), median_low(x for _, x in places)
    narrower = math.cos(math.radians(y))
    ordered = sorted((math.hypot(b - y, (a - x) * narrower), b, a) for b, a in places)
    for n in range(math.ceil(_LEAST_SHARE * len(ordered)), len(ordered)):
        if ordered[n][0] > _APART * max(ordered[n - 1][0], _NEAR_DEG):
            return [(b, a) for _, b, a in ordered[:n]]
    return places


def _bounds(places: Sequence[tuple[float, float]]) -> Bounds:
    ys, xs = [y for y, _ in places], [x for _, x in places]
    return (min(ys), min(xs)), (max(ys), max(xs))
