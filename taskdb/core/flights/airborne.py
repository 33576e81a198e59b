"""When a flight log flies and when it stands still, from how far it comes in some seconds.

Over a few seconds, so that the steps in which positions are written (1.9 m) and the noise of a receiver at rest are no
movement, and a circle is none either way. Heights are asked only where standing would cut a flight in two.
"""

from __future__ import annotations

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


def _ahead(track: Track, seconds: float) -> tuple[Ints, Floats, Bools]:
    """Return for each fix the first one so many seconds later, the speed to it (m/s), and whether that is proven.

    Not proven where no fix is so much later or a gap lies between; the speed is then of no meaning.
    """
    time_s = track.time_s
    later = np.searchsorted(time_s, time_s + seconds)
    there = later < len(time_s)
    later = np.minimum(later, len(time_s) - 1)
    places, _ = earth_vectors(track.latitude_deg, track.longitude_deg)
    away = np.sqrt(np.square(places[:, later] - places).sum(axis=0))
    gaps = np.concatenate([[0], np.cumsum(~track.is_joined)])
    proven = there & (gaps[later] == gaps)
    return later, away / np.maximum(time_s[later] - time_s, 1e-9), proven


def flying_span(track: Track) -> tuple[int, int] | None:
    """Return the fixes between which a track flies: the first from which it does, the last to which; None for none."""
    if len(track) < 2:
        return None
    later, speed, proven = _ahead(track, FLYING_FOR_S)
    flying = np.flatnonzero(proven & (speed >= FLYING_M_S))
    return (int(flying[0]), int(later[flying[-1]])) if len(flying) else None


def stretches(track: Track) -> tuple[tuple[int, int], ...]:
    """Return the flights of a track, one or more, each by its first and last fix.

    A log is cut where it stands at one height for three minutes. What does not fly is left out, unless nothing does:
    then the whole track is one stretch. Empty for a track without fixes.
    """
    if len(track) < 2:
        return ((0, len(track) - 1),) if len(track) else ()
    cuts = _landed(track)
    edges = [0, *cuts, len(track) - 1]
    spans = [(edges[n], edges[n + 1]) for n in range(0, len(edges), 2)]
    later, speed, proven = _ahead(track, FLYING_FOR_S)
    flying = np.flatnonzero(proven & (speed >= FLYING_M_S))
    found = []
    for first, last in spans:
        within = flying[(flying >= first) & (later[flying] <= last)]
        if len(within):
            found.append((int(within[0]), last))
    return tuple(found) or ((0, len(track) - 1),)


def _landed(track: Track) -> list[int]:
    """Return the first and the last fix, alternating, of each stand of three minutes at one height."""
    later, speed, proven = _ahead(track, STILL_FOR_S)
    still = proven & (speed < STILL_M_S)
    changes = np.flatnonzero(np.diff(still.astype(np.int8), prepend=0, append=0))
    found: list[int] = []
    for first, behind in zip(changes[::2].tolist(), changes[1::2].tolist(), strict=True):
        last = int(later[behind - 1])
        is_long = track.time_s[last] - track.time_s[first] >= LANDED_FOR_S
        if is_long and _height_range_m(track, first, last) <= LANDED_WITHIN_M:
            if found and first <= found[-1]:
                found[-1] = last
            else:
                found += [int(first), last]
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


def stood(track: Track) -> tuple[Stand | None, Stand | None]:
    """Return where a glider stood before its flight and after it: the median of the fixes below 1.5 m/s there.

    None where it did not stand still, or never flew.
    """
    span = flying_span(track)
    if span is None:
        return None, None
    _, speed, proven = _ahead(track, STILL_FOR_S)
    still = proven & (speed < STILL_M_S)
    number = np.arange(len(track))
    return _middle(track, still & (number < span[0])), _middle(track, still & (number > span[1]))


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


def ended_at(track: Track, first: int, last: int) -> int:
    """Return the fix at which the flight between two fixes ended: its last before a gap, once it no longer flies."""
    later, speed, proven = _ahead(track, FLYING_FOR_S)
    flying = np.flatnonzero(proven & (speed >= FLYING_M_S))
    within = flying[(flying >= first) & (later[flying] <= last)]
    landing = int(later[within[-1]]) if len(within) else last
    gaps = np.flatnonzero(np.diff(track.time_s[landing : last + 1]) > LONGEST_PIECE_S)
    return landing + int(gaps[0]) if len(gaps) else last
