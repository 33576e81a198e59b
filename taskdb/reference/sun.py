"""Sunrise, sunset and civil dusk on a date, and where the sun stands, looked up with astral, as plain values.

Sea level and a free horizon; published tables agree to a minute. What the law makes of these times is not said here.
"""

from __future__ import annotations

import datetime
import zoneinfo

from taskdb.core.course.day import SunTimes
from taskdb.core.judgement.glare import SunPosition
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


def sun_position(position: Position, moment: datetime.datetime) -> SunPosition:
    """Return where the sun is seen at a place and an aware moment, with the refraction of a standard day.

    Published and independently computed positions agree to 0.02° (below 3° of elevation to 0.1°), far finer than
    what is said of the sun in the eyes.
    """
    from astral import Observer
    from astral.sun import zenith_and_azimuth

    observer = Observer(position.latitude_deg, position.longitude_deg, 0.0)
    zenith, azimuth = zenith_and_azimuth(observer, moment.astimezone(datetime.UTC))
    return SunPosition(azimuth % 360.0, 90.0 - zenith)
