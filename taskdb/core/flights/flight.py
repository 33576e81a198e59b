"""What one flight made of a task: its start, the time at each zone, its finish, how far it came. Values only."""

from __future__ import annotations

from dataclasses import dataclass

from taskdb.core.model import Position


@dataclass(frozen=True, slots=True)
class ZoneTime:
    """When a point between start and finish was touched, in order of the task; None: not in its order."""

    number: int
    at_s: float | None


@dataclass(frozen=True, slots=True)
class Credited:
    """The fix in an area through which the longest distance leads, or where no fix lies in it, its edge as crossed."""

    number: int
    position: Position
    at_s: float


@dataclass(frozen=True, slots=True)
class Flown:
    """A task as one flight flew it. Times are UTC seconds from the midnight with which the log's date begins.

    `starts` counts the starts up to the finish. `distance_m` is what the contest counts of the task: whole where it is
    finished, else as far as the flight came. `speed_kmh` is over the time flown, in area tasks at least the minimum
    time; None where it is not finished. `credited` is None where the task has no area.
    """

    starts: int
    start_s: float | None
    zones: tuple[ZoneTime, ...]
    finish_s: float | None
    distance_m: float
    speed_kmh: float | None
    credited: tuple[Credited, ...] | None

    @property
    def is_finished(self) -> bool:
        return self.finish_s is not None

    @property
    def time_s(self) -> float | None:
        """Return the time from start to finish, None where one of them is missing."""
        return None if self.start_s is None or self.finish_s is None else self.finish_s - self.start_s

    @property
    def reached(self) -> int:
        """Return how many points between start and finish were touched in order."""
        return sum(zone.at_s is not None for zone in self.zones)


@dataclass(frozen=True, slots=True)
class Stand:
    """Where a glider stood still: the median of its fixes there, and of their GNSS altitudes, metres, None without.

    A receiver gives height above the sea or above the ellipsoid, and seldom says which.
    """

    position: Position
    gnss_altitude_m: float | None


@dataclass(frozen=True, slots=True)
class Flight:
    """What a log tells of its flight. `task` is the number of the task flown among those offered, None: none surely.

    `date` is ISO, that of the first fix (UTC). Where it stood is None where it did not. `problems` are sentences, of
    the log and of what was read from it.
    """

    date: str | None
    task: int | None
    flown: Flown | None
    stood_before: Stand | None
    stood_after: Stand | None
    ended_at: Position | None
    problems: tuple[str, ...]
