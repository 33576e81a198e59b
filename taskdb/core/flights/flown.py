"""How a flight flew a task: the start that counts, the times, the distance and the speed. Only knowledge, no scoring.

Of several starts the one with the least time counts, in area tasks the one with the greatest speed over the longer of
flown and minimum time. Of a flight that did not finish counts what brought it furthest: the points reached in order,
then how much nearer it came to the next one. Local rules, penalties and heights are not asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from taskdb.core.course.deductions import dues, take
from taskdb.core.course.regions import counted_position
from taskdb.core.flights.approach import Approach
from taskdb.core.flights.credit import Candidates, Onward, best_credit
from taskdb.core.flights.crossing import Presence
from taskdb.core.flights.flight import Credited, Flown, ZoneTime
from taskdb.core.flights.visits import Attempt, Visits, attempts
from taskdb.core.geodesy import earth_vectors, length_m
from taskdb.core.model import Position, Role, Task

if TYPE_CHECKING:
    from taskdb.core.flights.fixes import Floats


_MOST_TRIED = 200
"""No flight finishes an area task from so many starts; a log made to would take minutes."""


@dataclass(frozen=True, slots=True)
class _Path:
    """A way through the points that counts: the moments of all points in areas, and of those credited by number."""

    credited: tuple[tuple[int, float], ...]
    moments: tuple[float, ...]
    distance_m: float


def fly(task: Task, visits: Visits) -> Flown:
    """Return how a flight flew a task. Its points must be resolved; at least a start and a finish (ValueError)."""
    if len(task.points) < 2:
        raise ValueError(f"the task {task.name!r} has no start and finish")
    made = attempts(task, visits)
    has_areas = any(point.role is Role.AREA for point in task.points)
    if not made:
        return Flown(0, None, _zone_times(task, (), visits), None, 0.0, None, () if has_areas else None)
    finished = [attempt for attempt in made if attempt.finish is not None]
    measure = _Measure(task, visits, has_areas)
    if finished:
        attempt, path = measure.quickest(finished)
    else:
        attempt, path = measure.furthest(made)
    return _flown(measure, made, attempt, path)


def _flown(measure: _Measure, made: Sequence[Attempt], attempt: Attempt, path: _Path) -> Flown:
    visits = measure.visits
    start_s, finish_s = _second(visits, attempt.start), None
    speed_kmh = None
    starts = len(made)
    if attempt.finish is not None:
        finish_s = _second(visits, attempt.finish)
        starts = sum(one.start <= attempt.finish for one in made)
        speed_kmh = path.distance_m * 3.6 / measure.counted_s(attempt)
    credited = tuple(Credited(number, visits.pieces.position(at), _second(visits, at)) for number, at in path.credited)
    return Flown(
        starts,
        start_s,
        _zone_times(measure.task, attempt.touches, visits),
        finish_s,
        path.distance_m,
        speed_kmh,
        credited if measure.has_areas else None,
    )


def _second(visits: Visits, at: float) -> float:
    return float(visits.pieces.time_s(np.array([at]))[0])


def _zone_times(task: Task, touches: Sequence[float], visits: Visits) -> tuple[ZoneTime, ...]:
    times = [_second(visits, at) for at in touches]
    return tuple(
        ZoneTime(number, times[number - 1] if number <= len(times) else None)
        for number in range(1, len(task.points) - 1)
    )


class _Measure:
    """Measures attempts at one task."""

    def __init__(self, task: Task, visits: Visits, has_areas: bool) -> None:
        self.task, self.visits, self.has_areas = task, visits, has_areas
        self.counted = tuple(counted_position(point) for point in task.points)
        self.owed = dues(task)
        self._approaches: dict[tuple[int, float], Approach] = {}
        self._paths: list[tuple[Attempt, _Path]] = []

    def quickest(self, finished: Sequence[Attempt]) -> tuple[Attempt, _Path]:
        """Return the finished attempt that counts with its way; of equal ones the one with the latest start."""
        if not self.has_areas:
            path = _Path((), (), self._length_m(self.counted))
            return min(reversed(finished), key=self._flown_s), path
        best: tuple[float, Attempt, _Path] | None = None
        for most, attempt in self._by_most_speed(finished)[:_MOST_TRIED]:
            if best is not None and best[0] >= most * (1 - 1e-12):
                break
            path = self._way(attempt)
            speed = path.distance_m / self.counted_s(attempt)
            if best is None or speed > best[0]:
                best = (speed, attempt, path)
        assert best is not None
        return best[1], best[2]

    def _by_most_speed(self, finished: Sequence[Attempt]) -> list[tuple[float, Attempt]]:
        """Return attempts with a speed (m/s) that none of them can exceed, the largest first, then the latest start.

        No way is longer than that from the first start to the last finish of the same flight.
        """
        longest_m = {}
        for until in {attempt.until for attempt in finished}:
            same = [attempt for attempt in finished if attempt.until == until]
            widest = replace(same[0], finish=max(attempt.finish or 0.0 for attempt in same))
            longest_m[until] = self._way(widest).distance_m
        bounds = [(longest_m[attempt.until] / self.counted_s(attempt), attempt) for attempt in finished]
        return sorted(bounds, key=lambda bound: (-bound[0], -bound[1].start))

    def furthest(self, made: Sequence[Attempt]) -> tuple[Attempt, _Path]:
        """Return the unfinished attempt that reached most points and came furthest; of equal ones the latest start."""
        most = max(len(attempt.touches) for attempt in made)
        ways: list[tuple[Attempt, _Path]] = []
        for attempt in (attempt for attempt in made if len(attempt.touches) == most):
            # In areas no later start of the same flight leads further; it may lead as far, by the same way.
            path = self._known(attempt)
            if (
                path is None
                and self.has_areas
                and attempt.touches
                and any(one.until == attempt.until for one, _ in ways)
            ):
                continue
            ways.append((attempt, path or self._way(attempt)))
        return max(reversed(ways), key=lambda way: way[1].distance_m)

    def _flown_s(self, attempt: Attempt) -> float:
        start, finish = self.visits.pieces.time_s(np.array([attempt.start, attempt.finish]))
        return float(finish - start)

    def counted_s(self, attempt: Attempt) -> float:
        """Return the time over which a finished attempt's speed counts: in area tasks at least the minimum time."""
        return max(self._flown_s(attempt), float(self.task.time_s or 0) if self.has_areas else 0.0)

    def _length_m(self, path: Sequence[Position], gained_m: float | None = None) -> float:
        """Return the length of a path less what the rules take off the points on it, with what was gained beyond it."""
        legs = [length_m(a, b, self.task.rules.earth) for a, b in pairwise(path)]
        if gained_m is not None:
            legs.append(gained_m)
        return take(legs, [due for due in self.owed if due.number < len(path) and due.leg < len(legs)])[0]

    def _way(self, attempt: Attempt) -> _Path:
        """Return the way of an attempt that counts: through the fixes credited, or the points themselves."""
        path = self._known(attempt)
        if path is None:
            is_credited = self.has_areas and attempt.touches
            path = self._through_areas(attempt) if is_credited else self._through_points(attempt)
            self._paths.append((attempt, path))
        return path

    def _known(self, attempt: Attempt) -> _Path | None:
        """Return the best way from an earlier start where it is the best from this one: nothing of it came before."""
        for earlier, path in self._paths:
            is_same = (earlier.until, earlier.finish) == (attempt.until, attempt.finish)
            if is_same and earlier.start <= attempt.start and path.moments and path.moments[0] >= attempt.start:
                return path
        return None

    def _through_points(self, attempt: Attempt) -> _Path:
        reached = self.counted[: len(attempt.touches) + 1]
        return _Path((), (), self._length_m(reached, self._gained_m(attempt, reached[-1], attempt.reached_at)))

    def _gained_m(self, attempt: Attempt, from_: Position, at: float) -> float:
        """Return how much nearer than a place the flight came to its next point, from a moment on."""
        target = self.counted[len(attempt.touches) + 1]
        away_m = length_m(from_, target, self.task.rules.earth)
        return max(0.0, away_m - self._approach(attempt).from_moment(at))

    def _approach(self, attempt: Attempt) -> Approach:
        number = len(attempt.touches) + 1
        if (number, attempt.until) not in self._approaches:
            first = next(int(a) for a, b in self.visits.stretches if a <= attempt.start <= b)
            self._approaches[number, attempt.until] = Approach.to(
                self.counted[number], self.visits.pieces, first, int(attempt.until), self.task.rules.earth
            )
        return self._approaches[number, attempt.until]

    def _through_areas(self, attempt: Attempt) -> _Path:
        reached = len(attempt.touches)
        between = self.task.points[1 : reached + 1]
        stays = [self.visits.stays(point) for point in between]
        last = attempt.until if attempt.finish is None else attempt.finish
        moments = [_candidates(*given) for given in zip(stays, attempt.touches, _latest(stays, last), strict=True)]
        layers = [
            _places(self.visits, at, None if point.role is Role.AREA else counted_position(point))
            for at, point in zip(moments, between, strict=True)
        ]
        target = self.counted[reached + 1]
        end: Position | Onward = target
        if attempt.finish is None:
            end = Onward(target, self._approach(attempt).from_moment)
        chosen = best_credit(layers, self.counted[0], end, self.task.rules.earth)
        credited = [(n + 1, float(moments[n][at])) for n, at in enumerate(chosen)]
        path = [self.counted[0]]
        for number, at in credited:
            point = self.task.points[number]
            path.append(self.visits.pieces.position(at) if point.role is Role.AREA else counted_position(point))
        if attempt.finish is None:
            distance_m = self._length_m(path, self._gained_m(attempt, path[-1], credited[-1][1]))
        else:
            distance_m = self._length_m([*path, target])
        shown = tuple((number, at) for number, at in credited if self.task.points[number].role is Role.AREA)
        return _Path(shown, tuple(at for _, at in credited), distance_m)


def _latest(stays: Sequence[Presence], last: float) -> list[float]:
    """Return the last moment at which each point may be credited so that those behind it still can be, in order."""
    found: list[float] = []
    for stay in reversed(stays):
        touched = stay.last_touch(last)
        last = last if touched is None else touched
        found.insert(0, last)
    return found


def _candidates(stays: Presence, first: float, last: float) -> Floats:
    """Return the moments between two at which a flight may be credited in a zone: its fixes there.

    A stay without a fix counts where it begins and ends, and so does what the first and the last moment leave of one.
    """
    found = []
    for begins, ends in zip(np.maximum(stays.first, first), np.minimum(stays.last, last), strict=True):
        if begins > ends:
            continue
        fixes = np.arange(np.ceil(begins), np.floor(ends) + 1)
        found.append(fixes if len(fixes) else np.array([begins, ends]))
    return np.concatenate(found)


def _places(visits: Visits, at: Floats, counted: Position | None) -> Candidates:
    """Return candidates at moments; where the point counts at one place, that is the place of all."""
    track = visits.pieces.track
    whole = at.astype(np.intp)
    latitude, longitude = track.latitude_deg[whole], track.longitude_deg[whole]
    for number in np.flatnonzero(at % 1 > 0):
        position = visits.pieces.position(float(at[number]))
        latitude[number], longitude[number] = position.latitude_deg, position.longitude_deg
    if counted is not None:
        latitude, longitude = (
            np.full_like(latitude, counted.latitude_deg),
            np.full_like(longitude, counted.longitude_deg),
        )
    return Candidates(at, *earth_vectors(latitude, longitude))
