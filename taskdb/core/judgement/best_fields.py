"""Which field a glide reaches highest from each of many places: the least altitude that is needed, and whose it is.

Neighbouring places are looked at together: what cannot be the best for any of them is left out at once. Then each
place's own tangent plane ranks the rest, and geodesics decide among those that lie within its error.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from taskdb.core.geodesy import earth_vectors, inverses
from taskdb.core.judgement.fields import Fields
from taskdb.core.judgement.glide import Glide, height_along_m, height_used_m

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

SAME_M = 0.0005
"""Arrival heights that differ by less are equal: the first code is taken."""

_RADIUS_M = 6_371_000.0
_STRONG = 0.9
"""From this share of the airspeed on the wind's course decides so much that nothing is left out beforehand."""
_ROWS = 32


@dataclass(frozen=True, slots=True)
class Best:
    """By place: the number of the best field (-1: none can be flown to), the altitude needed there, its distance.

    `needed_m` is the field's elevation and the height that the glide uses: from so high above sea it arrives with
    nothing to spare. inf and NaN where there is no field.
    """

    field: Ints
    needed_m: Floats
    distance_m: Floats


def best_fields(
    fields: Fields, glide: Glide, latitudes_deg: Floats, longitudes_deg: Floats, groups: Ints, *, exact: bool = True
) -> Best:
    """Return the best field for each place. `groups` are the first places of groups whose places lie near each other.

    With equal heights the first code. Without `exact` it is by tangent planes: centimetres at 50 km, and quicker.
    """
    count = len(latitudes_deg)
    field, needed, distance = np.full(count, -1, dtype=np.intp), np.full(count, np.inf), np.full(count, np.nan)
    if not count or not len(fields):
        return Best(field, needed, distance)
    frames = Frames.of(latitudes_deg, longitudes_deg)
    rows, columns = _close_pairs(fields, glide, frames, groups)
    if not len(rows):
        return Best(field, needed, distance)
    height, far = pair_needs(fields, glide, latitudes_deg, longitudes_deg, rows, columns, frames if not exact else None)
    first = np.flatnonzero(np.diff(rows, prepend=-1))
    least = np.repeat(np.minimum.reduceat(height, first), np.diff(first, append=len(rows)))
    hits = np.flatnonzero((height <= least + SAME_M) & np.isfinite(height))
    winners = hits[np.flatnonzero(np.diff(rows[hits], prepend=-1))]
    field[rows[winners]] = columns[winners]
    needed[rows[winners]], distance[rows[winners]] = height[winners], far[winners]
    return Best(field, needed, distance)


def pair_needs(
    fields: Fields,
    glide: Glide,
    latitudes_deg: Floats,
    longitudes_deg: Floats,
    rows: Ints,
    columns: Ints,
    frames: Frames | None = None,
) -> tuple[Floats, Floats]:
    """Return the altitude that each pair of a place and a field needs, and the distance; by geodesics, or by frames."""
    if frames is not None:
        far = _bent(np.linalg.norm(fields.places[:, columns] - frames.places[:, rows], axis=0))
        away = fields.places[:, columns] - frames.places[:, rows]
        east = np.einsum("ij,ij->j", frames.east[:, rows], away)
        north = np.einsum("ij,ij->j", frames.north[:, rows], away)
        return fields.elevations_m[columns] + height_along_m(glide, far, _along(glide, east, north)), far
    courses, far = inverses(
        latitudes_deg[rows], longitudes_deg[rows], fields.latitudes_deg[columns], fields.longitudes_deg[columns]
    )
    return fields.elevations_m[columns] + height_used_m(glide, far, courses), far


@dataclass(frozen=True, slots=True)
class Frames:
    """By place: where it lies, earth-centred, and the unit vectors to its east, its north and up (axis of 3 first)."""

    places: Floats
    east: Floats
    north: Floats
    up: Floats
    latitudes_deg: Floats
    longitudes_deg: Floats

    @staticmethod
    def of(latitudes_deg: Floats, longitudes_deg: Floats) -> Frames:
        places, up = earth_vectors(latitudes_deg, longitudes_deg)
        longitude = np.radians(longitudes_deg)
        east = np.stack([-np.sin(longitude), np.cos(longitude), np.zeros_like(longitude)])
        north = np.cross(up, east, axis=0)
        return Frames(places, east, north, up, latitudes_deg, longitudes_deg)

    def uses(self, fields: Fields, glide: Glide, rows: Ints, columns: Ints | slice) -> tuple[Floats, Floats]:
        """Return heights used and distances from some places (rows) to some fields, by each place's tangent plane."""
        east, north, far = self._away(fields, rows, columns)
        if glide.wind.speed_kmh == 0.0:
            return far / glide.ratio, far
        return height_along_m(glide, far, _along(glide, east, north)), far

    def distances_m(self, fields: Fields, rows: Ints) -> Floats:
        """Return the distances from some places (rows) to all fields."""
        return self._away(fields, rows, slice(None))[2]

    def _away(self, fields: Fields, rows: Ints, columns: Ints | slice) -> tuple[Floats, Floats, Floats]:
        """Return how far east and north of each place each field lies on its tangent plane, and the distance."""
        origin = self.places[:, rows[:1]]
        there, here = fields.places[:, columns] - origin, self.places[:, rows] - origin
        east, north, up = (
            axis[:, rows].T @ there - np.einsum("ij,ij->j", axis[:, rows], here)[:, None]
            for axis in (self.east, self.north, self.up)
        )
        return east, north, _bent(np.sqrt(east * east + north * north + up * up))


def _bent(chord_m: Floats) -> Floats:
    """Return the arc over a chord: 1 mm off at 50 km, 2e-5 of it at 2,000 km; ever longer with the chord."""
    square = (chord_m / (2 * _RADIUS_M)) ** 2
    arc: Floats = chord_m * (1 + square * (1 / 6 + square * (3 / 40 + square * 15 / 336)))
    return arc


def _along(glide: Glide, east_m: Floats, north_m: Floats) -> Floats:
    """Return the wind along the way to places that lie so far east and north, km/h, positive from behind."""
    from_rad = np.radians(glide.wind.from_deg)
    east, north = -glide.wind.speed_kmh * np.sin(from_rad), -glide.wind.speed_kmh * np.cos(from_rad)
    along: Floats = (east * east_m + north * north_m) / np.maximum(np.sqrt(east_m**2 + north_m**2), 1e-6)
    return along


def _close_pairs(fields: Fields, glide: Glide, frames: Frames, groups: Ints) -> tuple[Ints, Ints]:
    """Return pairs of a place and a field, in order of both, that hold each place's best field."""
    found_rows, found_columns = [np.zeros(0, dtype=np.intp)], [np.zeros(0, dtype=np.intp)]
    ends = np.append(groups[1:], len(frames.latitudes_deg))
    for begin, end, columns in _worth_a_look(fields, glide, frames, groups, ends):
        rows = np.arange(begin, end)
        used, _ = frames.uses(fields, glide, rows, columns)
        needed = fields.elevations_m[columns] + used
        least = needed.min(axis=1, keepdims=True)
        with np.errstate(invalid="ignore"):
            close = np.isfinite(needed) & (needed <= least + 0.05 + 2e-4 * used)
        row, column = np.nonzero(close)
        found_rows.append(row + begin)
        found_columns.append(columns[column])
    return np.concatenate(found_rows), np.concatenate(found_columns)


def _worth_a_look(
    fields: Fields, glide: Glide, frames: Frames, groups: Ints, ends: Ints
) -> Iterator[tuple[int, int, Ints]]:
    """Yield each group with the fields that may be the best for one of its places.

    The height used obeys the triangle's inequality, in wind too (the air that a glider reaches is a disc that drifts):
    from the group's middle no other place differs by more than the way between them takes. What the wind's turning
    against north within a group changes, and the curve of the earth, is allowed for by a share of the height used.
    """
    middles = (groups + ends - 1) // 2
    owner = np.repeat(middles, ends - groups)
    off = _bent(np.linalg.norm(frames.places - frames.places[:, owner], axis=0))
    turn = (frames.longitudes_deg - frames.longitudes_deg[owner] + 180.0) % 360.0 - 180.0
    turn = np.radians(np.abs(turn)) * np.abs(np.sin(np.radians(frames.latitudes_deg)))
    speed, wind = glide.airspeed_kmh, glide.wind.speed_kmh
    if wind >= _STRONG * speed:
        everything = np.arange(len(fields))
        yield from ((int(begin), int(end), everything) for begin, end in zip(groups, ends, strict=True))
        return
    margins = 2 * np.maximum.reduceat(off, groups) / glide.ratio * speed / (speed - wind) + 1.0
    shares = 1e-3 + np.maximum.reduceat(turn, groups) * wind / np.sqrt(speed * speed - wind * wind)
    for first in range(0, len(groups), _ROWS):
        some = slice(first, first + _ROWS)
        used, _ = frames.uses(fields, glide, middles[some], slice(None))
        spread = used * shares[some, None]
        needed = fields.elevations_m + used
        least = (needed + spread).min(axis=1) + margins[some]
        near = needed - spread <= least[:, None]
        for begin, end, row in zip(groups[some], ends[some], near, strict=True):
            yield int(begin), int(end), np.flatnonzero(row)
