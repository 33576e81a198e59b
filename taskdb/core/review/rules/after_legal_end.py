"""Review rule `after-legal-end`: the last are expected home after the legal end of the flying day, or just before."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

from taskdb.core.course.day import DaySheet
from taskdb.core.course.schedule import Extent, minutes_of
from taskdb.core.model import Severity, Task, TaskType
from taskdb.core.review.rule import Draft, Reviewed, Rule

_RULES = {
    "sunset": "sunset",
    "sunset+30min": "30 minutes after sunset",
    "civil-dusk": "the end of civil dusk",
}


def check(given: Reviewed) -> Iterator[Draft]:
    """The last are expected home after the legal end of the flying day, or hardly before it.

    What: the last expected finish against the legal end that the contest sets (sunset where it sets nothing), with the
    sun's times at the site on the date. An error where even a flight at the planned speed that starts when the start
    opens is not home in time, a warning where the last are not, a note where less than half an hour is left.

    Why it matters: whoever is late lands by law before he is home, and hurries in bad light.

    How to mend: a shorter task, an earlier start (`contest day NAME N --start-opens 12:30`), a shorter time.

    Trap: the last start is when the start closes, or an hour after it opens where that is not set (common practice, no
    source); the slowest speed is that of the class. Which end of day the law gives differs between countries: set it.

    Example: The last are expected at 20:57, 12 minutes after the legal end of the day at 20:45 (sunset).
    """
    day = given.day
    end = day.legal_end_at if day is not None else None
    if day is None or end is None or day.timezone is None or day.date is None:
        return
    finish = day.last_finish
    last = None if finish is None or finish.at_minutes is None else _moment(day, end, finish.at_minutes)
    first = _planned(given.task, day, end)
    rule = _RULES[day.legal_end.value]
    tail = f"the legal end of the day at {end:%H:%M} ({rule})."
    evidence = {
        "legal_end": end.replace(microsecond=0).isoformat(),
        "rule": day.legal_end.value,
        "rule_from": "contest" if day.legal_end_is_set else "default",
        "last_finish": None if finish is None else finish.at(),
        "basis": None if finish is None else finish.basis,
    }
    read = (day.legal_end.value, day.date, evidence["legal_end"], evidence["last_finish"])
    if first is not None and first > end:
        told = (
            f"Started when the start opens and flown at the planned speed, the task ends at {first:%H:%M}, after {tail}"
        )
        yield Draft(Severity.ERROR, (), told, evidence, (*read, f"{first:%H:%M}"))
    elif last is not None and last > end:
        told = f"The last are expected at {last:%H:%M}, {_minutes(last - end)} after {tail}"
        yield Draft(Severity.WARNING, (), told, evidence, read)
    elif last is not None and end - last < datetime.timedelta(seconds=given.limits.least_daylight_s):
        told = f"The last are expected at {last:%H:%M}, only {_minutes(end - last)} before {tail}"
        yield Draft(Severity.NOTE, (), told, evidence, read)


def _moment(day: DaySheet, end: datetime.datetime, minutes: float) -> datetime.datetime:
    """Return the local moment so many minutes after midnight of the day, by the clock on the wall."""
    midnight = datetime.datetime.combine(datetime.date.fromisoformat(day.date or ""), datetime.time(), end.tzinfo)
    return midnight + datetime.timedelta(minutes=minutes)


def _planned(task: Task, day: DaySheet, end: datetime.datetime) -> datetime.datetime | None:
    """Return when a flight at the planned speed, or in the task's own time, is home that starts at the opening."""
    flight = day.flight(Extent.TASK)
    flown = flight.time_s if flight is not None else None
    if task.time_s is not None and (flown is None or task.type in (TaskType.ASSIGNED_AREA, TaskType.MODIFIED)):
        flown = float(task.time_s)
    if flown is None or day.start_opens is None:
        return None
    return _moment(day, end, minutes_of(day.start_opens) + flown / 60)


def _minutes(gap: datetime.timedelta) -> str:
    minutes = round(gap.total_seconds() / 60)
    return f"{minutes} minute{'' if minutes == 1 else 's'}"


RULE = Rule("after-legal-end", "The last are expected home after the legal end of the day, or hardly before.", check)
