"""Sunrise, sunset and civil dusk at a place on a date, looked up with astral, as plain moments.

Sea level and a free horizon; published tables agree to a minute. What the law makes of these times is not said here.
"""

from __future__ import annotations

import datetime
import zoneinfo

from taskdb.core.course.day import SunTimes
from taskdb.core.model import Position


def find_timezone(name: str) -> datetime.tzinfo | None:
    """Return the time zone of an IANA name such as `Europe/Berlin`; None where there is none of that name."""
    try:
        return zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        return None


def timezone_names() -> tuple[str, ...]:
    """Return the names of all time zones that this machine knows, sorted; empty where it has no list of them."""
    return tuple(sorted(zoneinfo.available_timezones()))


def sun_times(position: Position, date: str, timezone: datetime.tzinfo) -> SunTimes:
    """Return the sun's times of the ISO date as it is counted in the time zone; None for what does not happen that day.

    Sunrise and sunset: the sun's upper limb on the horizon with refraction, zenith 90°50′; civil dusk: zenith 96°
    (USNO, Almanac for Computers, 1990).
    """
    from astral import Depression, Observer
    from astral.sun import dusk, sunrise, sunset

    observer = Observer(position.latitude_deg, position.longitude_deg, 0.0)
    day = datetime.date.fromisoformat(date)

    def at(event: str) -> datetime.datetime | None:
        # astral raises ValueError where the sun does not reach the angle on that day.
        try:
            if event == "dusk":
                return dusk(observer, day, Depression.CIVIL, tzinfo=timezone)
            return (sunrise if event == "rise" else sunset)(observer, day, tzinfo=timezone)
        except ValueError:
            return None

    return SunTimes(date, at("rise"), at("set"), at("dusk"))
