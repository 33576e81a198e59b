"""The kinds of values that contests are set to: each read from what a person types, shown, and told from junk. Pure.

A plain value is what JSON holds: text, numbers, yes or no, a height or a wind with the text it was typed as, rows.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from taskdb.core import quantities
from taskdb.core.kinds import Landable
from taskdb.core.names import clean_text
from taskdb.errors import UsageError

LONGEST_PHONE = 40
MOST_ROWS = 16
LONGEST_ROW = 60
LONGEST_TEXT = 400
"""Letters of a text that has no limit of its own: what a sheet can show and a pilot will read."""

LOWEST_HPA, HIGHEST_HPA = 850.0, 1090.0
"""Between these lies every pressure at sea level that was ever measured (WMO records: 870 and 1084 hPa)."""
LEAST_GLIDE, MOST_GLIDE = 1.0, 100.0
"""No glider's glide ratio through still air lies outside (common practice, no source)."""
_CAN_BE_LANDED_AT = tuple(kind.value for kind in Landable if kind is not Landable.NO)
_ANGLE = re.compile(r"(\d{1,3}(?:\.\d+)?)\s*(?:deg|°)", re.ASCII | re.IGNORECASE)
_PRESSURE = re.compile(r"(\d{3,4}(?:\.\d)?)\s*hPa", re.ASCII | re.IGNORECASE)
_ROW_TIME = re.compile(r"(\d{1,2})\s*[:.]\s*(\d{1,2})\b\s*(.*)", re.ASCII | re.DOTALL)


def _switch(text: str) -> bool:
    value = {"yes": True, "on": True, "true": True, "no": False, "off": False, "false": False}.get(text.strip().lower())
    if value is None:
        raise UsageError("bad-switch", f"{text!r} is neither yes nor no.", hint="Write yes or no.")
    return value


def _number(text: str) -> float:
    try:
        value = float(text.strip().removesuffix("%"))
    except ValueError:
        value = -1.0
    if not 0 <= value < 1e9:
        raise UsageError("bad-number", f"{text!r} is no number from 0 on.", hint="Write e.g. 1.3 or 28.")
    return value


def _count(text: str) -> int:
    if not (text.strip().isascii() and text.strip().isdigit()):
        raise UsageError("bad-number", f"{text!r} is no whole number.", hint="Write e.g. 3.")
    return int(text)


def _height(text: str) -> dict[str, Any]:
    height = quantities.parse_height(text)
    return {"m": round(height.metres, 3), "reference": height.reference.value, "text": height.text}


def _altitude(text: str) -> dict[str, Any]:
    height = quantities.parse_height(text)
    if height.reference is not quantities.HeightReference.MSL:
        raise UsageError("bad-height", f"{text!r} is no altitude above sea level.", hint="Write e.g. '1800m MSL'.")
    return _height(text)


def _pressure(text: str) -> float:
    match = _PRESSURE.fullmatch(text.strip())
    value = float(match[1]) if match is not None else 0.0
    if not LOWEST_HPA <= value <= HIGHEST_HPA:
        raise UsageError("bad-pressure", f"{text!r} is no pressure at sea level.", hint="Write e.g. 1018hPa.")
    return value


def _positive_speed(text: str) -> float:
    speed = quantities.parse_speed_kmh(text)
    if not speed > 0:
        raise UsageError("bad-speed", f"{text!r} leads nowhere.", hint="Write it as 95km/h, 51kt or 60mph.")
    return speed


def _wind(text: str) -> dict[str, Any]:
    return wind_value(quantities.parse_wind(text))


def wind_value(wind: quantities.Wind) -> dict[str, Any]:
    """Return a wind as a plain value."""
    return {"from_deg": wind.from_deg, "speed_kmh": wind.speed_kmh, "text": wind.text}


def wind_from_value(value: Mapping[str, Any]) -> quantities.Wind:
    """Return the wind of a plain value."""
    text = value.get("text")
    return quantities.Wind(float(value["from_deg"]), float(value["speed_kmh"]), None if text is None else str(text))


def limited_text(text: str, most: int, what: str = "text") -> str:
    """Return a text for people in one line, trimmed. UsageError for an empty or longer one: nothing is cut off."""
    clean = " ".join(clean_text(text).split())
    if not clean:
        raise UsageError("empty-text", f"The {what} is empty.", hint="Write `default` to take it away.")
    if len(clean) > most:
        raise UsageError(
            "text-too-long",
            f"The {what} has {len(clean)} letters; at most {most} fit.",
            hint="Say it shorter: what is cut off on a sheet is read by nobody.",
            details={"letters": len(clean), "most": most},
        )
    return clean


def _phone(text: str) -> str:
    clean = limited_text(text, LONGEST_PHONE, "telephone number")
    if sum(letter.isdigit() for letter in clean) < 3:
        raise UsageError("bad-phone", f"{text!r} is no telephone number.", hint="Write it as it is dialled.")
    return clean


def _rows(text: str) -> list[str]:
    rows = [_row(row) for row in re.split(r"[;\n]", text) if row.strip()]
    if not rows:
        raise UsageError("empty-text", "There is no row.", hint="Write e.g. '10:00 briefing; 11:15 grid'.")
    if len(rows) > MOST_ROWS:
        raise UsageError(
            "too-many-rows", f"{len(rows)} rows; at most {MOST_ROWS} fit.", hint="Leave out what can be left out."
        )
    return rows


def _row(text: str) -> str:
    """Return a row with the time at its beginning as `HH:MM`; what looks like a time and is none is refused."""
    row = limited_text(text, LONGEST_ROW, "row")
    timed = _ROW_TIME.match(row)
    if timed is None:
        return row
    if "." in row[: timed.start(3)]:
        raise UsageError("bad-time", f"The row {row!r} begins with no time of day.", hint="Write e.g. 10:00 briefing.")
    return f"{quantities.parse_time_of_day(f'{timed[1]}:{timed[2]}')} {timed[3]}".strip()


def parse_glide(text: str) -> float:
    """Return a glide ratio, metres along for one down; UsageError for what is none."""
    try:
        value = float(text.strip())
    except ValueError:
        value = 0.0
    if not LEAST_GLIDE <= value <= MOST_GLIDE:
        raise UsageError(
            "bad-glide",
            f"{text!r} is no glide ratio from {LEAST_GLIDE:g} to {MOST_GLIDE:g}.",
            hint="Write e.g. 25: so many metres along for one metre down.",
        )
    return value


def _angle(text: str) -> float:
    match = _ANGLE.fullmatch(text.strip())
    value = float(match[1]) if match is not None else -1.0
    if not 0 <= value <= 180:
        raise UsageError("bad-angle", f"{text!r} is no angle from 0 to 180 degrees.", hint="Write e.g. 20deg.")
    return value


def _landables(text: str) -> list[str]:
    words = {word.strip().lower() for word in text.split(",") if word.strip()}
    if not words or not words <= set(_CAN_BE_LANDED_AT):
        raise UsageError(
            "bad-choice",
            f"{text!r} is no list of {', '.join(_CAN_BE_LANDED_AT)}.",
            hint="Write e.g. aerodrome,field.",
        )
    return [word for word in _CAN_BE_LANDED_AT if word in words]


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value < 1e9


def _reads_as_itself(read: Callable[[str], Any]) -> Callable[[Any], bool]:
    """Return a test for values that are kept as they would be typed."""

    def test(value: Any) -> bool:
        try:
            return isinstance(value, str) and bool(read(value) == value)
        except UsageError:
            return False

    return test


def _is_typed(*numbers: str) -> Callable[[Any], bool]:
    """Return a test for values with these numbers and the text that was typed."""

    def test(value: Any) -> bool:
        return (
            isinstance(value, Mapping)
            and all(_is_number(value.get(name)) for name in numbers)
            and isinstance(value.get("text"), str | None)
        )

    return test


def _are_rows(value: Any) -> bool:
    is_list = isinstance(value, list | tuple) and 0 < len(value) <= MOST_ROWS
    return is_list and all(_reads_as_itself(_row)(row) for row in value)


def _are_landables(value: Any) -> bool:
    is_list = isinstance(value, list | tuple) and all(isinstance(word, str) for word in value)
    return is_list and bool(value) and list(value) == [word for word in _CAN_BE_LANDED_AT if word in value]


@dataclass(frozen=True, slots=True)
class Kind:
    """How a value is read from text, shown as it would be typed, and told from what cannot be one."""

    read: Callable[[str], Any]
    show: Callable[[Any], str]
    holds: Callable[[Any], bool]


def _is_positive(value: Any) -> bool:
    return _is_number(value) and value > 0


KINDS: Mapping[str, Kind] = {
    "time": Kind(quantities.parse_time_of_day, str, _reads_as_itself(quantities.parse_time_of_day)),
    "duration": Kind(quantities.parse_duration_s, quantities.format_duration, _is_number),
    "distance": Kind(quantities.parse_distance_m, lambda metres: f"{metres / 1000:g} km", _is_number),
    "vertical": Kind(quantities.parse_distance_m, lambda metres: f"{metres:g} m", _is_number),
    "speed": Kind(_positive_speed, lambda kmh: f"{kmh:g} km/h", _is_positive),
    "height": Kind(_height, lambda height: str(height["text"]), _is_typed("m")),
    "altitude": Kind(_altitude, lambda height: str(height["text"]), _is_typed("m")),
    "pressure": Kind(
        _pressure, lambda hpa: f"{hpa:g} hPa", lambda value: _is_number(value) and LOWEST_HPA <= value <= HIGHEST_HPA
    ),
    "wind": Kind(
        _wind,
        lambda wind: str(wind["text"] or f"{wind['from_deg']:03.0f}/{wind['speed_kmh']:g}km/h"),
        _is_typed("from_deg", "speed_kmh"),
    ),
    "switch": Kind(_switch, lambda value: "yes" if value else "no", lambda value: isinstance(value, bool)),
    "number": Kind(_number, lambda value: f"{value:g}", _is_number),
    "percent": Kind(_number, lambda value: f"{value:g} %", _is_number),
    "glide": Kind(
        parse_glide, lambda value: f"{value:g}", lambda value: _is_number(value) and LEAST_GLIDE <= value <= MOST_GLIDE
    ),
    "angle": Kind(_angle, lambda value: f"{value:g}°", lambda value: _is_number(value) and value <= 180),
    "landables": Kind(_landables, ", ".join, _are_landables),
    "count": Kind(_count, str, lambda value: _is_number(value) and isinstance(value, int)),
    "text": Kind(lambda text: limited_text(text, LONGEST_TEXT), str, lambda value: isinstance(value, str)),
    "phone": Kind(_phone, str, _reads_as_itself(_phone)),
    "rows": Kind(_rows, "; ".join, _are_rows),
    "choice": Kind(lambda text: text.strip().lower(), str, lambda value: isinstance(value, str)),
}
