"""Ten tasks of one day against each other, ratio to F: the time of 100,000 vectorised geodesics in the same run.

    python -m tests.benchmarks.day_together

Ten classes over twelve invented turn points round one field, racing tasks and areas; what is measured is the search for
meetings of all 45 pairs, then one `OfDay` look's worth of computing. Prints, never passes or fails.
"""

from __future__ import annotations

import random

from taskdb.core.course.day import DaySheet, LastFinish
from taskdb.core.course.measure import measure_course
from taskdb.core.course.schedule import timetables
from taskdb.core.course.wind import Air, SpeedRange
from taskdb.core.geodesy import destination
from taskdb.core.judgement.meeting import DayTask, Meeting
from taskdb.core.judgement.presence import presences
from taskdb.core.judgement.together import meetings
from taskdb.core.kinds import LegalEnd
from taskdb.core.model import Position, TaskType
from taskdb.core.quantities import Wind
from tests import building
from tests.benchmarks.figures import F, Figure, geodesics_s, median_s, told

HOME, SEED, RUNS = Position.at(48.9, 11.8), 20271203, 3


def day_task(draw: random.Random, number: int, kind: TaskType, turns: list[Position]) -> DayTask:
    zone = "area 15km" if kind is TaskType.ASSIGNED_AREA else "cylinder 500m"
    chosen = draw.sample(turns, draw.choice([2, 3, 4]))
    stops = [(HOME, "line 5km"), *((turn, zone) for turn in chosen), (HOME, "cylinder 3km")]
    made = building.task(*stops, type=kind, name=f"T{number}", class_name=f"Class {number}", time_s=9000)
    course, air, speeds = measure_course(made), Air(95.0, Wind(240, 20)), SpeedRange(70.0, 130.0, "class")
    opens = f"{12 + draw.randint(0, 1)}:{draw.choice(['00', '20', '40'])}"
    last = LastFinish(f"{int(opens[:2]) + 1}{opens[2:]}", 9000.0, 900.0, 70.0, "example")
    sheet = DaySheet(
        "2027-05-14", "Europe/Berlin", opens, air, air.wind, timetables(made, course, air), last, None,
        LegalEnd.SUNSET, False, (), (), (),
    )  # fmt: skip
    return DayTask(made.name, made.name, made, presences(made, course, sheet, speeds))


def met(tasks: list[DayTask]) -> list[Meeting]:
    """Return the meetings of all pairs."""
    return [
        meeting
        for n, one in enumerate(tasks)
        for other in tasks[n + 1 :]
        for meeting in meetings(one, other, 1000.0, 600.0)
    ]


def figures() -> list[Figure]:
    draw = random.Random(SEED)
    turns = [destination(HOME, draw.uniform(0, 360), draw.uniform(25, 90) * 1000) for _ in range(12)]
    floor, made = geodesics_s(), []
    for kind in (TaskType.RACING, TaskType.ASSIGNED_AREA):
        tasks = [day_task(draw, n, kind, turns) for n in range(10)]
        found = len(met(tasks))
        taken = median_s(lambda: met(tasks), RUNS)  # noqa: B023
        made.append(Figure(f"all pairs of ten {kind.value} tasks of a day ({found} meetings)", taken, "s", F, floor))
    return made


if __name__ == "__main__":
    told(figures())
