"""A difference as readable JSON that another store can take: waypoints by code and by their values in the base.

Every entry holds the whole waypoint as it stood in the base (of an addition: as it is), so that whoever applies it
can tell whether the same thing still stands there. What is empty is left out.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, fields
from typing import Any

from taskdb.core.facilities import format_radio, format_runway
from taskdb.core.history.changes import SetDiff, changed_fields
from taskdb.core.model import Position, Radio, Runway, Typed, Waypoint
from taskdb.core.plain import degrees

SCHEMA = "taskdb.patch/1"


@dataclass(frozen=True, slots=True)
class Reason:
    """A revision between base and goal: its number, when (UTC), who wrote it and why."""

    revision: int
    at: str
    author: str
    note: str | None


@dataclass(frozen=True, slots=True)
class Patch:
    """A difference that can travel, with where it comes from (`region@3`, `region@5`) and why it was made."""

    base: str
    goal: str
    difference: SetDiff
    reasons: tuple[Reason, ...] = ()


def field_plain(field: str, value: Any) -> Any:
    """Return a field's value as a patch writes it: channels and runways as lists of one-line texts."""
    if isinstance(value, Position):
        return {"latitude_deg": degrees(value.latitude_deg), "longitude_deg": degrees(value.longitude_deg)}
    if isinstance(value, tuple):
        return [_item_plain(item) for item in value]
    if isinstance(value, Typed):
        return {item.name: kept for item in fields(value) if (kept := getattr(value, item.name)) is not None}
    if field == "elevation_m" and value is not None:
        return round(value, 1) + 0.0
    if isinstance(value, str):
        return str(value)
    return value


def _item_plain(item: Radio | Runway) -> str:
    return format_radio([item]) if isinstance(item, Radio) else format_runway(item)


_ORDER = (
    "code", "name", "position", "elevation_m", "landable", "feature", "country", "radio", "runways", "description",
    "source", "inspected_on", "identity", "typed", "extras",
)  # fmt: skip


def entry_plain(waypoint: Waypoint) -> dict[str, Any]:
    """Return a whole waypoint as a patch writes it; what is empty is left out, code, name and position never."""
    result: dict[str, Any] = {}
    for field in _ORDER:
        value = getattr(waypoint, field)
        if field in ("code", "name", "position") or value not in (None, "", ()):
            result[field] = field_plain(field, value)
    return result


def patch_plain(patch: Patch) -> dict[str, Any]:
    """Return a patch as plain values: retirements, changes, additions, each in code-point order of code."""
    difference = patch.difference
    return {
        "schema": SCHEMA,
        "from": patch.base,
        "to": patch.goal,
        "reasons": [
            {"revision": r.revision, "at": r.at, "author": r.author, "note": r.note} for r in patch.reasons
        ],
        "retire": [entry_plain(waypoint) for waypoint in difference.retired],
        "change": [_change_plain(old, new) for old, new in difference.changed],
        "add": [entry_plain(waypoint) for waypoint in difference.added],
    }  # fmt: skip


def _change_plain(old: Waypoint, new: Waypoint) -> dict[str, Any]:
    changed = changed_fields(old, new)
    entry: dict[str, Any] = {
        "waypoint": entry_plain(old),
        "fields": {
            name: {"from": field_plain(name, getattr(old, name)), "to": field_plain(name, getattr(new, name))}
            for name in changed
        },
    }
    if {"position", "elevation_m"} & set(changed) and new.typed is not None:
        entry["typed"] = field_plain("typed", new.typed)
    return entry


def patch_text(patch: Patch) -> str:
    """Return a patch as the text of its file: JSON, indented, letters as they are, LF at the end."""
    return json.dumps(patch_plain(patch), ensure_ascii=False, allow_nan=False, indent=2) + "\n"
