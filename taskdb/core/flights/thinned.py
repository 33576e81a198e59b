"""A flight thinned for drawing: few of its fixes, and where it started, turned and ended."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.flights.flight import Flight
from taskdb.core.model import Position

if TYPE_CHECKING:
    from taskdb.core.flights.fixes import Track

MOST_FIXES = 600
"""Of a track that is drawn: one every half a minute of a long day, and a circle is a dot at that scale."""


@dataclass(frozen=True, slots=True)
class DrawnFlight:
    """A flight for a map. `pieces` have at least two places each, and nothing is proven between them; `turned` are the
    credited fixes in areas, else where zones were reached; `ended`: where it finished, or came to its end."""

    pieces: tuple[tuple[Position, ...], ...]
    started: Position | None
    turned: tuple[Position, ...]
    ended: Position | None
    finished: bool


def drawn_flight(track: Track, flight: Flight) -> DrawnFlight:
    """Return a flight's fixes at even steps, cut where there are gaps, and its marks."""
    flown = flight.flown
    if flown is None:
        return DrawnFlight(_pieces(track), None, (), flight.ended_at, finished=False)
    reached = [zone.at_s for zone in flown.zones if zone.at_s is not None]
    turned = (
        tuple(_at(track, at_s) for at_s in reached)
        if flown.credited is None
        else tuple(credited.position for credited in flown.credited)
    )
    return DrawnFlight(
        _pieces(track),
        None if flown.start_s is None else _at(track, flown.start_s),
        turned,
        flight.ended_at if flown.finish_s is None else _at(track, flown.finish_s),
        finished=flown.is_finished,
    )


def _pieces(track: Track) -> tuple[tuple[Position, ...], ...]:
    import numpy as np

    if len(track) < 2:
        return ()
    cuts = np.flatnonzero(~track.is_joined) + 1
    step = max(1, -(-len(track) // MOST_FIXES))
    pieces = []
    for numbers in np.split(np.arange(len(track)), cuts):
        if len(numbers) > 1:
            chosen = [*numbers[:-1:step].tolist(), int(numbers[-1])]
            pieces.append(tuple(track.position(number) for number in chosen))
    return tuple(pieces)


def _at(track: Track, at_s: float) -> Position:
    """Return the fix nearest in time: at the size of a map it is where the flight was."""
    import numpy as np

    return track.position(int(np.argmin(np.abs(track.time_s - at_s))))
