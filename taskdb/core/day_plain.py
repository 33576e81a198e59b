"""The JSON form of a task's day: the schedule, the sun, magnetic north, and what could not be told."""

from __future__ import annotations

import datetime
from typing import Any

from taskdb.core.course.day import DaySheet, LastFinish, LegalEnd, SunTimes, wind_of
from taskdb.core.course.schedule import Timetable
from taskdb.core.course.wind import LegFlown
from taskdb.core.model import ContestDay
from taskdb.core.plain import course_degrees, metres
from taskdb.core.quantities import Wind


def _seconds(value: float | None) -> float | None:
    return None if value is None else round(value, 1)


def _speed(value: float | None) -> float | None:
    return None if value is None else round(value, 4) + 0.0


def moment_plain(moment: datetime.datetime | None) -> str | None:
    """Return a moment as ISO text to the second with its offset from UTC, or null."""
    return None if moment is None else moment.replace(microsecond=0).isoformat()


def wind_plain(wind: Wind | None) -> dict[str, Any] | None:
    """Return a wind (from, degrees true; km/h; the text that was typed, null where it is not known), or null."""
    if wind is None:
        return None
    return {"from_deg": course_degrees(wind.from_deg), "speed_kmh": _speed(wind.speed_kmh), "text": wind.text}


def contest_day_plain(day: ContestDay) -> dict[str, Any]:
    """Return a day as its contest keeps it; what is not known is null."""
    return {
        "day": day.number,
        "date": day.date,
        "start_opens": day.start_opens,
        "wind": wind_plain(wind_of(day)),
        "speed_kmh": _speed(day.speed_kmh),
    }


def sun_plain(sun: SunTimes | None) -> dict[str, Any] | None:
    """Return the sun's times with their offsets, or null."""
    if sun is None:
        return None
    return {
        "date": sun.date,
        "sunrise": moment_plain(sun.sunrise),
        "sunset": moment_plain(sun.sunset),
        "civil_dusk": moment_plain(sun.civil_dusk),
    }


def legal_end_plain(rule: LegalEnd, is_set: bool, at: datetime.datetime | None) -> dict[str, Any]:
    """Return the rule by which the flying day ends, where the rule came from, and when that is."""
    return {"rule": rule.value, "rule_from": "contest" if is_set else "default", "at": moment_plain(at)}


def _leg_plain(number: int, leg: LegFlown) -> dict[str, Any]:
    return {
        "from": number,
        "to": number + 1,
        "distance_m": metres(leg.distance_m),
        "time_s": _seconds(leg.time_s),
        "ground_kmh": _speed(leg.ground_kmh),
        "heading_true_deg": None if leg.heading_deg is None else course_degrees(leg.heading_deg),
        "headwind_kmh": _speed(leg.headwind_kmh),
        "crosswind_kmh": _speed(leg.crosswind_kmh),
        "cannot_be_made": leg.reason,
    }


def _flight_plain(sheet: DaySheet, flight: Timetable) -> dict[str, Any]:
    return {
        "extent": flight.extent.value,
        "time_s": _seconds(flight.time_s),
        "legs": [_leg_plain(number, leg) for number, leg in enumerate(flight.legs)],
        "points": [
            {"number": number, "after_start_s": _seconds(after), "at": at}
            for number, (after, at) in enumerate(zip(flight.after_s, sheet.over(flight), strict=True))
        ],
    }


def _finish_plain(finish: LastFinish | None) -> dict[str, Any] | None:
    if finish is None:
        return None
    return {
        "last_start": finish.last_start,
        "time_s": _seconds(finish.flight_s),
        "at": finish.at(),
        "speed_kmh": _speed(finish.speed_kmh),
        "basis": finish.basis,
    }


def day_sheet_plain(sheet: DaySheet | None) -> dict[str, Any] | None:
    """Return a task's day, or null where nothing is known of it. Times of day are local to `timezone`."""
    if sheet is None:
        return None
    declinations = sheet.declinations
    return {
        "date": sheet.date,
        "timezone": sheet.timezone,
        "start_opens": sheet.start_opens,
        "still_air_kmh": None if sheet.air is None else _speed(sheet.air.speed_kmh),
        "still_air_from": sheet.speed_from,
        "wind": wind_plain(sheet.wind),
        "flights": [_flight_plain(sheet, flight) for flight in sheet.timetables],
        "last_finish": _finish_plain(sheet.last_finish),
        "sun": sun_plain(sheet.sun),
        "legal_end": legal_end_plain(sheet.legal_end, sheet.legal_end_is_set, sheet.legal_end_at),
        "magnetic_model": declinations[0].model if declinations else None,
        "declination_deg": [None if one.degrees is None else round(one.degrees, 4) for one in declinations],
        "notes": list(sheet.notes),
    }
