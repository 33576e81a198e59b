"""Area extremes: how fast against a floor of the same run, and how close to an independent global search.

Run: python -m tests.benchmarks.extremes [TASKS]     (300 random tasks unless told otherwise; 0 for speed alone)
"""

from __future__ import annotations

import statistics
import sys

import numpy as np

from taskdb.core.course.contains import contains
from taskdb.core.course.extremes import longest_path, shortest_path, shortest_touching_path
from tests import building
from tests.benchmarks.figures import F, Figure, geodesics_s, seconds, told
from tests.reference.global_search import Course, random_course, search
from tests.reference.test_extremes_global_search import as_task


def of_areas(count: int, dice: np.random.Generator) -> Course:
    while True:
        course = random_course(dice)
        if len(course.areas) == count:
            return course


def figures() -> list[Figure]:
    dice, floor = np.random.default_rng(7), 1000 * geodesics_s()
    tasks = [as_task(of_areas(4, dice)) for _ in range(40)]
    for task in tasks[:3]:
        shortest_path(task), longest_path(task), shortest_touching_path(task)
    every, made = [], []
    for name, work in (("minimum", shortest_path), ("maximum", longest_path), ("touching", shortest_touching_path)):
        times = [1000 * seconds(lambda task=task, work=work: work(task)) for task in tasks]  # type: ignore[misc]
        every.append(times)
        made.append(Figure(f"{name} of 4 areas, median of 40 tasks", statistics.median(times), "ms", F, floor))
    sums = [a + b for a, b in zip(every[0], every[1], strict=True)]
    made.append(Figure("minimum and maximum of 4 areas, median", statistics.median(sums), "ms", F, floor, 1.2))
    made.append(Figure("the same, the longest of 40", max(sums), "ms", F, floor))
    return made + long_courses()


def long_courses() -> list[Figure]:
    """Courses of 4, 46 and 100 cylinders, 10 km apart: not overlapping, with their neighbours, and all round them."""
    made = []
    for radius, how in (("3km", "apart"), ("6km", "overlapping their neighbours"), ("20km", "overlapping all round")):
        times = []
        for count in (4, 46, 100):
            dice = np.random.default_rng(1)
            steps = np.cumsum(dice.uniform(-0.1, 0.1, (count, 2)), axis=0)
            task = building.task(*(((46 + a, 8 + b), f"cylinder {radius}") for a, b in steps))
            times.append(1000 * seconds(lambda task=task: shortest_touching_path(task)))  # type: ignore[misc]
        for count, took in zip((46, 100), times[1:], strict=True):
            what = f"touching path of {count} cylinders of {radius}, {how}"
            made.append(Figure(what, took, "ms", "of 4 such cylinders", times[0]))
    return made


def truth(count: int) -> None:
    worst_minimum = worst_maximum = -1e9
    for n in range(count):
        course = random_course(np.random.default_rng(1000 + n))
        task = as_task(course)
        shortest, longest = shortest_path(task), longest_path(task)
        for path in (shortest, longest):
            for point, at in zip(task.points[1:-1], path.points[1:-1], strict=True):
                assert contains(point.zone, point.place.position, at, tolerance_m=1e-3), (n, point.zone.text)
        above = shortest.length_m - search(course, 1, n)
        below = search(course, -1, n) - longest.length_m
        if above > 0.01 or below > 0.01:
            print(f"task {n}: minimum {above:+.4f} m, maximum {below:+.4f} m", [a.text for a in course.areas])
        worst_minimum, worst_maximum = max(worst_minimum, above), max(worst_maximum, below)
        if n % 50 == 49:
            print(f"{n + 1} tasks: minimum at most {worst_minimum:+.5f} m above the best found elsewhere,", end=" ")
            print(f"maximum at most {worst_maximum:+.5f} m below", flush=True)


if __name__ == "__main__":
    told(figures())
    truth(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
