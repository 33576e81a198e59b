"""Tasks in words for tests of the review: an invented region, the day, and what else a rule may know."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

from taskdb.core.course.day import DaySheet, LastFinish, SunTimes
from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.course.measure import measure_course
from taskdb.core.course.schedule import clock_after, timetables
from taskdb.core.course.wind import Air
from taskdb.core.geodesy import destination
from taskdb.core.judgement.glare import SunPosition
from taskdb.core.judgement.meeting import DayTask
from taskdb.core.judgement.presence import presences
from taskdb.core.judgement.together import meetings
from taskdb.core.kinds import LegalEnd
from taskdb.core.model import (
    Finding,
    Position,
    Severity,
    Task,
    TaskType,
)
from taskdb.core.quantities import Wind
from taskdb.core.review.limits import Limits
from taskdb.core.review.rule import Reviewed, SavedTask, SpeedRange
from tests import building

HOME = Position.at(50.0, 10.0)


def off(km: float, bearing: float, of: Position = HOME) -> Position:
    place = destination(of, bearing, km * 1000)
    return Position.at(place.latitude_deg, place.longitude_deg)


# An invented region round HOME: codes say how far (km) and in which direction.
PLACES = {
    "HOME": HOME,
    "HOM2": off(0.4, 200),
    "E60": off(60, 90),
    "N60": off(60, 0),
    "E8": off(8, 90),
    "E4": off(4, 90),
    "E67": off(67, 90),
    "E64": off(64, 92),
    "N58": off(58, 3),
    "S30": off(30, 180),
    "W40": off(40, 270),
    "NE40": off(40, 45),
}
E, W, N = Severity.ERROR, Severity.WARNING, Severity.NOTE


def task(words: str, kind: str = "racing", **fields: Any) -> Task:
    """Build a task from `CODE zone words; CODE zone words; …`."""
    parts = [part.strip().partition(" ") for part in words.split(";")]
    stops = [(building.place(PLACES[code], code, identity=code), zone) for code, _, zone in parts]
    return building.task(*stops, type=TaskType(kind), **fields)


def reviewed(words: str, kind: str = "racing", given: dict[str, Any] | None = None, **fields: Any) -> Reviewed:
    made = task(words, kind, **fields)
    return Reviewed(made, measure_course(made), fingerprint(made), **(given or {}))


def day(
    made: Task,
    last: str | None = None,
    *,
    opens: str | None = "13:00",
    rule: LegalEnd = LegalEnd.SUNSET,
    air: Air | None = None,
    timezone: str | None = "Europe/Berlin",
    sunset: bool = True,
) -> DaySheet:
    """A day on which the sun sets at 20:45 summer time and civil dusk ends at 21:24."""
    zone = datetime.timezone(datetime.timedelta(hours=2))
    evening = datetime.datetime(2027, 5, 14, 20, 45, tzinfo=zone)
    sun = SunTimes("2027-05-14", None, evening, evening + datetime.timedelta(minutes=39)) if sunset else None
    finish = None
    if last is not None:
        hours, minutes = last.split(":")
        finish = LastFinish("14:00", 3600.0, int(hours) * 60 + int(minutes), 60.0, "an example")
    flights = timetables(made, measure_course(made), air) if air is not None else ()
    return DaySheet(
        "2027-05-14", timezone, opens, air, air.wind if air else None, flights, finish, sun, rule, False, (), (), ()
    )


def setting_sun(minutes: float) -> SunPosition:
    """An invented afternoon: 15° to the west and 10° down in an hour; due west and 10° high at 18:00."""
    return SunPosition((270 + (minutes - 1080) / 4) % 360, 10 - (minutes - 1080) / 6)


def finding(code: str, severity: Severity, **more: Any) -> Finding:
    return Finding("1f0c93ab27", "typing-slip", severity, (code,), "Minutes 17 look like 71.", {}, **more)


ROUND = "HOME line 1km; E60 cylinder 500m; N60 cylinder 500m; HOME line 1km"
AREAS = "HOME line 1km; E60 area 20km; N60 area 20km; HOME line 1km"
CLUB = SpeedRange(60.0, 110.0, "class Club")


@dataclass
class Case:
    """What is reviewed is made when the case is tried: collecting the tests measures nothing."""

    rule: str
    why: str
    given: Callable[[], Reviewed]
    found: list[tuple[Severity, tuple[str, ...]]] = field(default_factory=list)
    says: str = ""


def other(words: str, kind: str = "racing", label: str = "Cup:B", **fields: Any) -> dict[str, Any]:
    made = task(words, kind, **fields)
    return {"others": (SavedTask(label, made, fingerprint(made)),)}


def near(km: float, *, zone: str = "sector 90deg", legs: int = 2) -> str:
    """A declared course of this length, out and back or round a triangle of equal sides, as words."""
    if legs == 2:
        PLACES[f"OUT{km}"] = off(km / 2, 70)
        return f"HOME line 1km; OUT{km} {zone}; HOME line 1km"
    PLACES[f"ONE{km}"] = off(km / 3, 40)
    PLACES[f"TWO{km}"] = off(km / 3, 100)
    # Two cylinders at the turns take 0.5 km off four times; the course by centres is longer by as much.
    length = measure_course(task(f"HOME line 1km; ONE{km} {zone}; TWO{km} {zone}; HOME line 1km", "declared"))
    factor = (km * 1000 + 2000) / length.distances.centres_m
    PLACES[f"ONE{km}"] = off(km / 3 * factor, 40)
    PLACES[f"TWO{km}"] = off(km / 3 * factor, 100)
    return f"HOME line 1km; ONE{km} {zone}; TWO{km} {zone}; HOME line 1km"


def beside(
    words: str,
    other_words: str,
    opens: tuple[str | None, str | None] = ("13:00", "13:00"),
    kinds: tuple[str, str] = ("racing", "racing"),
    limits: Limits | None = None,
) -> Reviewed:
    """The first of two tasks of one day, class Club and class Open, both at 100 km/h and started within an hour."""
    limits = limits or Limits()
    of_day = []
    for one, who, at, kind in zip((words, other_words), ("Club", "Open"), opens, kinds, strict=True):
        made = task(one, kind, name=who[0], class_name=who, time_s=7200 if kind == "assigned-area" else None)
        sheet = day(made, "18:00", opens=at, air=Air(100))
        if at is not None and sheet.last_finish is not None:
            sheet = replace(sheet, last_finish=replace(sheet.last_finish, last_start=clock_after(at, 3600)))
        ways = presences(made, measure_course(made), sheet, None)
        of_day.append(DayTask(made.name, f"{who} ({made.name})", made, ways))
    found = meetings(*of_day, limits.separation_m, limits.separation_s)
    own = of_day[0].task
    return Reviewed(own, measure_course(own), fingerprint(own), limits=limits, meetings=found)


def later(make: Callable[..., Reviewed]) -> Callable[..., Callable[[], Reviewed]]:
    """Return the function for a `Case`: it takes the same and promises the result."""
    return partial(partial, make)


def triangle(shortest_percent: float) -> str:
    """A triangle at HOME whose shortest side has this share: two equal sides, the opening halved down to it."""
    low, high = 5.0, 60.0
    one, two = f"TRI{shortest_percent:g}", f"ANGLE{shortest_percent:g}"
    for _ in range(40):
        opening = (low + high) / 2
        PLACES[one], PLACES[two] = off(70, 20), off(70, 20 + opening)
        words = f"HOME line 1km; {one} sector 90deg; {two} sector 90deg; HOME line 1km"
        if min(measure_course(task(words, "declared"), extremes=False).shape.side_percent) < shortest_percent:
            low = opening
        else:
            high = opening
    return words


ROUND_TASK, AREAS_TASK = task(ROUND), task(AREAS, "assigned-area", time_s=3 * 3600)
SLOW = Air(60, Wind(270, 62))
CODES = ("HOME", "E60", "N60")
BIG_RING = "HOME cylinder 10km; {} cylinder 500m; N60 cylinder 500m; HOME cylinder 3km"
DECLARED = "HOME line 1km; {} {z}; {} {z}; HOME line 1km"
SHARP = "sector 90deg"
