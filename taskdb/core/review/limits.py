"""The limits that reviews hold tasks against: each with its default and where that comes from.

A contest sets them by name among its settings. Nothing here looks at a task.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

NO_SOURCE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Limits:
    """The numbers; `LIMITS` says what each means. None: nothing is asked for."""

    shortest_leg_m: float = 5000.0
    least_area_ratio: float = 1.3
    declared_short_percent: float = 3.0
    triangle_short_percent: float = 2.0
    least_daylight_s: float = 1800.0
    minimum_distance_m: float | None = None
    shortest_task_s: float | None = None
    longest_task_s: float | None = None


@dataclass(frozen=True, slots=True)
class Limit:
    """What a limit means, in which unit, and where its default comes from."""

    name: str
    unit: str
    meaning: str
    source: str = NO_SOURCE


LIMITS: tuple[Limit, ...] = (
    Limit("shortest_leg_m", "m", "a leg shorter than this is too short"),
    Limit("least_area_ratio", "", "the maximum distance is at least so many times the minimum distance"),
    Limit("declared_short_percent", "%", "a declared course that misses an award's distance by less is told"),
    Limit("triangle_short_percent", "%", "a declared triangle that misses the FAI triangle by less is told"),
    Limit("least_daylight_s", "s", "a last finish nearer to the legal end of day than this is told"),
    Limit("minimum_distance_m", "m", "minimum distance"),
    Limit("shortest_task_s", "s", "a task lasts at least"),
    Limit("longest_task_s", "s", "a task lasts at most"),
)


def limits_of(settings: Mapping[str, Any]) -> tuple[Limits, tuple[str, ...]]:
    """Return the limits that a contest's settings hold, and a sentence for each setting that cannot be used.

    A setting that is no number, or negative, leaves the default.
    """
    limits, problems = Limits(), []
    for name in (field.name for field in fields(Limits)):
        value = settings.get(name)
        if value is None:
            continue
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value < float("inf"):
            default = getattr(limits, name)
            taken = "none" if default is None else f"{default:g}"
            problems.append(f"the setting {name} is {value!r} and no limit: {taken} is taken")
            continue
        limits = replace(limits, **{name: float(value)})
    return limits, tuple(problems)
