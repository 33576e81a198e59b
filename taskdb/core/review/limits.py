"""The limits that reviews hold tasks against: each with its default and where that comes from.

A contest sets them by name among its settings. Nothing here looks at a task. What landable cover reckons with stands
here too: a contest sets it once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from taskdb.core.kinds import Landable

NO_SOURCE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Limits:
    """The values; `LIMITS` says what each means. None: nothing is asked for."""

    shortest_leg_m: float = 5000.0
    least_area_ratio: float = 1.3
    declared_short_percent: float = 3.0
    triangle_short_percent: float = 2.0
    least_daylight_s: float = 1800.0
    minimum_distance_m: float | None = None
    shortest_task_s: float | None = None
    longest_task_s: float | None = None
    least_finishers_time_percent: float | None = None
    separation_m: float = 1000.0
    separation_s: float = 600.0
    glare_deg: float = 20.0
    cover_glide: float | None = None
    cover_airspeed_kmh: float = 100.0
    cover_safety_m: float = 200.0
    cover_clearance_m: float = 100.0
    cover_free_m: float = 2000.0
    cover_longest_out_m: float = 5000.0
    cover_landable: tuple[Landable, ...] = (Landable.AERODROME, Landable.FIELD)


@dataclass(frozen=True, slots=True)
class Limit:
    """What a limit means, how it is typed (a kind of settings), and where its default comes from."""

    name: str
    kind: str
    meaning: str
    source: str = NO_SOURCE


LIMITS: tuple[Limit, ...] = (
    Limit("shortest_leg_m", "distance", "a leg shorter than this is too short"),
    Limit("least_area_ratio", "number", "the maximum distance is at least so many times the minimum distance"),
    Limit("declared_short_percent", "percent", "a declared course that misses an award's distance by less is told"),
    Limit("triangle_short_percent", "percent", "a declared triangle that misses the FAI triangle by less is told"),
    Limit("least_daylight_s", "duration", "a last finish nearer to the legal end of day than this is told"),
    Limit("minimum_distance_m", "distance", "minimum distance"),
    Limit("shortest_task_s", "duration", "a task lasts at least"),
    Limit("longest_task_s", "duration", "a task lasts at most"),
    Limit(
        "least_finishers_time_percent",
        "percent",
        "the minimum time suits at least so much of the class's range of speeds",
    ),
    Limit("separation_m", "distance", "tasks of one day that come nearer to each other meet"),
    Limit("separation_s", "duration", "tasks of one day that are at one place within this time meet"),
    Limit("glare_deg", "angle", "a last leg flown within so many degrees of the sun is told"),
    Limit("cover_glide", "glide", "glide ratio through the air with which fields are to be in reach"),
    Limit("cover_airspeed_kmh", "speed", "airspeed of that glide"),
    Limit("cover_safety_m", "vertical", "height to arrive with above a field"),
    Limit("cover_clearance_m", "vertical", "height above the ground on the way to a field"),
    Limit("cover_free_m", "distance", "before the field that height is not asked for"),
    Limit("cover_longest_out_m", "distance", "a longer stretch without a field in reach is a warning"),
    Limit("cover_landable", "landables", "where can be landed"),
)


def limits_of(settings: Mapping[str, Any]) -> tuple[Limits, tuple[str, ...]]:
    """Return the limits that a contest's settings hold, and a sentence for each setting that cannot be used.

    A setting that is none of its kind (no number, negative, an unknown word) leaves the default.
    """
    limits, problems = Limits(), []
    for name in (field.name for field in fields(Limits)):
        value = settings.get(name)
        if value is None:
            continue
        default = getattr(limits, name)
        read: Any = _kinds(value) if isinstance(default, tuple) else _number(value)
        if read is None:
            problems.append(f"the setting {name} is {value!r} and no limit: {_words(default)} is taken")
            continue
        limits = replace(limits, **{name: read})
    return limits, tuple(problems)


def _number(value: object) -> float | None:
    is_number = isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value < float("inf")
    return float(value) if is_number and isinstance(value, int | float) else None


def _kinds(value: object) -> tuple[Landable, ...] | None:
    known = {kind.value: kind for kind in Landable}
    if not isinstance(value, list | tuple) or not value or not all(word in known for word in value):
        return None
    return tuple(known[word] for word in value)


def _words(default: Any) -> str:
    if isinstance(default, tuple):
        return ", ".join(default)
    return "none" if default is None else f"{default:g}"
