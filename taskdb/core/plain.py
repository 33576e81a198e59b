"""The JSON form of values: plain dicts, lists, text and numbers; and that of waypoints, zones, places and findings.

Nothing is rounded for show: metres to 1 mm, degrees to 1e-7, courses to 1e-4 and always below 360. A value whose keys
are its fields goes through `plain`; where they differ, a function beside its noun says how: here for the model's
values, in `course/plain.py`, `contests/plain.py` and `history/writers.py` for theirs, in `services/*/plain.py` for
what a service answers.
"""

from __future__ import annotations

import datetime
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import cache
from typing import Any

from taskdb.core.ground import filled_by
from taskdb.core.model import Finding, Place, Position, RowProblem, Suggestion, Waypoint, Zone


def metres(value: float) -> float:
    """Return metres to 1 mm, without a negative zero."""
    return round(value, 3) + 0.0


def degrees(value: float) -> float:
    """Return degrees to 1e-7, without a negative zero."""
    return round(value, 7) + 0.0


def course_degrees(value: float) -> float:
    """Return a course or bearing to 1e-4, 0 ≤ x < 360: 359.99996 is 0."""
    return round(value % 360.0, 4) % 360.0


def speed_kmh(value: float) -> float:
    """Return km/h to 1e-4, without a negative zero."""
    return round(value, 4) + 0.0


def or_none(rounding: Callable[[float], float], value: float | None) -> float | None:
    """Return a rounded number, None for None."""
    return None if value is None else rounding(value)


def plain(value: Any) -> Any:
    """Return `value` made of dicts, lists, text, numbers and None: what holds others is unfolded.

    Numbers stay as they are, but those in a field that names its unit are rounded by it. A position is
    `[latitude, longitude]`, a moment ISO text to the second with its offset. Anything that has no JSON form raises
    TypeError: it is a bug.
    """
    if value is None or type(value) in _AS_THEY_ARE:
        return value
    if type(value) is tuple:
        return [plain(item) for item in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, str | int | float):
        return value
    if isinstance(value, Position):
        return [degrees(value.latitude_deg), degrees(value.longitude_deg)]
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, Sequence | set | frozenset):
        return [plain(item) for item in (sorted(value) if isinstance(value, set | frozenset) else value)]
    if isinstance(value, datetime.datetime):
        return value.replace(microsecond=0).isoformat()
    if is_dataclass(value) and not isinstance(value, type):
        return fields_plain(value)
    raise TypeError(f"{type(value).__name__} has no plain form")


def fields_plain(value: Any, *, but: Sequence[str] = ()) -> dict[str, Any]:
    """Return the fields of a frozen value under their JSON keys, in their order; those named in `but` are left out.

    A key is its field's name without the `is_` of an assertion; `class_name` and `set_name` are `class` and `set`.
    """
    kind: Any = type(value)
    result = {}
    for name, key, rounding in _keys(kind):
        if name not in but:
            held = getattr(value, name)
            if rounding is not None and held is not None:
                held = rounding(held)
            result[key] = held if held is None or type(held) in _AS_THEY_ARE else plain(held)
    return result


_AS_THEY_ARE = frozenset((str, int, float, bool))
_ANGLES = ("latitude_deg", "longitude_deg", "opening_deg")
"""Fields in degrees that hold no course."""
_UNITS: tuple[tuple[str, Callable[[float], float]], ...] = (
    ("_m", metres), ("_kmh", speed_kmh), ("_deg", course_degrees),
)  # fmt: skip


@cache
def _keys(kind: type[Any]) -> tuple[tuple[str, str, Callable[[float], float] | None], ...]:
    """Return each field of a dataclass with its JSON key and how its numbers are rounded."""
    keys = []
    for name in (field.name for field in fields(kind)):
        key = {"class_name": "class", "set_name": "set"}.get(name, name.removeprefix("is_"))
        rounding = next((rounding for suffix, rounding in _UNITS if name.endswith(suffix)), None)
        keys.append((name, key, degrees if name in _ANGLES else rounding))
    return tuple(keys)


def canonical_json(value: Any) -> str:
    """Return JSON text that is the same for the same value: sorted keys, no blanks, letters as they are."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def waypoint_plain(
    waypoint: Waypoint, *, set_name: str | None, revision: int | None, distance_m: float | None = None
) -> dict[str, Any]:
    """Return a waypoint as of a set's revision; `distance_m` stands only where it was asked for, `elevation_from`
    only where the elevation was filled in from terrain."""
    result: dict[str, Any] = {
        "set": set_name,
        "revision": revision,
        "identity": waypoint.identity,
        "code": waypoint.code,
        "name": waypoint.name,
        "latitude_deg": degrees(waypoint.position.latitude_deg),
        "longitude_deg": degrees(waypoint.position.longitude_deg),
        "elevation_m": or_none(metres, waypoint.elevation_m),
        "landable": None if waypoint.landable is None else waypoint.landable.value,
        "feature": None if waypoint.feature is None else waypoint.feature.value,
        "country": waypoint.country,
        "radio": [fields_plain(radio) for radio in waypoint.radio],
        "runways": [fields_plain(runway) for runway in waypoint.runways],
        "description": waypoint.description,
        "source": waypoint.source,
        "inspected_on": waypoint.inspected_on,
    }
    if filled := filled_by(waypoint):
        result["elevation_from"] = filled
    if distance_m is not None:
        result["distance_m"] = metres(distance_m)
    return result


def zone_plain(zone: Zone) -> dict[str, Any]:
    """Return a zone, its text last; what does not apply to its shape is null."""
    return {**fields_plain(zone, but=["text"]), "text": zone.text}


def problem_plain(problem: RowProblem) -> dict[str, Any]:
    """Return a row problem; `suggestion` stands only where there is one."""
    return fields_plain(problem, but=["suggestion"] if problem.suggestion is None else [])


def suggestion_plain(suggestion: Suggestion) -> dict[str, Any]:
    """Return a mend: both coordinates, or null coordinates with `field` and `value`."""
    position = suggestion.position
    result: dict[str, Any] = {
        "code": suggestion.code,
        "latitude_deg": None if position is None else degrees(position.latitude_deg),
        "longitude_deg": None if position is None else degrees(position.longitude_deg),
        "reason": suggestion.reason,
    }
    if suggestion.field is not None:
        result["field"] = suggestion.field
        result["value"] = plain(suggestion.value)
    return result


def finding_plain(finding: Finding) -> dict[str, Any]:
    """Return a finding of a check or a review, with its evidence as plain values."""
    return {
        **fields_plain(finding),
        "suggestion": None if finding.suggestion is None else suggestion_plain(finding.suggestion),
        "alternatives": [suggestion_plain(other) for other in finding.alternatives],
    }


def place_plain(place: Place | None) -> dict[str, Any] | None:
    """Return a place as a task keeps it, or null."""
    if place is None:
        return None
    return {
        "code": place.code,
        "name": place.name,
        "latitude_deg": degrees(place.position.latitude_deg),
        "longitude_deg": degrees(place.position.longitude_deg),
        "elevation_m": or_none(metres, place.elevation_m),
    }
