"""Area extremes: how fast against a floor of the same run, and how close to an independent global search.

Run: python tests/benchmarks/extremes.py [TASKS]     (300 random tasks unless told otherwise; 0 for speed alone)
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))


from taskdb.core.course.contains import contains
from taskdb.core.course.extremes import longest_path, shortest_path, shortest_touching_path
from tests import building
from tests.reference.global_search import GEOD, Course, random_course, search
from tests.reference.test_extremes_global_search import as_task


def of_areas(count: int, dice: np.random.Generator) -> Course:
    while True:
        course = random_course(dice)
        if len(course.areas) == count:
            return course


def milliseconds(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return 1000 * (time.perf_counter() - begun)


def speed() -> None:
    dice = np.random.default_rng(7)
    points = np.random.default_rng(1).uniform(-60, 60, (4, 100_000))
    floor = statistics.median(milliseconds(lambda: GEOD.inv(*points)) for _ in range(5))
    print(f"floor: 100,000 geodesics by pyproj, vectorised: {floor:.1f} ms")
    tasks = [as_task(of_areas(4, dice)) for _ in range(40)]
    for task in tasks[:3]:
        shortest_path(task), longest_path(task), shortest_touching_path(task)
    both = []
    for name, work in (("minimum", shortest_path), ("maximum", longest_path), ("touching", shortest_touching_path)):
        times = [milliseconds(lambda task=task, work=work: work(task)) for task in tasks]
        both.append(times)
        print(f"{name:9} of 4 areas: median {statistics.median(times):.1f} ms, worst {max(times):.1f} ms")
    sums = [a + b for a, b in zip(both[0], both[1], strict=True)]
    median = statistics.median(sums)
    print(f"both of 4 areas: median {median:.1f} ms, worst {max(sums):.1f} ms, ratio to the floor {median / floor:.2f}")


def long_courses() -> None:
    """Courses of 4, 46 and 100 cylinders, 10 km apart: not overlapping, with their neighbours, and all round them."""
    for radius in ("3km", "6km", "20km"):
        times = []
        for count in (4, 46, 100):
            dice = np.random.default_rng(1)
            steps = np.cumsum(dice.uniform(-0.1, 0.1, (count, 2)), axis=0)
            task = building.task(*(((46 + a, 8 + b), f"cylinder {radius}") for a, b in steps))
            times.append(milliseconds(lambda task=task: shortest_touching_path(task)))
        print(
            f"touching, cylinders of {radius}: 4 points {times[0]:.0f} ms, 46 {times[1]:.0f} ms, 100 {times[2]:.0f} ms"
        )


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
    speed()
    long_courses()
    truth(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
