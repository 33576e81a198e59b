"""What a flight does at the zones of a task: its starts, the stays in each zone, its finishes.

Start: the line crossed in its direction, or another zone left; turn: the zone touched; finish: the line crossed in its
direction, or another zone entered. Moments are places along the fixes (see `Pieces`). Zones that several tasks share
are looked at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from taskdb.core.flights.airborne import Motion, stretches
from taskdb.core.flights.crossing import Presence, line_crossings, presence
from taskdb.core.flights.pieces import Pieces
from taskdb.core.model import Position, Shape, Task, TaskPoint, Zone

if TYPE_CHECKING:
    from taskdb.core.flights.fixes import Floats


class Visits:
    """A flight, asked about zones: each answer is computed once."""

    def __init__(self, pieces: Pieces) -> None:
        self.pieces = pieces
        self.motion = Motion.of(pieces.track)
        self.stretches = stretches(self.motion)
        self._stays: dict[tuple[Zone, Position], Presence] = {}
        self._crossed: dict[tuple[Zone, Position], Floats] = {}

    def stays(self, point: TaskPoint) -> Presence:
        """Return when the flight is in a point's zone."""
        key = (point.zone, point.place.position)
        if key not in self._stays:
            self._stays[key] = presence(*key, self.pieces)
        return self._stays[key]

    def starts(self, point: TaskPoint) -> Floats:
        """Return the moments at which the flight leaves a zone, or crosses a line in its direction."""
        if point.zone.shape is Shape.LINE:
            return self._line(point)
        stays = self.stays(point)
        return stays.last[stays.is_left]

    def finishes(self, point: TaskPoint) -> Floats:
        """Return the moments at which the flight enters a zone, or crosses a line in its direction."""
        if point.zone.shape is Shape.LINE:
            return self._line(point)
        stays = self.stays(point)
        return stays.first[stays.is_entered]

    def _line(self, point: TaskPoint) -> Floats:
        key = (point.zone, point.place.position)
        if key not in self._crossed:
            self._crossed[key] = line_crossings(*key, self.pieces)
        return self._crossed[key]


@dataclass(frozen=True, slots=True)
class Attempt:
    """A start and what follows it in order: each point between start and finish at its first touch, then the finish.

    Moments along the fixes; `touches` end with the last point that was reached. `until` is where this flight ends.
    """

    start: float
    until: float
    touches: tuple[float, ...]
    finish: float | None

    @property
    def reached_at(self) -> float:
        """Return the moment of what was reached last: a point, or the start."""
        return self.touches[-1] if self.touches else self.start


def attempts(task: Task, visits: Visits) -> tuple[Attempt, ...]:
    """Return every start of a flight with what follows it, in order of time; none where it did not start."""
    starts = visits.starts(task.points[0])
    between = [visits.stays(point) for point in task.points[1:-1]]
    finishes = visits.finishes(task.points[-1])
    found = []
    for first, last in visits.stretches:
        for start in starts[(starts >= first) & (starts <= last)].tolist():
            touches = _touches(between, start, last)
            finish = None
            if len(touches) == len(between):
                # A goal flight's finish lies behind its start, also where both are one line.
                number = int(
                    np.searchsorted(finishes, touches[-1]) if touches else np.searchsorted(finishes, start, "right")
                )
                if number < len(finishes) and finishes[number] <= last:
                    finish = float(finishes[number])
            found.append(Attempt(start, float(last), touches, finish))
    return tuple(found)


def _touches(between: list[Presence], start: float, last: float) -> tuple[float, ...]:
    touches, at = [], start
    for stays in between:
        touched = stays.next_touch(at)
        if touched is None or touched > last:
            break
        touches.append(touched)
        at = touched
    return tuple(touches)
