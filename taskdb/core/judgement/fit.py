"""Radii for the areas of a task by which its minimum time suits slow and fast, the wind acting along each geodesic.

The slowest over the minimum distance are to need at most the minimum time, the fastest over the maximum distance at
least it. Both only improve as areas grow, so the smallest radius is closed in on from both sides. No promise: speeds
are averages in still air, the wind is the same everywhere, and each is held against the shortest and longest path.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from taskdb.core.course.deductions import dues, take
from taskdb.core.course.extremes import Path, longest_path, path_through, shortest_path
from taskdb.core.course.regions import counted_position
from taskdb.core.course.schedule import Extent, timetable
from taskdb.core.course.wind import Air
from taskdb.core.judgement.sizes import Cap, Radii, Sizes, cap_of, resized, whole_steps
from taskdb.core.judgement.suited import Suited, suited_speeds
from taskdb.core.model import Task
from taskdb.core.quantities import Wind

ROUND_TIMES_S = (300, 60, 1)
"""A time that would fit is rounded to the first of these that it allows (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What radii are sought for: the slowest and fastest averages in still air, the wind, the minimum time."""

    slowest_kmh: float
    fastest_kmh: float
    wind: Wind
    time_s: float


@dataclass(frozen=True, slots=True)
class Flown:
    """A flight over an extreme: its distance as the contest counts it, its time (None: the wind forbids it).

    `fits`: the slowest need at most the minimum time over the minimum distance, the fastest at least it over the
    maximum.
    """

    speed_kmh: float
    distance_m: float
    time_s: float | None
    fits: bool


@dataclass(frozen=True, slots=True)
class Figures:
    """What radii mean for the slowest and the fastest, and the paths that they fly."""

    radii: Radii
    slowest: Flown
    fastest: Flown
    shortest: Path
    longest: Path

    @property
    def fits(self) -> bool:
        return self.slowest.fits and self.fastest.fits

    @property
    def window_s(self) -> tuple[float | None, float | None]:
        """Return the minimum times that the radii suit, from and to; none does where it ends before it begins."""
        return self.slowest.time_s, self.fastest.time_s


@dataclass(frozen=True, slots=True)
class Fit:
    """What was found: `steps` of the largest area, None where no whole step under the cap suits both.

    `figures` are those of the radii found, else those at the cap; `time_that_fits_s` a minimum time near the one asked
    for that the largest radii would suit, None where radii were found or no time suits both. `suited` are the speeds
    that the figures suit: all of them where radii were found.
    """

    asked: Asked
    cap: Cap
    steps: int | None
    figures: Figures
    time_that_fits_s: float | None
    suited: Suited
    evaluations: int


def figures_at(task: Task, radii: Radii, asked: Asked) -> Figures:
    """Return what radii, positive ones, mean for the slowest and the fastest."""
    task = resized(task, radii)
    return _figures(task, radii, asked, shortest_path(task), longest_path(task))


def _at_points(task: Task, asked: Asked) -> Figures:
    """Return the figures of areas without size: a place to begin from, as cheap as the legs."""
    path = path_through([counted_position(point) for point in task.points], task.rules.earth)
    return _figures(task, {}, asked, path, path)


def _figures(task: Task, radii: Radii, asked: Asked, shortest: Path, longest: Path) -> Figures:
    slow_s = timetable(task, shortest.points, Air(asked.slowest_kmh, asked.wind), Extent.MINIMUM).time_s
    fast_s = timetable(task, longest.points, Air(asked.fastest_kmh, asked.wind), Extent.MAXIMUM).time_s
    least_m, most_m = (take(path.legs_m, dues(task))[0] for path in (shortest, longest))
    return Figures(
        radii,
        Flown(asked.slowest_kmh, least_m, slow_s, slow_s is not None and slow_s <= asked.time_s),
        Flown(asked.fastest_kmh, most_m, fast_s, fast_s is not None and fast_s >= asked.time_s),
        shortest,
        longest,
    )


@dataclass
class _Search:
    """Figures by radii, each looked up once; counts how often the extremes were sought."""

    task: Task
    asked: Asked
    seen: dict[tuple[float, ...], Figures] = field(default_factory=dict)

    def at(self, radii: Radii) -> Figures:
        key = tuple(radii.values())
        if key not in self.seen:
            self.seen[key] = figures_at(self.task, radii, self.asked)
        return self.seen[key]

    @property
    def evaluations(self) -> int:
        return len(self.seen)


@dataclass(frozen=True, slots=True)
class _End:
    """An end of what is still open: steps of the largest area, its radius in metres, the figures there."""

    steps: int
    metres: float
    figures: Figures


def fit(task: Task, sizes: Sizes, asked: Asked) -> Fit:
    """Return the smallest whole step at which both fit and which is under the cap.

    The task has areas, sized ones among them, a cap above 0, and an end (no modified task); its points are resolved.
    """
    search = _Search(task, asked)
    cap, counts = cap_of(task, sizes), whole_steps(task, sizes)
    at_cap = search.at(sizes.exact(cap.metres))
    steps = None
    if counts and at_cap.fits:
        low = _End(counts.start - 1, 0.0, _at_points(task, asked))
        high = _End(counts.stop, cap.metres, at_cap)
        steps = _smallest(search, sizes, low, high)
    time_s = None
    if steps is None and counts:
        time_s = time_near(asked.time_s, search.at(sizes.radii(counts[-1])).window_s)
    figures = at_cap if steps is None else search.at(sizes.radii(steps))
    paths = (figures.shortest.points, figures.longest.points)
    suited = suited_speeds(task, *paths, asked.wind, asked.time_s, (asked.slowest_kmh, asked.fastest_kmh))
    return Fit(asked, cap, steps, figures, time_s, suited, search.evaluations)


def _smallest(search: _Search, sizes: Sizes, low: _End, high: _End) -> int | None:
    """Return the smallest number of steps between the ends that fits, None where only the cap itself does.

    It is sought where both conditions would be met if times changed evenly, which they nearly do: most often the first
    look is right and the second, a step lower, shows it. Where times bend, one end may stay where it is: then what it
    lacks counts half.
    """
    most, moved, weights = high.steps, 0, (1.0, 1.0)
    while high.steps - low.steps > 1:
        step = math.ceil(_guess_m(low, high, weights, search.asked.time_s) / sizes.step.metres())
        step = min(max(step, low.steps + 1), high.steps - 1)
        end = _End(step, sizes.step.metres(step), search.at(sizes.radii(step)))
        side = 1 if end.figures.fits else -1
        low, high = (low, end) if side > 0 else (end, high)
        halved = 0.5 if side == moved else 1.0
        weights = (halved, 1.0) if side > 0 else (1.0, halved)
        moved = side
    return None if high.steps == most else high.steps


def _guess_m(low: _End, high: _End, weights: Sequence[float], time_s: float) -> float:
    """Return the radius at which both would just fit if their times changed evenly between the ends."""
    metres = []
    for before, after in zip(_lacks_s(low.figures, time_s), _lacks_s(high.figures, time_s), strict=True):
        if before <= 0:
            metres.append(low.metres)
        elif math.isinf(before):
            metres.append((low.metres + high.metres) / 2)
        else:
            lacks, spares = before * weights[0], -after * weights[1]
            metres.append(low.metres + (high.metres - low.metres) * lacks / (lacks + spares))
    return max(metres)


def _lacks_s(figures: Figures, time_s: float) -> tuple[float, float]:
    """Return by how many seconds the slowest and the fastest miss; 0 and below where they fit, infinite for never."""
    slow_s, fast_s = figures.window_s
    return math.inf if slow_s is None else slow_s - time_s, math.inf if fast_s is None else time_s - fast_s


def time_near(wanted_s: float, window_s: tuple[float | None, float | None]) -> float | None:
    """Return the time within a window that is nearest to the wanted one, a round one where there is; None in an empty.

    Rounded away from the end of the window, to the first of `ROUND_TIMES_S` that stays within.
    """
    first, last = window_s
    if first is None or last is None or first > last:
        return None
    for unit in ROUND_TIMES_S:
        if wanted_s < first:
            time_s = math.ceil(first / unit) * unit
        else:
            time_s = math.floor(min(wanted_s, last) / unit) * unit
        if first <= time_s <= last:
            return float(time_s)
    return None
