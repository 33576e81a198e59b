"""Which of the saved tasks a flight flew, from what it did at their zones; its declaration is a hint and no more.

Logs seldom declare the task of the day. A zone that is reached in its order speaks for a task, a small one louder than
a large one: less of that happens by chance. What fits two courses alike is told and not decided.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from taskdb.core.course.measure import is_open_ended
from taskdb.core.course.regions import reach_m
from taskdb.core.flights.airborne import ended_at, stood
from taskdb.core.flights.fixes import LONGEST_PIECE_S, Log
from taskdb.core.flights.flight import Flight, Flown
from taskdb.core.flights.flown import fly
from taskdb.core.flights.pieces import Pieces
from taskdb.core.flights.visits import Visits
from taskdb.core.geodesy import distance_m
from taskdb.core.model import Position, Task, Zone

DECLARED_WITHIN_M = 1_000.0
"""A declared point this near to a task's is that point: other lists have it elsewhere (common practice, no source)."""
CLEARLY_FURTHER_M = 10_000.0
"""So much further on one task than on another tells them apart where both had the same zones reached."""

_ROOM_M = 100_000.0
"""A zone of this size says nothing: a day's points lie within so far of home (common practice, no source)."""
_DECLARED_WORTH = 3.0
"""A declaration speaks as loud as a zone of 5 km that was reached: ln(100 / 5)."""
_FASTEST_M_S = 140.0
"""500 km/h: no glider is so fast over the ground (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class _Tried:
    """A task as flown, and how loud what was reached of it speaks for it."""

    number: int
    flown: Flown
    worth: float
    is_declared: bool

    @property
    def rank(self) -> tuple[bool, float, float]:
        return self.flown.is_finished, round(self.worth, 9), self.flown.distance_m


def read_flown(log: Log, tasks: Sequence[Task]) -> Flight:
    """Return what a log tells of its flight, held against the tasks that it may have flown, their points resolved.

    A log without fixes that count gives a flight of problems alone. ValueError for a task without a start and a finish,
    or with an axis that is not resolved.
    """
    track = log.track
    if not len(track):
        return Flight(log.date, None, None, None, None, None, (*log.problems, "No fix of it counts."))
    visits = Visits(Pieces.of(track))
    tried = [_try(number, task, visits, log.declared) for number, task in enumerate(tasks)]
    best, said = _best(tried, tasks)
    start_s = None if best is None else best.flown.start_s
    first, last = visits.stretches[-1]
    if start_s is not None:
        first, last = next(span for span in visits.stretches if track.time_s[span[1]] >= start_s)
    before, after = stood(visits.motion)
    return Flight(
        log.date,
        None if best is None else best.number,
        None if best is None else best.flown,
        before,
        after,
        track.position(ended_at(visits.motion, first, last)),
        (*log.problems, *_doubts(visits), *said),
    )


def _try(number: int, task: Task, visits: Visits, declared: Sequence[Position]) -> _Tried:
    flown = fly(task, visits)
    worth = math.fsum(_worth(point.zone) for point in task.points[1 : 1 + flown.reached])
    is_declared = _is_declared(task, declared)
    return _Tried(number, flown, worth + _DECLARED_WORTH * is_declared, is_declared)


def _worth(zone: Zone) -> float:
    return math.log(max(1.0, _ROOM_M / min(max(reach_m(zone), 1.0), _ROOM_M)))


def _is_declared(task: Task, declared: Sequence[Position]) -> bool:
    return len(declared) == len(task.points) and all(
        distance_m(at, point.place.position) <= DECLARED_WITHIN_M
        for at, point in zip(declared, task.points, strict=True)
    )


def _best(tried: Sequence[_Tried], tasks: Sequence[Task]) -> tuple[_Tried | None, list[str]]:
    """Return the task that was flown, and what is to be said; None where none was, or where it cannot be told."""
    if not tried:
        return None, []
    started = [one for one in tried if one.flown.starts]
    if not started:
        return None, [f"It started on none of the tasks it was held against: {_names(tried, tasks)}."]
    best = max(started, key=lambda one: (*one.rank, -one.number))
    if len(tried) > 1 and best.worth == 0 and not best.flown.is_finished:
        return None, [f"It started and reached no point that tells which task it flew: {_names(started, tasks)}."]
    alike = [one for one in started if one is not best and one.rank[:2] == best.rank[:2]]
    same = [one for one in alike if _course(tasks[one.number]) == _course(tasks[best.number])]
    near = [
        one for one in alike if one not in same and one.flown.distance_m > best.flown.distance_m - CLEARLY_FURTHER_M
    ]
    if near:
        return None, [f"It fits several tasks alike: {_names([best, *near], tasks)}."]
    # Whoever flies a long task may come through the zones of a short one: what explains more of the flight is not
    # outdone by smaller zones without a word.
    longer = [one for one in started if one.worth and one.flown.distance_m > best.flown.distance_m + CLEARLY_FURTHER_M]
    if longer and best.flown.is_finished and not best.is_declared:
        told = f"It finished {_names([best], tasks)}, and came clearly further on {_names(longer, tasks)}"
        return None, [f"{told}: name the one that was flown, --task T."]
    said = []
    if same:
        said.append(f"It is counted to {tasks[best.number].name!r}; of the same course: {_names(same, tasks)}.")
    if is_open_ended(tasks[best.number]):
        said.append("Points of the pilot's own choice are not looked for: the distance is that without them.")
    return best, said


def _course(task: Task) -> tuple[object, ...]:
    return (task.time_s, *((point.role, point.place.position, point.zone) for point in task.points))


def _names(tried: Sequence[_Tried], tasks: Sequence[Task]) -> str:
    return ", ".join(repr(tasks[one.number].name) for one in tried)


def _doubts(visits: Visits) -> list[str]:
    """Return in sentences what in the flight itself proves nothing, or is not to be believed."""
    track, places = visits.pieces.track, visits.pieces.places
    span = visits.motion.flown
    if span is None:
        return ["It never flies: nowhere does it move at 15 m/s for 20 s."]
    found = []
    steps_s = np.diff(track.time_s[span[0] : span[1] + 1])
    gaps = steps_s[steps_s > LONGEST_PIECE_S]
    if len(gaps):
        times = "one gap" if len(gaps) == 1 else f"{len(gaps):,} gaps"
        found.append(
            f"In flight it has {times} of more than {LONGEST_PIECE_S:.0f} s, up to {float(gaps.max()):,.0f} s; "
            "nothing is proven across."
        )
    moved = np.diff(places[:, span[0] : span[1] + 1], axis=1)
    speed = np.sqrt((moved * moved).sum(axis=0)) / np.maximum(steps_s, 1e-9)
    if jumps := int(np.count_nonzero(speed > _FASTEST_M_S)):
        times = "once" if jumps == 1 else f"{jumps:,} times"
        found.append(f"It moves faster than 500 km/h {times}: look at its fixes before you believe it.")
    return found
