"""Review rule `speeds-out-of-range`: the task asks for speeds that nobody in the contest flies."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.model import Severity
from taskdb.core.quantities import format_distance, format_duration
from taskdb.core.review.rule import Draft, Reviewed, Rule


def check(given: Reviewed) -> Iterator[Draft]:
    """The task's time asks for speeds outside those that the contest expects.

    What: a racing or declared task whose task distance in its expected time needs a speed below the slowest or above
    the fastest of its class. An area or modified task whose minimum time is too short for the slowest over the minimum
    distance, or so long that the fastest reach the maximum distance before it is over.

    Why it matters: the slowest cannot get round, or the fastest have nowhere left to go.

    How to mend: another time (`task edit NAME --time 3:30`), other areas, or other points. If the speeds themselves
    are wrong, set the class's slowest and fastest speed in the contest.

    Trap: speeds are over the ground. On a windy day slow gliders lose more than the still-air numbers say.

    Example: The slowest of class Club (60 km/h) need 3:32 for the minimum distance of 212.0 km; the minimum time is
    3:00.
    """
    time, speeds = given.course.time, given.speeds
    if speeds is None or time.time_s is None:
        return
    if time.kind == "expected":
        yield from _expected(given)
        return
    minimum, maximum = given.course.distances.minimum_m, given.course.distances.maximum_m
    if speeds.slowest_kmh and minimum and time.minimum_kmh is not None and time.minimum_kmh > speeds.slowest_kmh:
        need = format_duration(round(minimum * 3.6 / speeds.slowest_kmh / 60) * 60)
        yield _draft(
            given,
            f"The slowest of {speeds.whose} ({speeds.slowest_kmh:.0f} km/h) need {need} for the minimum distance of "
            f"{format_distance(minimum)}; the minimum time is {format_duration(time.time_s)}.",
            "minimum",
            time.minimum_kmh,
        )
    if speeds.fastest_kmh and maximum and time.maximum_kmh is not None and time.maximum_kmh < speeds.fastest_kmh:
        need = format_duration(round(maximum * 3.6 / speeds.fastest_kmh / 60) * 60)
        yield _draft(
            given,
            f"The fastest of {speeds.whose} ({speeds.fastest_kmh:.0f} km/h) fly the maximum distance of "
            f"{format_distance(maximum)} in {need}, before the minimum time of {format_duration(time.time_s)} is over.",
            "maximum",
            time.maximum_kmh,
        )


def _expected(given: Reviewed) -> Iterator[Draft]:
    time, speeds = given.course.time, given.speeds
    if speeds is None or time.task_kmh is None or time.time_s is None:
        return
    expected = format_duration(round(time.time_s / 60) * 60)
    said = f"The task distance in the expected time of {expected} is {time.task_kmh:.0f} km/h"
    if speeds.slowest_kmh and time.task_kmh < speeds.slowest_kmh:
        told = f"{said}, slower than the slowest of {speeds.whose} ({speeds.slowest_kmh:.0f} km/h)."
        yield _draft(given, told, "task", time.task_kmh)
    if speeds.fastest_kmh and time.task_kmh > speeds.fastest_kmh:
        told = f"{said}, faster than the fastest of {speeds.whose} ({speeds.fastest_kmh:.0f} km/h)."
        yield _draft(given, told, "task", time.task_kmh)


def _draft(given: Reviewed, told: str, distance: str, speed_kmh: float) -> Draft:
    speeds, time = given.speeds, given.course.time
    evidence = {
        "distance": distance,
        "speed_kmh": round(speed_kmh, 4),
        "time_s": time.time_s,
        "time_kind": time.kind,
        "slowest_kmh": None if speeds is None else speeds.slowest_kmh,
        "fastest_kmh": None if speeds is None else speeds.fastest_kmh,
    }
    read = (distance, speed_kmh, evidence["slowest_kmh"], evidence["fastest_kmh"])
    return Draft(Severity.WARNING, (), told, evidence, read)


RULE = Rule("speeds-out-of-range", "The time asks for speeds outside those that the contest expects.", check)
