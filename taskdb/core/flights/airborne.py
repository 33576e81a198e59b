"""When a flight log flies and when it stands still, from how far it comes in some seconds.

Over a few seconds, so that the steps in which positions are written (1.9 m) and the noise of a receiver at rest are no
movement, and a circle is none either way. Heights are asked only where standing would cut a flight in two.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from taskdb.core.flights.fixes import LONGEST_PIECE_S, Track
from taskdb.core.flights.flight import Stand
from taskdb.core.geodesy import earth_vectors
from taskdb.core.model import Position

if TYPE_CHECKING:
    from taskdb.core.flights.fixes import Bools, Floats, Ints

FLYING_M_S, FLYING_FOR_S = 15.0, 20.0
"""It flies once it moved on average this fast for this long (common practice, no source)."""

STILL_M_S, STILL_FOR_S = 1.5, 10.0
"""Slower than this over so long it stands. The speed is the contract's; the time lets noise of a few metres pass."""

LANDED_FOR_S, LANDED_WITHIN_M = 180.0, 50.0
"""So long still and at one height it has landed, and what follows is another flight, or the way home by road."""


@dataclass(frozen=True, slots=True, eq=False)
class Motion:
    """How a track moves: the fixes from which it flies, and those up to which; whether it is still, by fix.

    `still_to` is the fix up to which each that is still is so.
    """

    track: Track
    flying: Ints
    flying_to: Ints
    is_still: Bools
    still_to: Ints

    @staticmethod
    def of(track: Track) -> Motion:
        places, _ = earth_vectors(track.latitude_deg, track.longitude_deg)
        gaps = np.concatenate([[0], np.cumsum(~track.is_joined)])[: len(track)]
        later, speed, proven = _ahead(track, places, gaps, FLYING_FOR_S)
        flying = np.flatnonzero(proven & (speed >= FLYING_M_S))
        still_to, slow, seen = _ahead(track, places, gaps, STILL_FOR_S)
        return Motion(track, flying, later[flying], seen & (slow < STILL_M_S), still_to)

    @property
    def flown(self) -> tuple[int, int] | None:
        """Return the first fix from which it flies, and the last up to which it does; None where it never flies."""
        return (int(self.flying[0]), int(self.flying_to[-1])) if len(self.flying) else None


def _ahead(track: Track, places: Floats, gaps: Ints, seconds: float) -> tuple[Ints, Floats, Bools]:
    """Return for each fix the first one so many seconds later, the speed to it (m/s), and whether that is proven.

    Not proven where no fix is so much later or a gap lies between; the speed is then of no meaning.
    """
    time_s = track.time_s
    later = np.searchsorted(time_s, time_s + seconds)
    there = later < len(time_s)
    later = np.minimum(later, len(time_s) - 1)
    away = np.sqrt(np.square(places[:, later] - places).sum(axis=0))
    return later, away / np.maximum(time_s[later] - time_s, 1e-9), there & (gaps[later] == gaps)


def stretches(motion: Motion) -> tuple[tuple[int, int], ...]:
    """Return the flights of a track, one or more, each by its first and last fix.

    A log is cut where it stands at one height for three minutes, and a flight begins where it stood still for the last
    time before it flew: what is pushed or towed over the ground is none. Where nothing flies the whole track is one
    stretch; empty for a track without fixes.
    """
    if not len(motion.track):
        return ()
    edges = [0, *_landed(motion), len(motion.track) - 1]
    found = []
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        within = motion.flying[(motion.flying >= first) & (motion.flying_to <= last)]
        if len(within):
            stood = np.flatnonzero(motion.is_still[first : int(within[0])])
            found.append((first + int(stood[-1]) if len(stood) else first, last))
    return tuple(found) or ((0, len(motion.track) - 1),)


def _landed(motion: Motion) -> list[int]:
    """Return the first and the last fix, alternating, of each stand of three minutes at one height."""
    track = motion.track
    changes = np.flatnonzero(np.diff(motion.is_still.astype(np.int8), prepend=0, append=0))
    found: list[int] = []
    for first, behind in zip(changes[::2].tolist(), changes[1::2].tolist(), strict=True):
        last = int(motion.still_to[behind - 1])
        is_long = track.time_s[last] - track.time_s[first] >= LANDED_FOR_S
        if is_long and _height_range_m(track, first, last) <= LANDED_WITHIN_M:
            if found and first <= found[-1]:
                found[-1] = last
            else:
                found += [first, last]
    return found


def _height_range_m(track: Track, first: int, last: int) -> float:
    """Return by how much the height changes between two fixes: the smaller of both altitudes, since each drifts.

    An altitude that is the same all through the log is none.
    """
    ranges = []
    for altitude in (track.pressure_altitude_m, track.gnss_altitude_m):
        known = altitude[np.isfinite(altitude)]
        within = altitude[first : last + 1]
        within = within[np.isfinite(within)]
        if len(within) and known.max() > known.min():
            ranges.append(float(within.max() - within.min()))
    return min(ranges, default=0.0)


def stood(motion: Motion) -> tuple[Stand | None, Stand | None]:
    """Return where a glider stood before its flight and after it: the median of the fixes below 1.5 m/s there.

    None where it did not stand still, or never flew.
    """
    if motion.flown is None:
        return None, None
    number = np.arange(len(motion.track))
    before, after = number < motion.flown[0], number > motion.flown[1]
    return _middle(motion.track, motion.is_still & before), _middle(motion.track, motion.is_still & after)


def _middle(track: Track, chosen: Bools) -> Stand | None:
    at = np.flatnonzero(chosen)
    if not len(at):
        return None
    # The first fix's longitude is the middle from which the others are counted: no jump at 180°.
    base = float(track.longitude_deg[at[0]])
    offsets = (track.longitude_deg[at] - base + 180.0) % 360.0 - 180.0
    position = Position.at(float(np.median(track.latitude_deg[at])), base + float(np.median(offsets)))
    altitudes = track.gnss_altitude_m[at]
    known = altitudes[np.isfinite(altitudes)]
    return Stand(position, float(np.median(known)) if len(known) else None)


def ended_at(motion: Motion, first: int, last: int) -> int:
    """Return the fix at which the flight between two fixes ended: its last before a gap, once it no longer flies."""
    within = motion.flying_to[(motion.flying >= first) & (motion.flying_to <= last)]
    landing = int(within[-1]) if len(within) else last
    gaps = np.flatnonzero(np.diff(motion.track.time_s[landing : last + 1]) > LONGEST_PIECE_S)
    return landing + int(gaps[0]) if len(gaps) else last
