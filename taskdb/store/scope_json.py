"""A contest's settings as the JSON text of its revision: its own, those of classes and days, and winds as typed.

Knows no tables and no SQL. What is kept beside a contest's own settings stands under the two keys below; a text
without them, as older versions wrote it, has neither.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from taskdb.core.course.zones import parse_zone
from taskdb.core.model import Contest, ContestDay, Role, Scope, ScopeValues
from taskdb.core.plain import canonical_json, plain

SCOPED, WIND_TEXTS = "scoped", "wind_texts"


@dataclass(frozen=True, slots=True)
class KeptSettings:
    """What the text holds: the contest's own values, those of scopes, and by day the wind as it was typed."""

    settings: Mapping[str, Any]
    scoped: Mapping[Scope, ScopeValues]
    wind_texts: Mapping[int, str]


def settings_text(contest: Contest) -> str:
    """Return all that a contest is set to as canonical JSON text."""
    value = dict(contest.settings)
    if contest.scoped:
        value[SCOPED] = [
            {
                "class": scope.class_name,
                "day": scope.day,
                "zones": {role.value: zone.text for role, zone in own.zones.items()},
                "settings": own.settings,
            }
            for scope, own in sorted(contest.scoped.items(), key=_order)
        ]
    winds = {str(day.number): day.wind_text for day in contest.days if day.wind_text is not None}
    if winds:
        value[WIND_TEXTS] = winds
    return canonical_json(plain(value))


def _order(item: tuple[Scope, ScopeValues]) -> tuple[int, str]:
    return item[0].day or 0, item[0].class_name or ""


def kept_settings(text: str) -> KeptSettings:
    """Return what the text of a revision holds. ValueError, KeyError or TypeError where it is none of ours."""
    value = json.loads(text)
    scoped = {}
    for entry in value.pop(SCOPED, []):
        scope = Scope(entry["class"], entry["day"])
        if scope == Scope() or scope in scoped:
            raise ValueError(f"values of {scope} stand among those of classes and days")
        zones = {Role(role): parse_zone(zone) for role, zone in entry["zones"].items()}
        ordered = {role: zones[role] for role in Role if role in zones}
        scoped[scope] = ScopeValues(ordered, dict(entry["settings"]))
    winds = {int(day): str(wind) for day, wind in value.pop(WIND_TEXTS, {}).items()}
    return KeptSettings(value, scoped, winds)


def with_winds(days: Sequence[ContestDay], winds: Mapping[int, str]) -> tuple[ContestDay, ...]:
    """Return the days with their winds as typed; `contest_day` has no column for them."""
    return tuple(replace(day, wind_text=winds[day.number]) if day.number in winds else day for day in days)
