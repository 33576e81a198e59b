"""Which of a class's speeds a minimum time suits: not too slow for the minimum distance, not too fast for the maximum.

Speeds are averages in still air; a speed suits where it needs at most the minimum time for the shortest path and at
least it for the longest, the wind acting along each geodesic.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from taskdb.core.course.schedule import Extent, timetable
from taskdb.core.course.wind import Air
from taskdb.core.model import Position, Task
from taskdb.core.quantities import Wind

NEAR_S = 1.0
"""Times are told to the second: what is as near as this is met."""

_FINEST_KMH = 0.01


@dataclass(frozen=True, slots=True)
class Suited:
    """The speeds that a minimum time suits, km/h, and which share of those between slowest and fastest they are, 0…1.

    Both ends None: no speed of the class.
    """

    from_kmh: float | None
    to_kmh: float | None
    share: float


NONE = Suited(None, None, 0.0)


def suited_speeds(
    task: Task,
    shortest: Sequence[Position],
    longest: Sequence[Position] | None,
    wind: Wind,
    time_s: float,
    speeds_kmh: tuple[float, float],
) -> Suited:
    """Return which speeds between slowest and fastest a minimum time suits, to 0.01 km/h.

    `shortest` and `longest` are paths with a position for each point; without a longest, as in a task that goes on by
    the pilot's choice, nobody is too fast.
    """
    slowest, fastest = speeds_kmh

    def is_fast_enough(speed: float) -> bool:
        return _time_s(task, shortest, Air(speed, wind), Extent.MINIMUM) <= time_s + NEAR_S

    def has_room(speed: float) -> bool:
        return longest is None or _time_s(task, longest, Air(speed, wind), Extent.MAXIMUM) >= time_s - NEAR_S

    if not is_fast_enough(fastest) or not has_room(slowest):
        return NONE
    first = slowest if is_fast_enough(slowest) else _edge(slowest, fastest, is_fast_enough)
    last = fastest if has_room(fastest) else _edge(fastest, slowest, has_room)
    if first > last:
        return NONE
    share = 1.0 if fastest == slowest else (last - first) / (fastest - slowest)
    return Suited(first, last, share)


def _time_s(task: Task, path: Sequence[Position], air: Air, extent: Extent) -> float:
    time_s = timetable(task, path, air, extent).time_s
    return math.inf if time_s is None else time_s


def _edge(unsuited: float, suited: float, suits: Callable[[float], bool]) -> float:
    """Return the speed next to the unsuited one that suits, by halving."""
    while abs(suited - unsuited) > _FINEST_KMH:
        middle = (suited + unsuited) / 2
        if suits(middle):
            suited = middle
        else:
            unsuited = middle
    return suited
