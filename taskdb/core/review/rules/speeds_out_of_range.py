"""Review rule `speeds-out-of-range`: the task asks for speeds that nobody in the contest flies."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from taskdb.core.course.schedule import Extent, Timetable, flight_over
from taskdb.core.course.wind import CALM, Air
from taskdb.core.judgement.suited import NEAR_S, Suited, suited_speeds
from taskdb.core.model import Severity
from taskdb.core.quantities import Wind, format_distance, format_wind
from taskdb.core.review.rule import Draft, Reviewed, Rule, to_the_minute

NEAR_PERCENT = 0.05
"""Shares are told to a tenth of a percent: what is as near as this is met."""


def check(given: Reviewed) -> Iterator[Draft]:
    """The task's time asks for speeds outside those that the contest expects, in the wind of the day.

    What: a racing or declared task whose expected time is longer than the slowest of its class need for the task
    distance, or shorter than the fastest do. An area or modified task whose minimum time is too short for the slowest
    over the minimum distance, or so long that the fastest reach the maximum distance before it is over. Where the
    contest sets `least_finishers_time_percent` the minimum time is held against all speeds of the class: a speed is
    suited that needs at most the minimum time for the minimum distance and at least it for the maximum. Suited speeds
    are to be at least that share of the range from the slowest to the fastest; then what is left out is a note.

    Why it matters: the slowest cannot get round, or the fastest have nowhere left to go.

    How to mend: another time (`task edit NAME --time 3:30`), other areas (`task fit NAME` finds their radii, or the
    time that would do), or other points. If the speeds themselves are wrong, set the class's slowest and fastest speed
    in the contest.

    Trap: speeds are averages achieved in still air, flown in the wind of the contest's day as the day sheet does;
    without a wind in calm air. A wind slows more on the leg against it than it helps on the way back.

    Example: The slowest of class Club (60 km/h on average in still air, wind 240°/15 kt) need 3:52 for the minimum
    distance of 212.0 km; the minimum time is 3:00.
    """
    if given.speeds is None or given.course.time.time_s is None:
        return
    if given.course.time.kind == "expected":
        yield from _expected(given)
    else:
        yield from _minimum(given)


def _suited(given: Reviewed) -> Suited | None:
    """Return which of the class's speeds the minimum time suits; None where one of its ends is not known."""
    speeds, time_s, distances = given.speeds, given.course.time.time_s, given.course.distances
    if speeds is None or not speeds.slowest_kmh or not speeds.fastest_kmh or time_s is None:
        return None
    if not distances.minimum_m or distances.minimum_at is None or speeds.slowest_kmh > speeds.fastest_kmh:
        return None
    ends = (speeds.slowest_kmh, speeds.fastest_kmh)
    return suited_speeds(given.task, distances.minimum_at, distances.maximum_at, _wind(given) or CALM, time_s, ends)


def _wind(given: Reviewed) -> Wind | None:
    return given.day.wind if given.day is not None else None


def _flown(given: Reviewed, speed_kmh: float | None, extent: Extent) -> Timetable | None:
    if not speed_kmh:
        return None
    return flight_over(given.task, given.course, Air(speed_kmh, _wind(given) or CALM), extent)


def _air(given: Reviewed, speed_kmh: float | None) -> str:
    wind = _wind(given)
    return f"{speed_kmh:.0f} km/h on average in still air" + ("" if wind is None else f", wind {format_wind(wind)}")


def _minimum(given: Reviewed) -> Iterator[Draft]:
    least, suited = given.limits.least_finishers_time_percent, _suited(given)
    if least is not None and suited is not None:
        if suited.share * 100 < least - NEAR_PERCENT:
            yield _too_few(given, suited, least)
            return
        yield from (replace(draft, severity=Severity.NOTE) for draft in _ends(given))
        return
    yield from _ends(given)


def _too_few(given: Reviewed, suited: Suited, least: float) -> Draft:
    speeds, distances, wind = given.speeds, given.course.distances, _wind(given)
    assert speeds is not None
    range_kmh = (speeds.slowest_kmh, speeds.fastest_kmh)
    which = "none" if suited.from_kmh is None else f"{suited.share * 100:.0f} %"
    told = (
        f"The minimum time of {to_the_minute(given.course.time.time_s or 0)} suits {which} of the speeds of "
        f"{speeds.whose} ({range_kmh[0]:.0f} to {_air(given, range_kmh[1])})"
    )
    told += "" if suited.from_kmh is None else f": those from {suited.from_kmh:.0f} to {suited.to_kmh:.0f} km/h"
    evidence = {
        "suited_percent": round(suited.share * 100, 1),
        "least_percent": least,
        "suited_kmh": None if suited.from_kmh is None else [round(suited.from_kmh, 2), round(suited.to_kmh or 0, 2)],
        "slowest_kmh": range_kmh[0],
        "fastest_kmh": range_kmh[1],
        "time_s": given.course.time.time_s,
        "wind": None if wind is None else {"from_deg": wind.from_deg, "speed_kmh": round(wind.speed_kmh, 4)},
    }
    air = None if wind is None else (wind.from_deg, wind.speed_kmh)
    read = ("suited", given.course.time.time_s, distances.minimum_m, distances.maximum_m, *range_kmh, air, least)
    return Draft(Severity.WARNING, (), f"{told}. The contest asks for at least {least:g} %.", evidence, read)


def _ends(given: Reviewed) -> Iterator[Draft]:
    """Yield where the slowest need more than the minimum time, and where the fastest fly out of the areas before it."""
    speeds, time_s, distances = given.speeds, given.course.time.time_s, given.course.distances
    if speeds is None or time_s is None:
        return
    slow = _flown(given, speeds.slowest_kmh, Extent.MINIMUM)
    if slow is not None and distances.minimum_m:
        who = f"The slowest of {speeds.whose} ({_air(given, speeds.slowest_kmh)})"
        far = f"the minimum distance of {format_distance(distances.minimum_m)}"
        if slow.time_s is None:
            yield _draft(given, f"{who} cannot fly {far}: {_reason(slow)}.", slow)
        elif slow.time_s > time_s + NEAR_S:
            told = f"{who} need {to_the_minute(slow.time_s)} for {far}; the minimum time is {to_the_minute(time_s)}."
            yield _draft(given, told, slow)
    fast = _flown(given, speeds.fastest_kmh, Extent.MAXIMUM)
    if fast is not None and fast.time_s is not None and distances.maximum_m and fast.time_s < time_s - NEAR_S:
        yield _draft(
            given,
            f"The fastest of {speeds.whose} ({_air(given, speeds.fastest_kmh)}) fly the maximum distance of "
            f"{format_distance(distances.maximum_m)} in {to_the_minute(fast.time_s)}, before the minimum time of "
            f"{to_the_minute(time_s)} is over.",
            fast,
            "maximum",
        )


def _expected(given: Reviewed) -> Iterator[Draft]:
    speeds, time_s, task_m = given.speeds, given.course.time.time_s, given.course.distances.task_m
    if speeds is None or time_s is None or not task_m:
        return
    said = (
        f"The expected time of {to_the_minute(time_s)} for the task distance of {format_distance(task_m)} asks for "
        f"{task_m * 3.6 / time_s:.0f} km/h over the ground"
    )
    slow = _flown(given, speeds.slowest_kmh, Extent.TASK)
    if slow is not None and slow.time_s is not None and time_s > slow.time_s + NEAR_S:
        who = f"slower than the slowest of {speeds.whose} ({_air(given, speeds.slowest_kmh)})"
        yield _draft(given, f"{said}, {who}, who need {to_the_minute(slow.time_s)}.", slow)
    fast = _flown(given, speeds.fastest_kmh, Extent.TASK)
    if fast is not None and fast.time_s is not None and time_s < fast.time_s - NEAR_S:
        who = f"faster than the fastest of {speeds.whose} ({_air(given, speeds.fastest_kmh)})"
        yield _draft(given, f"{said}, {who}, who need {to_the_minute(fast.time_s)}.", fast)


def _reason(flight: Timetable) -> str:
    return next((leg.reason for leg in flight.legs if leg.reason is not None), "it leads nowhere")


def _draft(given: Reviewed, told: str, flight: Timetable, distance: str | None = None) -> Draft:
    speeds, time, wind = given.speeds, given.course.time, _wind(given)
    distances = given.course.distances
    is_minimum = time.kind == "minimum"
    distance = distance or ("minimum" if is_minimum else "task")
    metres = {"minimum": distances.minimum_m, "task": distances.task_m, "maximum": distances.maximum_m}[distance]
    evidence = {
        "distance": distance,
        "speed_kmh": None if not metres or not time.time_s else round(metres * 3.6 / time.time_s, 4),
        "time_s": time.time_s,
        "time_kind": time.kind,
        "needed_s": None if flight.time_s is None else round(flight.time_s, 1),
        "slowest_kmh": None if speeds is None else speeds.slowest_kmh,
        "fastest_kmh": None if speeds is None else speeds.fastest_kmh,
        "wind": None if wind is None else {"from_deg": wind.from_deg, "speed_kmh": round(wind.speed_kmh, 4)},
    }
    air = None if wind is None else (wind.from_deg, wind.speed_kmh)
    read = (distance, time.time_s, metres, evidence["slowest_kmh"], evidence["fastest_kmh"], air)
    return Draft(Severity.WARNING, (), told, evidence, read)


RULE = Rule("speeds-out-of-range", "The time asks for speeds outside those that the contest expects.", check)
