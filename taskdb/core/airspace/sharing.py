"""How much of a zone's ground lies under volumes: under any of them, so that ground under two counts once.

The zone is swept by geodesics from its point, and on each the stretches under volumes are known exactly; what lies
between two sweeps is as wide as the earth makes it. Zones are what `course.regions` says they are.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from taskdb.core.airspace.crossing import passages
from taskdb.core.airspace.ground import volumes_at
from taskdb.core.airspace.volume import Volume
from taskdb.core.course.outline import line_ends
from taskdb.core.course.regions import Wedge, reach_m, wedges
from taskdb.core.geodesy import EQUATOR_RADIUS_M, FLATTENING, destinations_from
from taskdb.core.model import Position, Shape, Zone

_SWEEPS, _FEWEST_SWEEPS = 480, 240
"""In a full circle, and in a narrow part of one: shares within 0.1 % of those in an equal-area projection."""


@dataclass(frozen=True, slots=True)
class Share:
    """The part of a zone's ground, 0…1, that lies under at least one of the volumes with these numbers."""

    share: float
    volumes: tuple[int, ...]

    @property
    def usable(self) -> float:
        """Return the part of the zone's ground over which no volume stands."""
        return 1.0 - self.share


def share_of_zone(zone: Zone, at: Position, volumes: tuple[Volume, ...]) -> Share | None:
    """Return how much of a zone lies under volumes, whatever their heights; None for a line and an endless sector.

    ValueError where a needed axis is not resolved.
    """
    if zone.shape is Shape.LINE or math.isinf(reach_m(zone)):
        return None
    covered = whole = 0.0
    seen: set[int] = set()
    for wedge in _apart(wedges(zone)):
        under, ground, found = _sweep(wedge, at, volumes)
        covered, whole = covered + under, whole + ground
        seen |= found
    return Share(min(1.0, covered / whole), tuple(sorted(seen)))


def _apart(parts: Sequence[Wedge]) -> Sequence[Wedge]:
    """Return wedges that share no ground: a keyhole's sector begins where its disc ends."""
    if len(parts) < 2:
        return parts
    core, sector = parts
    return core, Wedge(core.outer_m, sector.outer_m, sector.from_deg, sector.width_deg)


def _sweep(wedge: Wedge, at: Position, volumes: tuple[Volume, ...]) -> tuple[float, float, set[int]]:
    """Return the ground of a wedge under volumes, all of its ground (one measure), and the volumes' numbers."""
    count = max(_FEWEST_SWEEPS, math.ceil(_SWEEPS * wedge.width_deg / 360.0))
    bearings = [wedge.from_deg + wedge.width_deg * (n + 0.5) / count for n in range(count)]
    starts = destinations_from(at, bearings, [wedge.inner_m] * count) if wedge.inner_m > 0 else (at,) * count
    ends = destinations_from(at, bearings, [wedge.outer_m] * count)
    radius = _radius_m(at)
    covered, seen = 0.0, set()
    for passed in passages(list(zip(starts, ends, strict=True)), volumes):
        seen |= {passage.volume for passage in passed}
        stretches = sorted(stretch for passage in passed for stretch in passage.stretches_m)
        reached = 0.0
        for begin, end in stretches:
            begin = max(begin, reached)
            if end > begin:
                covered += _disc(wedge.inner_m + end, radius) - _disc(wedge.inner_m + begin, radius)
                reached = end
    return covered / count * wedge.width_deg, _ring(wedge, radius) * wedge.width_deg, seen


def _ring(wedge: Wedge, radius_m: float) -> float:
    return _disc(wedge.outer_m, radius_m) - _disc(wedge.inner_m, radius_m)


def _disc(reach: float, radius_m: float) -> float:
    """Return the ground within a distance, in a measure that is the same for all of one zone."""
    return 2 * math.sin(reach / 2 / radius_m) ** 2


def _radius_m(at: Position) -> float:
    """Return the radius of the sphere that bends as the ellipsoid does at a latitude (square root of M·N)."""
    squeeze = (1 - FLATTENING) ** 2
    curve = math.cos(math.radians(at.latitude_deg)) ** 2 + squeeze * math.sin(math.radians(at.latitude_deg)) ** 2
    return EQUATOR_RADIUS_M * (1 - FLATTENING) / curve


def volumes_over_point(zone: Zone, at: Position, volumes: tuple[Volume, ...]) -> tuple[int, ...]:
    """Return the numbers of the volumes over a point; for a line those that any part of it lies under."""
    over = set(volumes_at(volumes, at))
    if zone.shape is Shape.LINE:
        over |= {passage.volume for passage in passages([line_ends(zone, at)], volumes)[0]}
    return tuple(sorted(over))
