"""Fitted radii: how fast, with how many looks at the extremes, and whether larger areas ever suit worse in wind.

Run: python -m tests.benchmarks.fit [TASKS]     (40 random tasks of 1 to 4 areas unless told otherwise)
"""

from __future__ import annotations

import math
import statistics
import sys
import time
from collections import Counter
from collections.abc import Iterator
from itertools import pairwise

from taskdb.core.judgement.fit import Asked, figures_at, fit
from taskdb.core.judgement.sizes import common, whole_steps
from taskdb.core.model import Task
from taskdb.core.quantities import Step, Wind
from tests.benchmarks.figures import F, Figure, geodesics_s, told
from tests.reference.test_fit_exhaustive import Day, random_day

STEPS = (Step(1.0, "km"), Step(1.0, "nmi"), Step(100.0, "m"), Step(10.0, "m"))


def asked(day: Day, wind_kmh: float | None = None) -> Asked:
    speed = day.wind_speed if wind_kmh is None else wind_kmh
    return Asked(day.slowest, day.fastest, Wind(day.wind_from, speed), day.time_s)


def figures(count: int = 40) -> list[Figure]:
    days = drawn(count)
    fit(days[0][1], common(days[0][1], STEPS[0]), asked(days[0][0]))
    floor, made = geodesics_s(), []
    for step in STEPS:
        times, looks = [], Counter[int]()
        for day, task in days:
            begun = time.process_time()
            looks[fit(task, common(task, step), asked(day)).evaluations] += 1
            times.append(time.process_time() - begun)
        what = f"steps of {step.text(1)}, median of {count} tasks"
        made.append(Figure(what, statistics.median(times), "s", F, floor))
        made.append(Figure("the most looks at the extremes of that", max(looks), "looks", goal=8))
    return made


def drawn(count: int) -> list[tuple[Day, Task]]:
    return [(day, day.task()) for day in map(random_day, range(count))]


def growing(days: list[tuple[Day, Task]]) -> None:
    """Print by how much a kilometre more made the slowest slower or the fastest faster, at worst."""
    for wind_kmh in (0.0, 20.0, 40.0, 55.0):
        pairs, slower, faster = 0, 0.0, 0.0
        for day, task in days:
            windows = list(windows_by_kilometre(task, asked(day, wind_kmh)))
            for (slow, fast), (slow_after, fast_after) in pairwise(windows):
                pairs += 1
                slower, faster = max(slower, slow_after - slow), max(faster, fast - fast_after)
        print(f"wind {wind_kmh:2.0f} km/h, {pairs} kilometres: slowest at most {slower:.3f} s slower, "
              f"fastest {faster:.3f} s faster")  # fmt: skip


def windows_by_kilometre(task: Task, wanted: Asked) -> Iterator[tuple[float, float]]:
    """Yield what the slowest and the fastest need at each whole kilometre under the cap."""
    sizes = common(task, Step(1.0, "km"))
    for kilometres in whole_steps(task, sizes):
        slow, fast = figures_at(task, sizes.radii(kilometres), wanted).window_s
        yield math.inf if slow is None else slow, math.inf if fast is None else fast


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    told(figures(number))
    growing(drawn(number))
