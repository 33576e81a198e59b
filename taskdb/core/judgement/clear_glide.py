"""Which field a glide reaches highest when the ground is known: the line down to it has to clear the ground.

Candidates are tried by their height on arrival, all places at once: a few heights along each line first, then the
whole line of the first that they do not rule out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from taskdb.core.geodesy import earth_vectors
from taskdb.core.ground import GroundHeights
from taskdb.core.judgement.best_fields import SAME_M, Frames, pair_needs
from taskdb.core.judgement.fields import Fields
from taskdb.core.judgement.glide import Glide

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

LEAST_STEP_M = 15.0
"""Finer terrain is asked no closer along a line."""
_LOWEST_LAND_M = -500.0
"""No land lies lower (the shore of the Dead Sea, 430 m below the sea): a line that ends so low is in the ground."""
_FEW = 9
_BATCHES = (1, 3, 9, 27, 81)
_PLACES = 1000
"""So many places at a time: what is held of them at once is places by fields."""


@dataclass(frozen=True, slots=True)
class Clearing:
    """How a line of glide has to clear the ground: by how much, everywhere but in its last part."""

    ground: GroundHeights
    clearance_m: float
    free_m: float


@dataclass(frozen=True, slots=True)
class BestClear:
    """By place: the best field whose line clears the ground (-1: none), the altitude needed and the distance there.

    `unknown` is the least altitude needed for a better field whose line crosses unknown ground; inf where none does.
    """

    field: Ints
    needed_m: Floats
    distance_m: Floats
    unknown_m: Floats


def best_clear_fields(
    fields: Fields, glide: Glide, clearing: Clearing, latitudes_deg: Floats, longitudes_deg: Floats, altitudes_m: Floats
) -> BestClear:
    """Return the best field of each place for a glide that begins at its altitude above sea (NaN: no field)."""
    parts = []
    for first in range(0, len(latitudes_deg), _PLACES):
        some = slice(first, first + _PLACES)
        search = _Search(fields, glide, clearing, latitudes_deg[some], longitudes_deg[some], altitudes_m[some])
        parts.append(search.run())
    empty, none = np.zeros(0), np.zeros(0, dtype=np.intp)
    return BestClear(
        np.concatenate([none, *(part.field for part in parts)]),
        np.concatenate([empty, *(part.needed_m for part in parts)]),
        np.concatenate([empty, *(part.distance_m for part in parts)]),
        np.concatenate([empty, *(part.unknown_m for part in parts)]),
    )


class _Search:
    """The candidates of some places in the order of their heights on arrival, and what was found out about them."""

    def __init__(
        self, fields: Fields, glide: Glide, clearing: Clearing, latitudes: Floats, longitudes: Floats, altitudes: Floats
    ) -> None:
        self.fields, self.glide, self.clearing = fields, glide, clearing
        self.latitudes, self.longitudes, self.altitudes = latitudes, longitudes, altitudes
        self.normals = earth_vectors(latitudes, longitudes)[1]
        self.field_normals = earth_vectors(fields.latitudes_deg, fields.longitudes_deg)[1]
        self.step_m = max(clearing.ground.spacing_m / 2, LEAST_STEP_M)

    def run(self) -> BestClear:
        count = len(self.latitudes)
        found = np.full(count, -1, dtype=np.intp)
        unknown_pair = np.full(count, -1, dtype=np.intp)
        self._line_up()
        done = np.zeros(count, dtype=np.intp)
        for batch in (*_BATCHES, max(len(self.fields), 1)):
            waiting = np.flatnonzero((found < 0) & (done < self.counts))
            if not len(waiting):
                break
            takes = np.minimum(batch, self.counts[waiting] - done[waiting])
            pairs = np.repeat(self.first[waiting] + done[waiting], takes) + _counting(takes)
            self._try(pairs, found, unknown_pair)
            done[waiting] += takes
        return self._told(found, unknown_pair)

    def _line_up(self) -> None:
        """Put down all pairs of a place and a field that may clear the ground, by place and height on arrival."""
        rows, columns, needs, fars = [], [], [], []
        frames = Frames.of(self.latitudes, self.longitudes)
        free = self.clearing.free_m
        for begin in range(0, len(self.latitudes), 32):
            row = np.arange(begin, min(begin + 32, len(self.latitudes)))
            used, far = frames.uses(self.fields, self.glide, row, slice(None))
            low = self.altitudes[row, None] - used * (1 - np.minimum(free / np.maximum(far, 1e-9), 1.0))
            may_clear = (far <= free) | (low - self.clearing.clearance_m >= _LOWEST_LAND_M)
            at, column = np.nonzero(may_clear & np.isfinite(used) & np.isfinite(self.altitudes[row, None]))
            rows.append(at + begin)
            columns.append(column)
            needs.append((self.fields.elevations_m + used)[at, column])
            fars.append(far[at, column])
        row, column = np.concatenate(rows), np.concatenate(columns)
        need, far = np.concatenate(needs), np.concatenate(fars)
        # Equal heights to within what counts as equal go by code.
        order = np.lexsort((column, np.round(need / SAME_M), row))
        self.row, self.column, self.need, self.far = row[order], column[order], need[order], far[order]
        self.counts = np.bincount(self.row, minlength=len(self.latitudes)).astype(np.intp)
        self.first = np.cumsum(self.counts) - self.counts

    def _try(self, pairs: Ints, found: Ints, unknown_pair: Ints) -> None:
        """Look for the first pair of each place whose line is clear, and note the first whose line is not known."""
        standing = pairs[~self._blocked_at_few(pairs)]
        while len(standing):
            leads = np.flatnonzero(np.diff(self.row[standing], prepend=-1))
            front = standing[leads]
            blocked, unknown = self._whole(front)
            place = self.row[front]
            clear = ~blocked & ~unknown
            found[place[clear]] = front[clear]
            fresh = unknown & ~blocked & (unknown_pair[place] < 0)
            unknown_pair[place[fresh]] = front[fresh]
            rest = np.ones(len(standing), dtype=np.bool_)
            rest[leads] = False
            standing = standing[rest]
            standing = standing[found[self.row[standing]] < 0]

    def _blocked_at_few(self, pairs: Ints) -> Bools:
        share = np.linspace(0.0, 1.0, _FEW)
        heights, lines = self._over_ground(np.repeat(pairs, _FEW), np.tile(share, len(pairs)))
        short = np.nan_to_num(heights - lines, nan=-np.inf) > 0
        return short.reshape(len(pairs), _FEW).any(axis=1) & (self.far[pairs] > self.clearing.free_m)

    def _whole(self, pairs: Ints) -> tuple[Bools, Bools]:
        """Return whether each line meets the ground, and whether some of the ground under it is not known."""
        asked = self.far[pairs] - self.clearing.free_m
        counts = np.where(asked > 0, np.ceil(asked / self.step_m).astype(np.intp) + 1, 0)
        blocked, unknown = np.zeros(len(pairs), dtype=np.bool_), np.zeros(len(pairs), dtype=np.bool_)
        owner = np.repeat(np.arange(len(pairs)), counts)
        share = _counting(counts) / np.maximum(counts[owner] - 1, 1)
        heights, lines = self._over_ground(pairs[owner], share)
        blocked[owner[np.nan_to_num(heights - lines, nan=-np.inf) > 0]] = True
        unknown[owner[np.isnan(heights)]] = True
        return blocked, unknown

    def _over_ground(self, pairs: Ints, share: Floats) -> tuple[Floats, Floats]:
        """Return the ground with its clearance at shares of the part of each line that has to be clear, and the line.

        Positions lie on the great circle of the verticals: within a metre of the geodesic over 60 km.
        """
        row, column, far = self.row[pairs], self.column[pairs], np.maximum(self.far[pairs], 1e-9)
        along = share * np.maximum(1 - self.clearing.free_m / far, 0.0)
        up = self.normals[:, row] * (1 - along) + self.field_normals[:, column] * along
        latitude = np.degrees(np.arctan2(up[2], np.hypot(up[0], up[1])))
        ground = self.clearing.ground.heights_m(latitude, np.degrees(np.arctan2(up[1], up[0])))
        used = self.need[pairs] - self.fields.elevations_m[column]
        return ground + self.clearing.clearance_m, self.altitudes[row] - used * along

    def _told(self, found: Ints, unknown_pair: Ints) -> BestClear:
        count = len(self.latitudes)
        field, needed, distance = np.full(count, -1, dtype=np.intp), np.full(count, np.inf), np.full(count, np.nan)
        place = np.flatnonzero(found >= 0)
        field[place] = self.column[found[place]]
        if len(place):
            needed[place], distance[place] = pair_needs(
                self.fields, self.glide, self.latitudes, self.longitudes, place, field[place]
            )
        unknown = np.where(
            unknown_pair >= 0, self.need[np.maximum(unknown_pair, 0)] if len(self.need) else np.inf, np.inf
        )
        return BestClear(field, needed, distance, unknown)


def _counting(counts: Ints) -> Ints:
    """Return 0, 1, 2 … for each count, one after the other."""
    return np.arange(int(counts.sum())) - np.repeat(np.cumsum(counts) - counts, counts)
