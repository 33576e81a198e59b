"""Dates, moments and positions as a flight recorder's records have them.

IGC Technical Specification for GNSS Flight Recorders, Appendix A (text of 2008): 2.4 units and positions, 3.3 the H
records. Knows the shape of a value and not the record that it stands in.
"""

from __future__ import annotations

import datetime
import re

from taskdb.core.model import E7, Position

_DATE = re.compile(r"HF?DTE(?:DATE)?:? *(\d{6})")


def date_in(line: str) -> datetime.date | None:
    """Return the date (UTC) of a line that dates the first fix (3.3, HFDTE; later HFDTEDATE); None for any other."""
    match = _DATE.match(line)
    dated = None if match is None else moment(match[1], "000000")
    return None if dated is None else dated.date()


def moment(day: str, clock: str) -> datetime.datetime | None:
    """Return the UTC moment of DDMMYY and HHMMSS; None for what is no moment, such as zeros."""
    try:
        parsed = datetime.datetime.strptime(day + clock, "%d%m%y%H%M%S")
    except ValueError:
        return None
    return parsed.replace(tzinfo=datetime.UTC)


def moment_at(date: str, second: float) -> datetime.datetime:
    """Return the UTC moment of seconds from the midnight with which an ISO date begins."""
    return datetime.datetime.fromisoformat(date).replace(tzinfo=datetime.UTC) + datetime.timedelta(seconds=second)


def position_of(lat_d: str, lat_m: str, north: str, lon_d: str, lon_m: str, east: str) -> Position | None:
    """Return the position of degrees and thousandths of minutes (2.4); None beyond what there is."""
    latitude = _e7(lat_d, lat_m, north in "Ss", 90)
    longitude = _e7(lon_d, lon_m, east in "Ww", 180)
    return None if latitude is None or longitude is None else Position.at(latitude / E7, longitude / E7)


def _e7(degrees: str, thousandths: str, is_negative: bool, limit: int) -> int | None:
    minutes = int(thousandths)
    e7 = int(degrees) * E7 + (minutes * 1000 + 3) // 6
    return None if minutes >= 60_000 or e7 > limit * E7 else -e7 if is_negative else e7
