"""Distances, heights, durations, speeds, bearings, winds, dates and times of day: from what a person types, and back.

A distance carries its unit and a height its unit and reference: a bare number is refused, never guessed.
Conversions are exact by definition: 1 ft = 0.3048 m, 1 NM = 1852 m (ICAO Annex 5), 1 statute mile = 1609.344 m.
"""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass, field
from enum import StrEnum

from taskdb.core.numbers import shortest_decimal
from taskdb.errors import UsageError

FOOT_M = 0.3048
STATUTE_MILE_M = 1609.344
NAUTICAL_MILE_M = 1852.0

_METRES = {"km": 1000.0, "m": 1.0, "mi": STATUTE_MILE_M, "nmi": NAUTICAL_MILE_M, "ft": FOOT_M}
_KMH = {
    "km/h": 1.0,
    "kmh": 1.0,
    "kt": NAUTICAL_MILE_M / 1000,
    "kn": NAUTICAL_MILE_M / 1000,
    "mph": STATUTE_MILE_M / 1000,
    "m/s": 3.6,
}
_SHORT_UNITS = {"kmh": "km/h", "kn": "kt"}
_NUMBER = r"(\d+(?:\.\d+)?|\.\d+)"
_DISTANCE = re.compile(rf"{_NUMBER}\s*(km|nmi|mi|m|ft)", re.IGNORECASE | re.ASCII)
_HEIGHT = re.compile(rf"{_NUMBER}\s*(m|ft)\s*(MSL|AMSL|AGL|QFE)", re.IGNORECASE | re.ASCII)
_FLIGHT_LEVEL = re.compile(r"FL\s*(\d{1,3})", re.IGNORECASE | re.ASCII)
_SPEED = re.compile(rf"{_NUMBER}\s*(km/h|kmh|kt|kn|mph|m/s)", re.IGNORECASE | re.ASCII)
_BEARING = re.compile(rf"{_NUMBER}\s*(?:deg|°)?", re.IGNORECASE | re.ASCII)
_CLOCK = re.compile(r"(\d{1,3}):([0-5]\d)(?::([0-5]\d))?", re.ASCII)
_HOURS = re.compile(r"(?:(\d{1,3})\s*h)?\s*(?:(\d{1,3})\s*m(?:in)?)?", re.IGNORECASE | re.ASCII)


class Units(StrEnum):
    """In which unit of distance results are shown to people."""

    KM = "km"
    MI = "mi"
    NMI = "nmi"


class HeightReference(StrEnum):
    MSL = "MSL"
    AGL = "AGL"
    FLIGHT_LEVEL = "FL"


@dataclass(frozen=True, slots=True)
class Height:
    """A height in metres above its reference; a flight level in hundreds of feet of standard pressure."""

    metres: float
    reference: HeightReference
    text: str


@dataclass(frozen=True, slots=True)
class Step:
    """The size of a step in the unit in which it was typed: `1km`, `500m`, `0.5nmi`."""

    number: float
    unit: str

    def text(self, steps: int) -> str:
        """Return so many steps as they would be typed: `12km`, `1.5nmi`."""
        return f"{shortest_decimal(round(self.number * steps, 6))}{self.unit}"

    def metres(self, steps: int = 1) -> float:
        """Return so many steps in metres, exactly what their text means."""
        return parse_distance_m(self.text(steps))


@dataclass(frozen=True, slots=True)
class Wind:
    """Where the wind blows from (degrees true) and how fast; `text` keeps the unit that was typed: `240/15kt`."""

    from_deg: float
    speed_kmh: float
    text: str | None = field(default=None, compare=False)


def _refuse(code: str, what: str, text: str, expected: str) -> UsageError:
    return UsageError(code, f"{text!r} is not a {what}.", hint=f"Write it as {expected}.", details={"value": text})


def parse_distance_m(text: str) -> float:
    """Return metres for `5km`, `500m`, `5mi` (statute), `3nmi`, `1500ft`; UsageError for anything else."""
    number, unit = _number_and_unit(text)
    return number * _METRES[unit]


def _number_and_unit(text: str) -> tuple[float, str]:
    match = _DISTANCE.fullmatch(text.strip())
    if match is None:
        if re.fullmatch(_NUMBER, text.strip(), re.ASCII):
            number = text.strip()
            raise UsageError(
                "missing-unit",
                f"The distance {text!r} has no unit.",
                hint=f"Write {number}km, {number}m, {number}mi (statute), {number}nmi or {number}ft.",
                details={"value": text},
            )
        raise _refuse("bad-distance", "distance", text, "5km, 500m, 5mi (statute), 3nmi or 1500ft")
    return float(match[1]), match[2].lower()


def parse_step(text: str) -> Step:
    """Return the step of a size for `1km`, `500m`, `1mi` (statute), `1nmi`; UsageError otherwise, and below a metre."""
    step = Step(*_number_and_unit(text))
    if step.metres() < 1:
        raise _refuse("bad-distance", "step of at least a metre", text, "1km, 500m, 1mi (statute) or 1nmi")
    return step


def parse_height(text: str) -> Height:
    """Return the height for `1500ft MSL`, `800m AGL` or `FL95`; UsageError where unit or reference is missing."""
    stripped = text.strip()
    level = _FLIGHT_LEVEL.fullmatch(stripped)
    if level is not None:
        return Height(int(level[1]) * 100 * FOOT_M, HeightReference.FLIGHT_LEVEL, f"FL{int(level[1]):03d}")
    match = _HEIGHT.fullmatch(stripped)
    if match is None or match[3].upper() == "QFE":
        raise _refuse(
            "bad-height",
            "height with unit and reference",
            text,
            "1500ft MSL, 800m AGL or FL95 (a bare height is refused)",
        )
    unit = match[2].lower()
    reference = HeightReference.AGL if match[3].upper() == "AGL" else HeightReference.MSL
    return Height(float(match[1]) * _METRES[unit], reference, f"{match[1]}{unit} {reference}")


def parse_duration_s(text: str) -> int:
    """Return seconds for `3:00` (hours:minutes), `2:45:30` or `2h45m`; UsageError otherwise."""
    stripped = text.strip()
    clock = _CLOCK.fullmatch(stripped)
    if clock is not None:
        return int(clock[1]) * 3600 + int(clock[2]) * 60 + int(clock[3] or 0)
    hours = _HOURS.fullmatch(stripped)
    if hours is None or not (hours[1] or hours[2]):
        raise _refuse("bad-duration", "duration", text, "3:00 (hours:minutes) or 2h45m")
    return int(hours[1] or 0) * 3600 + int(hours[2] or 0) * 60


def parse_speed_kmh(text: str) -> float:
    """Return km/h for `95km/h`, `51kt`, `60mph` or `25m/s`; UsageError for a bare number or anything else."""
    match = _SPEED.fullmatch(text.strip())
    if match is None:
        raise _refuse("bad-speed", "speed with a unit", text, "95km/h, 51kt or 60mph")
    return float(match[1]) * _KMH[match[2].lower()]


def parse_bearing_deg(text: str) -> float:
    """Return a true bearing, 0 ≤ x < 360, for `040`, `40deg` or `40°`; 360 is north. UsageError otherwise."""
    match = _BEARING.fullmatch(text.strip())
    if match is None or float(match[1]) > 360:
        raise _refuse("bad-bearing", "true bearing", text, "040 or 40deg, from 0 to 360")
    return float(match[1]) % 360.0


def parse_wind(text: str) -> Wind:
    """Return the wind for `240/15kt` or `240/28km/h` (from, degrees true); UsageError otherwise."""
    direction, slash, speed = text.strip().partition("/")
    try:
        if not slash:
            raise ValueError
        from_deg, typed = parse_bearing_deg(direction), _SPEED.fullmatch(speed.strip())
        number, unit = (typed[1], typed[2].lower()) if typed is not None else ("", "")
        whole = f"{from_deg:03.0f}" if from_deg == round(from_deg) else f"{from_deg}"
        text = f"{whole}/{number}{_SHORT_UNITS.get(unit, unit)}"
        return Wind(from_deg, parse_speed_kmh(speed), text)
    except (UsageError, ValueError):
        raise _refuse("bad-wind", "wind", text, "240/15kt or 240/28km/h (where it blows from, true)") from None


def parse_date(text: str) -> str:
    """Return an ISO date for `2027-05-14`; UsageError for any other form or a day that does not exist."""
    stripped = text.strip()
    if re.fullmatch(r"\d{4}-\d{2}-\d{2}", stripped, re.ASCII):
        try:
            return datetime.date.fromisoformat(stripped).isoformat()
        except ValueError:
            pass
    raise _refuse("bad-date", "date", text, "2027-05-14 (year-month-day)")


def parse_time_of_day(text: str) -> str:
    """Return `HH:MM` for `13:15` or `9:05`; UsageError otherwise."""
    match = re.fullmatch(r"(\d{1,2}):([0-5]\d)", text.strip(), re.ASCII)
    if match is None or int(match[1]) > 23:
        raise _refuse("bad-time", "time of day", text, "13:15")
    return f"{int(match[1]):02d}:{match[2]}"


def parse_count_or_any(text: str) -> int:
    """Return a whole number from 1 on, 0 for `any`; UsageError otherwise."""
    stripped = text.strip().lower()
    if stripped == "any":
        return 0
    if re.fullmatch(r"[1-9]\d{0,3}", stripped, re.ASCII) is None:
        raise _refuse("bad-number", "whole number from 1 on", text, "5, or any")
    return int(stripped)


def format_distance(metres: float, units: Units = Units.KM, decimals: int = 1) -> str:
    """Return a distance for people in the chosen unit: `510.0 km`, `316.9 mi`, `275.4 nmi`."""
    return f"{metres / _METRES[units.value]:.{decimals}f} {units.value}"


def format_speed(kmh: float, units: Units = Units.KM) -> str:
    """Return a speed for people in the unit that goes with the distances: `27.1 km/h`, `16.8 mph`, `14.6 kt`."""
    unit = {Units.KM: "km/h", Units.MI: "mph", Units.NMI: "kt"}[units]
    return f"{kmh / _KMH[unit]:.1f} {unit}"


def format_short_distance(metres: float) -> str:
    """Return a small distance for people: `134 m` below a kilometre, `12.3 km` below a hundred, else `134 km`."""
    if metres < 999.5:
        return f"{metres:.0f} m"
    return f"{metres / 1000:.1f} km" if metres < 99_950 else f"{metres / 1000:.0f} km"


def format_duration(seconds: float) -> str:
    """Return `H:MM`, or `H:MM:SS` where there are seconds over; never prints 60."""
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    minutes, over = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{over:02d}" if over else f"{hours}:{minutes:02d}"


def format_wind(wind: Wind) -> str:
    """Return a wind for people in the unit in which it was typed: `240°/15 kt`; in km/h where none is known."""
    typed = _SPEED.fullmatch((wind.text or "").partition("/")[2])
    speed = f"{wind.speed_kmh:.0f} km/h" if typed is None else f"{typed[1]} {typed[2].lower()}"
    return f"{format_bearing(wind.from_deg)}°/{speed}"


def format_bearing(degrees: float) -> str:
    """Return a bearing as three whole digits, 000 to 359."""
    return f"{round(degrees) % 360:03d}"
