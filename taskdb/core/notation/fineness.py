"""How finely a position or an elevation was typed: the size of the last digit that stands there, read off its text.

`48.5` says no more than 48.45 to 48.55. Zeros at the end count as typed: `48.500` is finer.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache

from taskdb.core.model import E7, Position, Typed
from taskdb.core.notation.angles import PARTS, SPELLED_OUT, Axis, Notation, Trouble, plain_signs, read_angle
from taskdb.core.notation.pairs import WHOLE
from taskdb.core.numbers import plain_number, power_of_ten
from taskdb.core.quantities import FOOT_M

_DEGREE_M = 111_320.0
"""A degree of latitude, about: what a metre on a grid is worth in degrees."""
_DIGITS = str.maketrans("123456789", "000000000")
_NUMBER = re.compile(r"\d+(?:[.,]\d*)?|[.,]\d+")
_ELEVATION = re.compile(r"[+-]?[0-9][0-9.,  ']*")
_EXPONENT = re.compile(r"\d+(?:[.,](\d*))?[eE]([+-]?\d+)")
_HALVES = re.compile(r"(?i)(?:geo:)?([+-]?\d+(?:\.\d+)?),?([+-]?\d+(?:\.\d+)?)")
_METRES = re.compile(r"\d{6}(?:\.(\d+))?[^\d.]+\d{1,8}(?:\.(\d+))?\D*$")


def position_steps_e7(position: Position, typed: Typed | None) -> tuple[float, float] | None:
    """Return the last digit's size in latitude and longitude, in 1e-7 degree, as typed; None where it is not known.

    Of two angles the finer counts for both: they are typed alike, and what looks coarser has lost a zero at its end.
    """
    if typed is None or typed.latitude is None:
        return None
    if typed.longitude is None:
        whole = _whole_step_e7(typed.latitude, typed.notation)
        is_grid = typed.notation in (Notation.UTM, Notation.MGRS)
        shrinks = max(math.cos(math.radians(position.latitude_deg)), 0.01) if is_grid else 1.0
        return None if whole is None else (whole, whole / shrinks)
    north = _angle_step_e7(typed.latitude, Axis.LATITUDE, typed.notation)
    east = _angle_step_e7(typed.longitude, Axis.LONGITUDE, typed.notation)
    return None if north is None or east is None else (min(north, east),) * 2


def _angle_step_e7(text: str, axis: Axis, notation: str | None) -> float | None:
    if "e" in text or "E" in text:
        match = _EXPONENT.search(text)
        if match is not None:
            return E7 * power_of_ten(int(match[2]) - len(match[1] or ""))
    return _shape_step_e7(text.translate(_DIGITS), axis, notation)


@lru_cache(maxsize=4096)
def _shape_step_e7(shape: str, axis: Axis, notation: str | None) -> float | None:
    """Return the step of a text whose digits are all zeros: a list has a handful of shapes, and a million rows."""
    readings = read_angle(shape, axis, letter_o="E", bare_packed=True)
    if isinstance(readings, Trouble):
        return None
    angle = next((reading for reading in readings if reading.notation == notation), readings[0])
    if len(readings) > 1 and angle.notation != notation:
        return None
    whole, _, fraction = _NUMBER.findall(plain_signs(shape))[-1].replace(",", ".").partition(".")
    decimals = len(fraction)
    if angle.notation in SPELLED_OUT and not fraction:
        wide = 2 if axis is Axis.LATITUDE else 3
        decimals = len(whole) - wide - 2 * (PARTS[angle.notation] - 1)
    return E7 / (60.0 ** (angle.parts - 1) * power_of_ten(decimals))


def _whole_step_e7(text: str, notation: str | None) -> float | None:
    """Return the step of a position that is one text: a geo URI, ISO 6709, UTM or MGRS."""
    if notation not in {one.value for one in WHOLE}:
        return None
    plain = plain_signs(text)
    if notation in (Notation.GEO_URI, Notation.ISO6709):
        halves = _HALVES.match(plain)
        if halves is None:
            return None
        steps = [_angle_step_e7(half, axis, None) for half, axis in zip(halves.groups(), Axis, strict=True)]
        return min((step for step in steps if step is not None), default=None)
    if notation == Notation.UTM:
        metres = _METRES.search(plain)
        decimals = 0 if metres is None else max(len(part or "") for part in metres.groups())
        return E7 / _DEGREE_M / power_of_ten(decimals)
    digits = len(re.sub(r"\D", "", plain.lstrip("0123456789 "))) // 2
    return E7 / _DEGREE_M * power_of_ten(5 - digits) if digits else None


def elevation_step_m(elevation_m: float | None, typed: Typed | None) -> float | None:
    """Return the last digit's size of a typed elevation in metres; None where none, or no unit, is kept.

    A comma may part decimals or thousands: the reading that gives the elevation to 0.1 m is what was meant, and None
    is returned where none does.
    """
    if elevation_m is None or typed is None or typed.elevation_unit not in ("m", "ft"):
        return None
    unit_m = FOOT_M if typed.elevation_unit == "ft" else 1.0
    found = _ELEVATION.search(plain_number(typed.elevation or ""))
    digits = "" if found is None else re.sub(r"[  ']", "", found[0])
    for reading in (digits.replace(",", "."), digits.replace(",", ""), digits.replace(".", "").replace(",", ".")):
        try:
            metres = float(reading) * unit_m
        except ValueError:
            continue
        if abs(metres - elevation_m) <= 0.0501:
            return unit_m / power_of_ten(len(reading.partition(".")[2]))
    return None
