"""A volume of airspace as a frozen value, and its one JSON form: name, kind, limits, and polygons on the ground.

Values only: what limits mean in flight stands in `heights`, which rings are fit to be kept in `rings`. Positions are
(longitude, latitude) in whole multiples of 1e-7 degree, so that equality is equality of integers; edges are straight
in longitude and latitude (RFC 7946, 3.1.1).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import Any

from taskdb.core.model import E7

Vertex = tuple[int, int]
"""(longitude, latitude), whole multiples of 1e-7 degree: the order of RFC 7946, turned round where a `Position` is."""
Ring = tuple[Vertex, ...]
"""Closed: the last vertex is the first."""
Polygon = tuple[Ring, ...]
"""The exterior first, then its holes."""


class Kind(StrEnum):
    """What a volume is. `keep-out` is the setter's own: not into these hills, another class's start."""

    PROHIBITED = "prohibited"
    RESTRICTED = "restricted"
    DANGER = "danger"
    CONTROLLED = "controlled"
    KEEP_OUT = "keep-out"
    OTHER = "other"


class Reference(StrEnum):
    """What a limit is measured from: `GND` is the ground itself, `UNL` no limit, `FL` standard pressure."""

    GND = "GND"
    MSL = "MSL"
    AGL = "AGL"
    FL = "FL"
    UNL = "UNL"


@dataclass(frozen=True, slots=True)
class Limit:
    """A floor or a ceiling: metres above its reference (0.1 m; None for GND and UNL), and how it is written.

    A flight level is metres of standard pressure. `text` reads back to the same limit (`heights.parse_limit`).
    """

    value_m: float | None
    reference: Reference
    text: str


GROUND = Limit(None, Reference.GND, "GND")
UNLIMITED = Limit(None, Reference.UNL, "UNL")


@dataclass(frozen=True, slots=True)
class Volume:
    """A named volume between its floor and its ceiling, over the union of its polygons.

    `Volume.of` makes the canonical one. Polygons may touch or overlap each other; none crosses the antimeridian.
    """

    name: str
    kind: Kind
    floor: Limit
    ceiling: Limit
    polygons: tuple[Polygon, ...]
    times: str | None = None
    frequency: str | None = None

    def __hash__(self) -> int:
        """Return a hash without the ground: thousands of vertices would be gone through at every look into a cache."""
        return hash((self.name, self.floor.text, self.ceiling.text, len(self.polygons)))

    @staticmethod
    def of(
        name: str,
        kind: Kind,
        floor: Limit,
        ceiling: Limit,
        polygons: Iterable[Sequence[Sequence[Vertex]]],
        *,
        times: str | None = None,
        frequency: str | None = None,
    ) -> Volume:
        """Return the volume in its canonical form, so that equal ground is equal however it was written down.

        Exteriors run counter-clockwise and holes clockwise (RFC 7946, 3.1.6), each from its least vertex; holes and
        polygons stand in order. The rings must be sound (`rings.mend` says whether they are).
        """
        return Volume(name, kind, floor, ceiling, canonical_polygons(polygons), times, frequency)


def canonical_polygons(polygons: Iterable[Sequence[Sequence[Vertex]]]) -> tuple[Polygon, ...]:
    """Return polygons of sound rings in the one order and direction in which they are kept."""
    kept = {
        (_turned(rings[0], is_hole=False), *sorted(_turned(hole, is_hole=True) for hole in rings[1:]))
        for rings in polygons
        if rings
    }
    return tuple(sorted(kept))


def _turned(ring: Sequence[Vertex], *, is_hole: bool) -> Ring:
    open_ring = list(ring[:-1] if ring[0] == ring[-1] else ring)
    if (doubled_area(ring) < 0) != is_hole:
        open_ring.reverse()
    first = open_ring.index(min(open_ring))
    turned = open_ring[first:] + open_ring[:first]
    return (*turned, turned[0])


def doubled_area(ring: Sequence[Vertex]) -> int:
    """Return twice the area within a ring in the plane of longitude and latitude, counter-clockwise positive; exact."""
    closed = [*ring, ring[0]]
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(closed))


def limit_plain(limit: Limit) -> dict[str, Any]:
    """Return `{"value_m", "reference", "text"}`."""
    return {"value_m": limit.value_m, "reference": limit.reference.value, "text": limit.text}


def volume_plain(volume: Volume) -> dict[str, Any]:
    """Return the JSON form of a volume: what does not apply is null, positions are [longitude_deg, latitude_deg]."""
    return {
        "name": volume.name,
        "kind": volume.kind.value,
        "floor": limit_plain(volume.floor),
        "ceiling": limit_plain(volume.ceiling),
        "times": volume.times,
        "frequency": volume.frequency,
        "polygons": polygons_plain(volume.polygons),
    }


def polygons_plain(polygons: Sequence[Polygon]) -> list[list[list[list[float]]]]:
    """Return polygons as lists of rings of [longitude_deg, latitude_deg], as a GeoJSON MultiPolygon has them."""
    return [[[[x / E7, y / E7] for x, y in ring] for ring in polygon] for polygon in polygons]
