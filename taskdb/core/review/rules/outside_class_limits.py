"""Review rule `outside-class-limits`: the task is shorter, or lasts less or more, than its class is to fly."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.model import Severity
from taskdb.core.quantities import format_distance
from taskdb.core.review.rule import Draft, Reviewed, Rule, to_the_minute


def check(given: Reviewed) -> Iterator[Draft]:
    """The task is shorter than its class's minimum distance, or lasts less or more than a task of the class may.

    What: the minimum distance of an area task, else the task distance, against `minimum_distance_m`; the minimum or
    expected time against `shortest_task_s` and `longest_task_s`. Each is asked for only where it is set, for the
    contest, the class or the day.

    Why it matters: a day below the minimum distance may not count, and a class that is out too long lands out late.

    How to mend: another distance or time; or other limits (`contest limits NAME --class C --minimum-distance 120km
    --shortest-task 2:00 --longest-task 4:30`).

    Trap: without a time and a planned speed nothing is held against the times.

    Example: The task distance of 98.4 km is below the 120.0 km that a task is to have at least.
    """
    limits, distances, time = given.limits, given.course.distances, given.course.time
    is_area = time.kind == "minimum" and distances.minimum_m is not None
    metres = distances.minimum_m if is_area and distances.minimum_m is not None else distances.task_m
    least = limits.minimum_distance_m
    if least is not None and metres < least - 0.05:
        what = "minimum" if is_area else "task"
        told = f"The {what} distance of {format_distance(metres)} is below the {format_distance(least)} "
        told += "that a task is to have at least."
        yield Draft(
            Severity.WARNING, (), told, {"distance_m": round(metres, 3), "minimum_distance_m": least}, (metres, least)
        )
    if time.time_s is None:
        return
    period = (("shorter", "at least", limits.shortest_task_s, -1), ("longer", "at most", limits.longest_task_s, 1))
    for how, end, limit_s, sign in period:
        if limit_s is not None and (time.time_s - limit_s) * sign > 30:
            flown, limit = to_the_minute(time.time_s), to_the_minute(limit_s)
            told = f"The {time.kind} time of {flown} is {how} than the {limit} that a task is to last {end}."
            evidence = {"time_s": time.time_s, "time_kind": time.kind, "limit_s": limit_s}
            yield Draft(Severity.WARNING, (), told, evidence, (how, time.time_s, limit_s))


RULE = Rule("outside-class-limits", "The task is too short, or lasts too short or too long, for its class.", check)
