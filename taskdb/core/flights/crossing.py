"""When a flight is in a zone: exact within the pieces between fixes, for every shape of `core.course.regions`.

Circles and radials are crossed where a square or a line has its roots, lines where the flight changes its side. No
rule of starting, turning or finishing is known here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from taskdb.core.course.regions import Wedge, needed, reach_m, wedges
from taskdb.core.flights.pieces import Pieces, chord_m, nearest, seen_from
from taskdb.core.model import Position, Shape, Zone

if TYPE_CHECKING:
    from taskdb.core.flights.fixes import Bools, Floats, Ints

_SHORTEST = 1e-12
"""Of a piece: parts that are shorter lie between two roots that are one."""
_SHORTEST_STAY = 1e-9
"""Of a piece: stays that part no further are one, rounded twice."""


@dataclass(frozen=True, slots=True, eq=False)
class Presence:
    """The stays of a flight in a zone, in order: where along the fixes each begins and ends (see `Pieces`).

    `is_entered`, `is_left`: the flight was proven outside right before or after it. A stay that a gap interrupts is
    two.
    """

    first: Floats
    last: Floats
    is_entered: Bools
    is_left: Bools

    def next_touch(self, at: float) -> float | None:
        """Return the moment at which the zone is touched, not before `at`; None for never."""
        number = int(np.searchsorted(self.last, at))
        return None if number == len(self.last) else max(at, float(self.first[number]))

    def last_touch(self, at: float) -> float | None:
        """Return the last moment at which the zone is touched, not after `at`; None for never."""
        number = int(np.searchsorted(self.first, at, side="right")) - 1
        return None if number < 0 else min(at, float(self.last[number]))


def presence(zone: Zone, at: Position, pieces: Pieces) -> Presence:
    """Return when a flight is in a zone whose point is at `at`; edges belong to it.

    At a line: when it is on the line, which are moments; no entering and no leaving. ValueError where a needed axis
    is not resolved.
    """
    seen = seen_from(at, pieces.places)
    if zone.shape is Shape.LINE:
        crossed = _crossed(zone, at, seen, pieces.is_joined, is_directed=False)
        never = np.zeros(len(crossed), dtype=np.bool_)
        return Presence(crossed, crossed, never, never)
    rings = tuple(_Ring.of(wedge, at) for wedge in wedges(zone))
    near, _ = nearest(seen, pieces.is_joined) if seen.shape[1] > 1 else (np.empty(0), None)
    within = near <= chord_m(reach_m(zone), at.latitude_deg)
    first, last = _alone(rings, seen, pieces.is_joined)
    starts, ends = _stays(rings, seen, np.flatnonzero(within & pieces.is_joined))
    order = np.argsort(np.concatenate([first, starts]), kind="stable")
    return _merged(pieces.is_joined, np.concatenate([first, starts])[order], np.concatenate([last, ends])[order])


def line_crossings(zone: Zone, at: Position, pieces: Pieces) -> Floats:
    """Return where along the fixes a line is crossed in its direction of flight, in order."""
    return _crossed(zone, at, seen_from(at, pieces.places), pieces.is_joined, is_directed=True)


def _crossed(zone: Zone, at: Position, seen: Floats, is_joined: Bools, *, is_directed: bool) -> Floats:
    axis = math.radians(needed(zone.axis_deg, zone, "axis"))
    along = seen[0] * math.sin(axis) + seen[1] * math.cos(axis)
    before, behind = along[:-1], along[1:]
    changes = (before < 0) & (behind >= 0)
    if not is_directed:
        changes |= (before > 0) & (behind <= 0)
    number = np.flatnonzero(changes & is_joined)
    share = before[number] / (before[number] - behind[number])
    place = seen[:, number] + share * (seen[:, number + 1] - seen[:, number])
    is_on = np.sqrt((place * place).sum(axis=0)) <= chord_m(reach_m(zone), at.latitude_deg)
    crossed: Floats = (number + share)[is_on]
    return crossed


@dataclass(frozen=True, slots=True)
class _Ring:
    """A wedge as seen from its point: squares of chords, and its bearings in radians."""

    inner_2: float
    outer_2: float
    from_rad: float
    width_rad: float
    is_full: bool

    @staticmethod
    def of(wedge: Wedge, at: Position) -> _Ring:
        inner, outer = (chord_m(metres, at.latitude_deg) for metres in (wedge.inner_m, wedge.outer_m))
        return _Ring(
            inner * inner, outer * outer, math.radians(wedge.from_deg), math.radians(wedge.width_deg), wedge.is_full
        )

    def holds(self, seen: Floats) -> Bools:
        """Return which places (3, …) are in the wedge."""
        away = (seen * seen).sum(axis=0)
        within: Bools = (away >= self.inner_2) & (away <= self.outer_2)
        if not self.is_full:
            bearing = np.arctan2(seen[0], seen[1])
            within &= (bearing - self.from_rad) % (2 * math.pi) <= self.width_rad
        return within

    def roots(self, seen: Floats, step: Floats) -> list[Floats]:
        """Return where pieces may cross the wedge's edge, as shares of each; what lies beyond a piece may be there."""
        found = []
        for squared in (self.inner_2, self.outer_2):
            if 0 < squared < math.inf:
                found += _on_circle(seen, step, squared)
        if not self.is_full:
            for bearing in (self.from_rad, self.from_rad + self.width_rad):
                off = seen[0] * math.cos(bearing) - seen[1] * math.sin(bearing)
                rise = step[0] * math.cos(bearing) - step[1] * math.sin(bearing)
                found.append(-off / np.where(rise == 0, np.inf, rise))
        return found


def _on_circle(seen: Floats, step: Floats, squared: float) -> list[Floats]:
    """Return both shares of each piece at which it is so far (squared chord) away; 0 where it never is."""
    a = np.maximum((step * step).sum(axis=0), 1e-12)
    half = (seen * step).sum(axis=0)
    rest = (seen * seen).sum(axis=0) - squared
    under = half * half - a * rest
    root = np.sqrt(np.maximum(under, 0.0))
    return [np.where(under > 0, (-half + sign * root) / a, 0.0) for sign in (-1.0, 1.0)]


def _holds(rings: tuple[_Ring, ...], seen: Floats) -> Bools:
    within = rings[0].holds(seen)
    for ring in rings[1:]:
        within |= ring.holds(seen)
    return within


def _stays(rings: tuple[_Ring, ...], seen: Floats, numbers: Ints) -> tuple[Floats, Floats]:
    """Return the parts of pieces that lie in the zone, in order: where each begins and ends along the fixes."""
    a = seen[:, numbers]
    step = seen[:, numbers + 1] - a
    none = np.zeros(len(numbers))
    roots = [np.clip(root, 0.0, 1.0) for ring in rings for root in ring.roots(a, step)]
    cuts = np.sort(np.stack([none, *roots, none + 1.0]), axis=0)
    start, end = cuts[:-1], cuts[1:]
    middle = a[:, None, :] + (start + end) / 2 * step[:, None, :]
    within = _holds(rings, middle) & (end - start > _SHORTEST)
    # By piece, and within it by part.
    chosen = within.T
    return (numbers[:, None] + start.T)[chosen], (numbers[:, None] + end.T)[chosen]


def _alone(rings: tuple[_Ring, ...], seen: Floats, is_joined: Bools) -> tuple[Floats, Floats]:
    """Return the fixes in the zone from which no piece leads on and to which none leads: stays of a moment."""
    ends = np.concatenate([[False], is_joined])
    begins = np.concatenate([is_joined, [False]])
    lone = np.flatnonzero(~ends & ~begins)
    inside = lone[_holds(rings, seen[:, lone])].astype(np.float64)
    return inside, inside


def _merged(is_joined: Bools, start: Floats, end: Floats) -> Presence:
    """Return stays from the parts of pieces, in order: what meets at a fix is one."""
    begins = np.concatenate([[True], start[1:] > end[:-1] + _SHORTEST_STAY])[: len(start)]
    first, last = start[begins], end[np.concatenate([begins[1:], [True]])[: len(end)]]
    # Whether a piece leads to a fix, and from it: at the ends of the track none does.
    joined = np.concatenate([[False], is_joined, [False]])
    is_entered = (first % 1 > 0) | joined[first.astype(np.intp)]
    is_left = (last % 1 > 0) | joined[last.astype(np.intp) + 1]
    return Presence(first, last, is_entered, is_left)
