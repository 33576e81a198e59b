"""What the sheet says of the day: sun, legal end, wind, times over the points, the last finish, magnetic north.

Sentences for people from plain values; where nothing is known of the day, nothing is said.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from taskdb.core.course.day import DaySheet
from taskdb.core.course.schedule import Extent, Timetable
from taskdb.core.kinds import LegalEnd
from taskdb.core.quantities import format_bearing, format_wind
from taskdb.report.lettering import shown

_RULE_WORDS = {
    LegalEnd.SUNSET: "sunset",
    LegalEnd.SUNSET_30: "30 minutes after sunset",
    LegalEnd.CIVIL_DUSK: "the end of civil dusk",
}


def magnetic_cells(courses_deg: Sequence[float | None]) -> list[str]:
    """Return the magnetic course to each point, `063°`, empty at the start; no cells where none is known."""
    if all(magnetic is None for magnetic in courses_deg):
        return []
    return ["", *("" if magnetic is None else f"{format_bearing(magnetic)}°" for magnetic in courses_deg)]


def day_sentences(day: DaySheet | None) -> tuple[str, ...]:
    """Return what is known of the day; the last sentence says what these times are not."""
    if day is None:
        return ()
    said = [*_sun(day), *_times(day)]
    if any(magnetic is not None for magnetic in day.magnetic_deg):
        said.append(f"Magnetic courses from {day.declinations[0].model}, where the leg begins.")
    said += [f"{note[0].upper()}{note[1:]}." for note in day.notes if note.startswith(("no magnetic", "leg "))]
    if day.sun is not None or day.timetables:
        said.append("Times are a planning aid: they know no weather.")
    return tuple(shown(sentence, 400) for sentence in said)


def _clock(moment: datetime.datetime) -> str:
    return f"{moment:%H:%M}"


def _sun(day: DaySheet) -> list[str]:
    if day.sun is None:
        return []
    parts = (("rises", day.sun.sunrise), ("sets", day.sun.sunset), ("civil dusk", day.sun.civil_dusk))
    times = ", ".join(f"{what} {_clock(moment)}" for what, moment in parts if moment is not None)
    if not times:
        return [f"On {day.date} the sun neither rises nor sets."]
    end = day.legal_end_at
    legal = ""
    if end is not None:
        origin = "" if day.legal_end_is_set else ", the default"
        legal = f" The flying day ends {_clock(end)} ({_RULE_WORDS[day.legal_end]}{origin})."
    return [f"Sun on {day.date}: {times} ({day.timezone or 'UTC'}).{legal}"]


def _times(day: DaySheet) -> list[str]:
    said = []
    wind = "calm air" if day.wind is None else f"wind {format_wind(day.wind)}"
    flight = day.flight(Extent.TASK)
    if day.air is not None and flight is not None and flight.time_s is not None:
        said.append(
            f"At {day.air.speed_kmh:.0f} km/h on average in still air{_whose(day)}, {wind}, over the points of the "
            f"task distance: {_over(day, flight)}."
        )
    finish = day.last_finish
    if finish is not None and finish.at() is not None:
        said.append(f"Last expected finish {finish.at()}: {finish.basis}.")
    return said


def _whose(day: DaySheet) -> str:
    return "" if day.speed_from is None else f" (the speed of {shown(day.speed_from, 80)})"


def _over(day: DaySheet, flight: Timetable) -> str:
    """Return the time over each point after the start: by the clock, else in hours and minutes from the start."""
    parts = []
    for number, (after, at) in enumerate(zip(flight.after_s, day.over(flight), strict=True)):
        if number == 0 or after is None:
            continue
        minutes = round(after / 60)
        parts.append(f"{number} {at or f'+{minutes // 60}:{minutes % 60:02d}'}")
    return ", ".join(parts)
