"""What the flights of a day add up to: who came home, how fast, when, and where the others ended. No scoring."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from taskdb.core.flights.flight import Flight
from taskdb.core.flights.plain import utc_text
from taskdb.core.geodesy import distance_m
from taskdb.core.model import FlownByLogs
from taskdb.core.plain import or_none, speed_kmh

SAME_WITHIN_S = 2.0
SAME_WITHIN_M = 200.0
"""Two recorders in one glider tell the same start, zones and finish, each within its interval of fixes, and the same
end; two gliders do not (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class DaySums:
    """How many started and finished, and the best and the median speed of those who finished, km/h."""

    starters: int
    finishers: int
    best_kmh: float | None
    median_kmh: float | None


def sums_of(flights: Sequence[Flight]) -> DaySums:
    """Return the sums over flights; those that did not start on a task count nowhere."""
    speeds = [f.flown.speed_kmh for f in flights if f.flown is not None and f.flown.speed_kmh is not None]
    return DaySums(
        starters=sum(has_started(flight) for flight in flights),
        finishers=sum(has_finished(flight) for flight in flights),
        best_kmh=or_none(speed_kmh, max(speeds, default=None)),
        median_kmh=or_none(speed_kmh, median(speeds) if speeds else None),
    )


def has_started(flight: Flight) -> bool:
    """Say whether it started on one of the tasks."""
    return flight.flown is not None and flight.flown.start_s is not None


def has_finished(flight: Flight) -> bool:
    """Say whether it finished one of the tasks."""
    return flight.flown is not None and flight.flown.is_finished


def by_logs(flights: Sequence[tuple[Flight, str | None]], logs: Iterable[str]) -> FlownByLogs:
    """Return what flights tell of a task's day, each with the code of the waypoint near which it ended, or None.

    `logs` are the checksums of all logs that they were read from.
    """
    sums = sums_of([flight for flight, _ in flights])
    starts = _times((flight, flight.flown.start_s) for flight, _ in flights if flight.flown is not None)
    finishes = _times((flight, flight.flown.finish_s) for flight, _ in flights if flight.flown is not None)
    ended = Counter(code for flight, code in flights if has_started(flight) and not has_finished(flight))
    return FlownByLogs(
        starters=sums.starters,
        finishers=sums.finishers,
        best_kmh=sums.best_kmh,
        median_kmh=sums.median_kmh,
        first_start=min(starts, default=None),
        last_start=max(starts, default=None),
        first_finish=min(finishes, default=None),
        last_finish=max(finishes, default=None),
        ended_near=tuple(sorted(ended.items(), key=lambda item: (-item[1], item[0] is None, item[0] or ""))),
        logs=tuple(sorted(set(logs))),
    )


def _times(found: Iterable[tuple[Flight, float | None]]) -> list[str]:
    """Return times as ISO text in UTC; of a log without a date none."""
    return [utc_text(flight.date, at) for flight, at in found if at is not None and flight.date is not None]


def is_same_flight(one: Flight, other: Flight) -> bool:
    """Say whether two logs tell one flight: a glider often carries two recorders."""
    if one.task is None or (one.task, one.date) != (other.task, other.date) or one.flown is None or other.flown is None:
        return False
    ours, theirs = one.flown, other.flown
    if len(ours.zones) != len(theirs.zones) or one.ended_at is None or other.ended_at is None:
        return False
    times = [(ours.start_s, theirs.start_s), (ours.finish_s, theirs.finish_s)]
    times += [(a.at_s, b.at_s) for a, b in zip(ours.zones, theirs.zones, strict=True)]
    return (
        ours.start_s is not None
        and all(_is_near(a, b) for a, b in times)
        and distance_m(one.ended_at, other.ended_at) <= SAME_WITHIN_M
    )


def _is_near(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return abs(one - other) <= SAME_WITHIN_S
