"""Extremes of area tasks against an independent global search (see global_search.py), on forty random tasks.

The search knows nothing of edges and basins; it can only fail to find the best, so the check is one-sided. What the
package reports is itself measured again with geographiclib, and must lie in its zones by a test of its own.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from taskdb.core.course.extremes import Path, longest_path, shortest_path
from taskdb.core.model import Position, Task, TaskType
from tests import building
from tests.reference.global_search import Area, Course, random_course, search

TASKS = 40
IN_EVERY_RUN = range(5)
WITHIN_M = 0.1


def as_task(course: Course) -> Task:
    """Return the random course as a task of the package."""
    line = "line 1km 0"
    areas = [((area.latitude, area.longitude), area.text) for area in course.areas]
    return building.task((course.start, line), *areas, (course.finish, line), type=TaskType.ASSIGNED_AREA)


def measured_m(path: Path) -> float:
    pairs = pairwise(path.points)
    return sum(
        Geodesic.WGS84.Inverse(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg)["s12"]
        for a, b in pairs
    )


def is_in(area: Area, at: Position) -> bool:
    line = Geodesic.WGS84.Inverse(area.latitude, area.longitude, at.latitude_deg, at.longitude_deg)
    away, slack_m = line["s12"], 1e-3
    if away <= area.core + slack_m and area.core:
        return True
    aside_deg = np.degrees(slack_m / max(away, slack_m))
    into = (line["azi1"] - area.start + aside_deg) % 360 - aside_deg
    is_on_bearing = area.width >= 360 or into <= area.width + aside_deg or away <= slack_m
    return bool(area.inner - slack_m <= away <= area.outer + slack_m and is_on_bearing)


@pytest.mark.parametrize(
    "number",
    [pytest.param(number, marks=[] if number in IN_EVERY_RUN else [pytest.mark.slow]) for number in range(TASKS)],
)
def test_no_search_finds_a_shorter_minimum_or_a_longer_maximum(number: int) -> None:
    course = random_course(np.random.default_rng(number))
    task = as_task(course)
    shortest, longest = shortest_path(task), longest_path(task)
    for path in (shortest, longest):
        assert measured_m(path) == pytest.approx(path.length_m, abs=1e-5)
        assert all(is_in(area, at) for area, at in zip(course.areas, path.points[1:-1], strict=True))
    assert shortest.length_m <= search(course, 1, number) + WITHIN_M
    assert longest.length_m >= search(course, -1, number) - WITHIN_M
