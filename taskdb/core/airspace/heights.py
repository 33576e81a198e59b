"""Floors and ceilings: from text to limits, and whether a volume lies in the air between ground and working altitude.

A bare number is refused. What cannot be compared is undecided, never clear: a flight level without the pressure of
the day, a height above ground without the ground.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

from taskdb.core.airspace.over_ground import ground_range_m
from taskdb.core.airspace.volume import GROUND, UNLIMITED, Limit, Reference, Volume
from taskdb.core.ground import GroundHeights
from taskdb.core.quantities import FOOT_M
from taskdb.errors import UsageError

_GROUND_WORDS = frozenset({"GND", "SFC", "SURFACE", "GROUND"})
_UNLIMITED_WORDS = frozenset({"UNL", "UNLIM", "UNLTD", "UNLIMITED"})
_REFERENCES = {
    "MSL": Reference.MSL, "AMSL": Reference.MSL, "ALT": Reference.MSL, "QNH": Reference.MSL,
    "AGL": Reference.AGL, "GND": Reference.AGL, "SFC": Reference.AGL, "ASFC": Reference.AGL,
    "STD": Reference.FL,
}  # fmt: skip
_NUMBER = r"(\d+(?:\.\d+)?)"
_UNIT = r"(ft|feet|m)"
_REFERENCE = "(" + "|".join(sorted(_REFERENCES, key=len, reverse=True)) + ")"
_UNIT_FIRST = re.compile(rf"{_NUMBER}\s*{_UNIT}\.?\s*(?:above\s+)?{_REFERENCE}", re.IGNORECASE | re.ASCII)
_REFERENCE_FIRST = re.compile(rf"{_REFERENCE}\s*{_NUMBER}\s*{_UNIT}", re.IGNORECASE | re.ASCII)
_LEVEL = re.compile(r"FL\s*(\d{1,3})", re.IGNORECASE | re.ASCII)
# ICAO Doc 4444 (PANS-ATM), item 15 of a flight plan, from memory: F085 and A045 are hundreds of feet, S1130 and
# M0840 tens of metres; F and S of standard pressure.
_PLAN_LEVEL = re.compile(r"([FA])(\d{3})|([SM])(\d{4})", re.ASCII)
_HIGHEST_M = 100_000.0
"""No airspace ends between here and no limit: a height above it is a slip."""

STANDARD_HPA = 1013.25
"""Pressure at sea level in the ICAO standard atmosphere (Doc 7488)."""
_TEMPERATURE_K, _LAPSE_K_PER_M, _EXPONENT = 288.15, 0.0065, 0.190263
"""ICAO standard atmosphere (Doc 7488): sea-level temperature, lapse rate, lapse rate × gas constant / gravity."""


class Verdict(StrEnum):
    """Whether flying from the ground up to the working altitude meets a volume's heights."""

    CLEAR = "clear"
    CONFLICT = "conflict"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class FlownHeights:
    """Between which heights a task is flown, and what of the day is known; None where it is not.

    The working altitude is above mean sea level, as an altimeter set to QNH shows it. `ground_m` are the lowest and
    the highest ground (above sea level) there may be, `qnh_hpa` the lowest and the highest pressure of the day.
    """

    working_altitude_m: float | None = None
    ground_m: tuple[float, float] | None = None
    qnh_hpa: tuple[float, float] | None = None


def parse_limit(text: str) -> Limit:
    """Return the limit for `GND`, `1500ft MSL`, `800m AGL`, `FL95`, `UNL` and their common spellings.

    Understood are SFC, AMSL, ALT, ASFC, STD, a reference before the number, and F085, A045, S1130, M0840 as in flight
    plans. UsageError for a bare number, a missing reference, or anything else. Text in, canonical text out.
    """
    word = " ".join(text.split())
    upper = word.upper()
    if upper in _GROUND_WORDS:
        return GROUND
    if upper in _UNLIMITED_WORDS:
        return UNLIMITED
    level = _LEVEL.fullmatch(word)
    if level is not None:
        return _limit(int(level[1]) * 100 * FOOT_M, Reference.FL, f"FL{int(level[1]):03d}", text)
    plan = _PLAN_LEVEL.fullmatch(upper)
    if plan is not None:
        return _plan_limit(plan, text)
    match = _UNIT_FIRST.fullmatch(word)
    if match is not None:
        return _measured(match[1], match[2], match[3], text)
    match = _REFERENCE_FIRST.fullmatch(word)
    if match is not None:
        return _measured(match[2], match[3], match[1], text)
    raise _no_limit(text, word)


def _plan_limit(found: re.Match[str], text: str) -> Limit:
    if found[1] == "F":
        return _limit(int(found[2]) * 100 * FOOT_M, Reference.FL, f"FL{found[2]}", text)
    if found[1] == "A":
        return _measured(str(int(found[2]) * 100), "ft", "MSL", text)
    return _measured(str(int(found[4]) * 10), "m", "STD" if found[3] == "S" else "MSL", text)


def _measured(number: str, unit: str, reference: str, text: str) -> Limit:
    is_metres = unit.lower() == "m"
    metres = float(number) * (1.0 if is_metres else FOOT_M)
    meant = _REFERENCES[reference.upper()]
    if meant is Reference.AGL and metres == 0:
        return GROUND
    word = "STD" if meant is Reference.FL else meant.value
    shown = number.rstrip("0").rstrip(".") if "." in number else str(int(number))
    return _limit(metres, meant, f"{shown}{'m' if is_metres else 'ft'} {word}", text)


def _limit(metres: float, reference: Reference, canonical: str, text: str) -> Limit:
    if metres > _HIGHEST_M:
        raise UsageError(
            "bad-height",
            f"The height {text!r} lies above {_HIGHEST_M / 1000:.0f} km.",
            hint="Write UNL where there is no limit.",
            details={"value": text},
        )
    return Limit(round(metres, 1), reference, canonical)


def _no_limit(text: str, word: str) -> UsageError:
    if re.fullmatch(r"[\d.,' ]+", word):
        number = word.replace(" ", "")
        return UsageError(
            "missing-unit",
            f"The height {text!r} has neither unit nor reference.",
            hint=f"Write {number}ft MSL, {number}m AGL or FL{number[:3]}, whichever it is.",
            details={"value": text},
        )
    if re.fullmatch(rf"{_NUMBER}\s*{_UNIT}\.?", word, re.IGNORECASE | re.ASCII):
        return UsageError(
            "missing-reference",
            f"The height {text!r} does not say what it is measured from.",
            hint=f"Write {word} MSL (above sea level) or {word} AGL (above ground).",
            details={"value": text},
        )
    return UsageError(
        "bad-height",
        f"{text[:80]!r} is not a floor or ceiling.",
        hint="Write it as GND, 1500ft MSL, 800m AGL, FL95 or UNL (no signs between thousands).",
        details={"value": text[:80]},
    )


def limits_problem(floor: Limit, ceiling: Limit) -> str | None:
    """Return why a floor and a ceiling cannot be those of one volume, None where they can.

    Limits of different references are not compared: which of them is higher depends on the day and the ground.
    """
    if floor.reference is Reference.UNL:
        return "its floor is unlimited"
    if ceiling.reference is Reference.GND:
        return "its ceiling is the ground"
    if floor.reference is ceiling.reference and floor.value_m is not None and ceiling.value_m is not None:
        if floor.value_m == ceiling.value_m:
            return f"its floor and its ceiling are the same, {floor.text}"
        if floor.value_m > ceiling.value_m:
            return f"its floor {floor.text} lies above its ceiling {ceiling.text}"
    return None


def verdict(volume: Volume, flown: FlownHeights) -> Verdict:
    """Return whether flying anywhere between the ground and the working altitude meets the volume's heights.

    Only the floor decides: whoever flies from the ground up passes every height below the working altitude. A floor
    at the working altitude itself is a conflict. Clear without knowing the day is only a floor above sea level that
    lies higher, and what lies wholly below the lowest ground.
    """
    if _is_below_ground(volume.ceiling, flown.ground_m):
        return Verdict.CLEAR
    if volume.floor.reference is Reference.GND:
        return Verdict.CONFLICT
    between = altitudes_m(volume.floor, flown)
    working = flown.working_altitude_m
    if between is None or working is None:
        return Verdict.UNDECIDED
    lowest, highest = between
    if lowest > working:
        return Verdict.CLEAR
    return Verdict.CONFLICT if highest <= working else Verdict.UNDECIDED


def altitudes_m(limit: Limit, flown: FlownHeights) -> tuple[float, float] | None:
    """Return between which altitudes above mean sea level a limit lies, None where too little is known.

    A flight level is compared as altimeters are: by the standard atmosphere between 1013.25 hPa and QNH.
    """
    value = limit.value_m
    if limit.reference is Reference.MSL and value is not None:
        return value, value
    if limit.reference in (Reference.AGL, Reference.GND):
        above = 0.0 if value is None else value
        return None if flown.ground_m is None else (flown.ground_m[0] + above, flown.ground_m[1] + above)
    if limit.reference is Reference.FL and value is not None and flown.qnh_hpa is not None:
        low, high = flown.qnh_hpa
        return value + pressure_shift_m(low), value + pressure_shift_m(high)
    return None


def pressure_shift_m(qnh_hpa: float) -> float:
    """Return how much higher above sea level a flight level lies than its number says, metres: 8.3 m a hPa near 1013.

    That is the altitude of 1013.25 hPa on an altimeter set to QNH (ICAO standard atmosphere, Doc 7488).
    """
    ratio: float = (qnh_hpa / STANDARD_HPA) ** _EXPONENT
    return _TEMPERATURE_K / _LAPSE_K_PER_M * (ratio - 1)


def _is_below_ground(ceiling: Limit, ground_m: tuple[float, float] | None) -> bool:
    return (
        ground_m is not None
        and ceiling.reference is Reference.MSL
        and ceiling.value_m is not None
        and ceiling.value_m < ground_m[0]
    )


def that_may_matter(
    volumes: Iterable[Volume], flown: FlownHeights, ground: GroundHeights | None = None
) -> tuple[tuple[Volume, bool], ...]:
    """Return the volumes that are not clear, each with whether its heights are undecided.

    Limits above ground are compared where the user's terrain knows all the `ground` under the volume.
    """
    told = ((volume, verdict(volume, _over(volume, flown, ground))) for volume in volumes)
    return tuple((volume, found is Verdict.UNDECIDED) for volume, found in told if found is not Verdict.CLEAR)


def _over(volume: Volume, flown: FlownHeights, ground: GroundHeights | None) -> FlownHeights:
    """Return the heights flown over a volume, with the ground under it where a limit of it asks for that."""
    if ground is None or Reference.AGL not in (volume.floor.reference, volume.ceiling.reference):
        return flown
    return replace(flown, ground_m=ground_range_m(volume, ground))
