"""Landable cover of a course: for each whole kilometre the field that a straight glide reaches highest. Pure.

Constant wind, no sink, no circuit, fields as last inspected: figures to choose a course by, never a promise.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby, pairwise
from typing import TYPE_CHECKING

from taskdb.core.geodesy import destinations, inverse, length_m, wrap_longitude
from taskdb.core.ground import GroundHeights
from taskdb.core.judgement.glide import Glide
from taskdb.core.model import Earth, Position
from taskdb.core.quantities import format_wind

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from taskdb.core.judgement.fields import Fields

    Floats = NDArray[np.float64]

SAMPLE_M = 1000.0
NEAREST = 3
"""So many fields are named with each stretch out of reach."""
_GROUP = 20
_NOTHING_M = 0.0005
"""So little less than the height to arrive with is told as that height, and counts as it."""


class CoverGround(StrEnum):
    """What is known of the ground: the user's terrain, the shipped grid of 9 km, or nothing was asked."""

    TERRAIN = "terrain"
    GRID = "grid"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Terms:
    """What a cover reckons with. The working altitude is above sea, or with `is_above_ground` above the ground there.

    `safety_m` is the height to arrive with above a field; with terrain a glide clears the ground by `clearance_m`
    everywhere but in its last `free_m`.
    """

    glide: Glide
    working_m: float
    working_text: str
    """The working altitude as it was typed, for people: `1800m MSL`, `FL065`."""
    is_above_ground: bool = False
    safety_m: float = 200.0
    clearance_m: float = 100.0
    free_m: float = 2000.0

    @property
    def words(self) -> str:
        """Return how the glide is reckoned, for people."""
        glide = self.glide
        wind = "in calm air" if glide.wind.speed_kmh == 0 else f"in wind {format_wind(glide.wind)}"
        return (
            f"1 in {glide.ratio:g} at {glide.airspeed_kmh:.0f} km/h {wind}, from {self.working_text}, "
            f"arriving {self.safety_m:.0f} m over the field"
        )


@dataclass(frozen=True, slots=True)
class Sample:
    """A place on the course, `at_m` from the start, and the field that is reached highest from there.

    `arrival_m` is the height above that field on arrival, `distance_m` how far it is: None where no field can be flown
    to, or the figure is withheld. `is_reached` is None where it is not known. `altitude_m` is where the glide begins.
    """

    at_m: float
    leg: int
    position: Position
    altitude_m: float | None
    code: str | None
    arrival_m: float | None
    distance_m: float | None
    is_reached: bool | None
    is_withheld: bool = False


@dataclass(frozen=True, slots=True)
class Stretch:
    """Samples out of reach behind each other, from the first to the last of them, and the fields nearest to them."""

    from_m: float
    to_m: float
    samples: int
    nearest: tuple[tuple[str, float], ...]
    """Codes, each with its least distance in metres."""

    @property
    def length_m(self) -> float:
        return self.to_m - self.from_m


@dataclass(frozen=True, slots=True)
class Cover:
    """The cover of a course; `points_m` are where its points lie along it, `left_out` fields without elevation."""

    samples: tuple[Sample, ...]
    stretches: tuple[Stretch, ...]
    points_m: tuple[float, ...]
    left_out: tuple[str, ...]
    fields: int
    ground: CoverGround
    terms: Terms
    too_low: int
    """At how many samples the working altitude is not the clearance above the ground, as far as that is known."""

    @property
    def out_of_reach(self) -> int:
        return sum(sample.is_reached is False for sample in self.samples)

    @property
    def withheld(self) -> int:
        """Return of how many samples the figure is withheld, because the ground is not known well enough."""
        return sum(sample.is_withheld for sample in self.samples)

    @property
    def longest_out_m(self) -> float | None:
        """Return the length of the longest stretch out of reach; None where there is none."""
        return max((stretch.length_m for stretch in self.stretches), default=None)


def cover_course(
    points: Sequence[Position],
    fields: Fields,
    terms: Terms,
    *,
    ground: GroundHeights | None = None,
    earth: Earth = Earth.WGS84,
) -> Cover:
    """Return the cover of a course through points, along geodesics.

    Samples lie at every whole kilometre of each leg from its first point, and at the finish; a leg without length has
    none. Kilometres of the course are those of its earth model, glides are flown on WGS84. With the user's terrain a
    line of glide has to clear the ground. With the shipped grid (`ground.is_users` false) the figure is withheld where
    its relief on the way passes 300 m: out of reach is then told all the same, since mountains bring no field nearer.
    Without `ground` it is a straight glide over nothing. A working altitude above ground needs terrain (ValueError).
    """
    import numpy as np

    if terms.is_above_ground and (ground is None or not ground.is_users):
        raise ValueError("a height above ground needs terrain")
    along = _Along.of(points, earth)
    if ground is None:
        kind = CoverGround.NONE
    else:
        kind = CoverGround.TERRAIN if ground.is_users else CoverGround.GRID
    below = np.full(len(along.at_m), np.nan)
    if ground is not None:
        below = ground.heights_m(along.latitudes_deg, along.longitudes_deg)
    altitudes = terms.working_m + (below if terms.is_above_ground else np.zeros(len(below)))
    too_low = int(np.count_nonzero(altitudes - below < terms.clearance_m))
    judged = _judge(along, fields, terms, altitudes, ground)
    samples = tuple(_samples(along, fields, altitudes, judged))
    stretches = _stretches(along, samples, fields)
    return Cover(samples, stretches, along.points_m, fields.left_out, len(fields), kind, terms, too_low)


@dataclass(frozen=True, slots=True)
class _Along:
    """The places of a course that are looked at: how far along, on which leg, where; and the firsts of groups."""

    at_m: Floats
    legs: list[int]
    latitudes_deg: Floats
    longitudes_deg: Floats
    groups: list[int]
    points_m: tuple[float, ...]

    @staticmethod
    def of(points: Sequence[Position], earth: Earth) -> _Along:
        import numpy as np

        at, latitudes, longitudes = [], [], []
        legs: list[int] = []
        groups: list[int] = []
        begin, points_m = 0.0, [0.0][: len(points)]
        for number, (a, b) in enumerate(pairwise(points)):
            line, length = inverse(a, b), length_m(a, b, earth)
            if line.bearing_deg is not None:
                # A leg of whole kilometres ends where the next begins: its last is that one's first.
                steps = SAMPLE_M * np.arange(float(max(1, math.ceil((length - 0.001) / SAMPLE_M))))
                latitude, longitude, course = (
                    np.full(len(steps), value) for value in (a.latitude_deg, a.longitude_deg, line.bearing_deg)
                )
                latitude, longitude = destinations(latitude, longitude, course, steps * (line.distance_m / length))
                groups += [len(legs) + first for first in range(0, len(steps), _GROUP)]
                at.append(begin + steps)
                legs += [number] * len(steps)
                latitudes.append(latitude)
                longitudes.append(longitude)
            begin += length
            points_m.append(begin)
        if points:
            groups.append(len(legs))
            legs.append(max(len(points) - 2, 0))
            at.append(np.array([begin]))
            latitudes.append(np.array([points[-1].latitude_deg]))
            longitudes.append(np.array([points[-1].longitude_deg]))
        at_m, latitudes_deg, longitudes_deg = (
            np.concatenate([np.zeros(0), *one]) for one in (at, latitudes, longitudes)
        )
        return _Along(at_m, legs, latitudes_deg, longitudes_deg, groups, tuple(points_m))


@dataclass(frozen=True, slots=True)
class _Judged:
    """By sample: the field's number (-1: none), height on arrival, distance; whether one is in reach, and not known."""

    field: NDArray[np.intp]
    arrival_m: Floats
    distance_m: Floats
    is_reached: NDArray[np.bool_]
    is_unknown: NDArray[np.bool_]
    is_withheld: NDArray[np.bool_]


def _judge(along: _Along, fields: Fields, terms: Terms, altitudes: Floats, ground: GroundHeights | None) -> _Judged:
    import numpy as np

    if ground is not None and ground.is_users:
        from taskdb.core.judgement.clear_glide import Clearing, best_clear_fields

        clearing = Clearing(ground, terms.clearance_m, terms.free_m)
        clear = best_clear_fields(fields, terms.glide, clearing, along.latitudes_deg, along.longitudes_deg, altitudes)
        arrival = altitudes - clear.needed_m
        reached = arrival >= terms.safety_m - _NOTHING_M
        unknown = ~reached & ((altitudes - clear.unknown_m >= terms.safety_m - _NOTHING_M) | np.isnan(altitudes))
        return _Judged(clear.field, arrival, clear.distance_m, reached, unknown, unknown)
    from taskdb.core.judgement.best_fields import best_fields

    best = best_fields(
        fields, terms.glide, along.latitudes_deg, along.longitudes_deg, np.array(along.groups, dtype=np.intp)
    )
    arrival = altitudes - best.needed_m
    reached = arrival >= terms.safety_m - _NOTHING_M
    withheld = np.zeros(len(altitudes), dtype=np.bool_)
    if ground is not None:
        from taskdb.core.judgement.coarse_relief import RELIEF_M, relief_on_the_way_m

        found = np.flatnonzero(best.field >= 0)
        number = best.field[found]
        relief = relief_on_the_way_m(
            ground, along.latitudes_deg[found], along.longitudes_deg[found],
            fields.latitudes_deg[number], fields.longitudes_deg[number], best.distance_m[found],
        )  # fmt: skip
        withheld[found] = relief > RELIEF_M
    return _Judged(best.field, arrival, best.distance_m, reached, withheld & reached, withheld)


def _samples(along: _Along, fields: Fields, altitudes: Floats, judged: _Judged) -> Iterable[Sample]:
    columns = (
        along.at_m, along.latitudes_deg, along.longitudes_deg, altitudes, judged.field, judged.arrival_m,
        judged.distance_m, judged.is_reached, judged.is_unknown, judged.is_withheld,
    )  # fmt: skip
    rows = zip(along.legs, *(column.tolist() for column in columns), strict=True)
    for leg, at_m, latitude, longitude, altitude, field, arrival, distance, reached, unknown, withheld in rows:
        is_told = field >= 0 and not withheld
        yield Sample(
            at_m=at_m,
            leg=leg,
            position=Position(latitude, wrap_longitude(longitude)),
            altitude_m=None if math.isnan(altitude) else altitude,
            code=fields.codes[field] if is_told else None,
            arrival_m=arrival if is_told else None,
            distance_m=distance if is_told else None,
            is_reached=None if unknown else reached,
            is_withheld=withheld,
        )


def _stretches(along: _Along, samples: Sequence[Sample], fields: Fields) -> tuple[Stretch, ...]:
    found = []
    for is_out, run in groupby(enumerate(samples), key=lambda one: one[1].is_reached is False):
        if is_out:
            numbers = [number for number, _ in run]
            first, last = samples[numbers[0]], samples[numbers[-1]]
            found.append(Stretch(first.at_m, last.at_m, len(numbers), _nearest(along, numbers, fields)))
    return tuple(found)


def _nearest(along: _Along, numbers: Sequence[int], fields: Fields) -> tuple[tuple[str, float], ...]:
    """Return the fields nearest to some samples, nearest first; equal ones by code."""
    import numpy as np

    from taskdb.core.judgement.best_fields import Frames

    if not len(fields):
        return ()
    rows = np.array(numbers, dtype=np.intp)
    frames = Frames.of(along.latitudes_deg, along.longitudes_deg)
    far = np.min([frames.distances_m(fields, rows[k : k + 32]).min(axis=0) for k in range(0, len(rows), 32)], axis=0)
    order = np.argsort(np.round(far, 2), kind="stable")[:NEAREST]
    return tuple((fields.codes[number], float(far[number])) for number in order.tolist())
