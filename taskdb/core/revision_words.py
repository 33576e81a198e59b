"""What differs between two revisions of a contest or of a task, in short words for their logs. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from taskdb.core.contests.scopes import WHOLE, channels_at, day_at, scope_words, scopes_of, value_at, zones_at
from taskdb.core.contests.settings import SETTINGS, Setting, value_of
from taskdb.core.course.compare import PointChange, PointDifference, compare_points
from taskdb.core.course.free import free_values
from taskdb.core.course.zones import same_geometry
from taskdb.core.model import Contest, Place, Role, Scope, Task
from taskdb.core.quantities import format_duration, format_short_distance

UNSET = "not set"
BUILT_IN = "built-in"


def _differing(*values: tuple[str, object, object]) -> list[str]:
    """Return `label old → new` for each label whose two values differ."""
    return [f"{label} {old or UNSET} → {new or UNSET}" for label, old, new in values if old != new]


def contest_changes(before: Contest | None, after: Contest) -> tuple[str, ...]:
    """Return what a contest's revision changed, a few words each; `made` for the first one."""
    if before is None:
        return ("made",)
    told = _differing(
        ("name", before.name, after.name),
        ("set", _pin(before), _pin(after)),
        ("site", before.site, after.site),
        ("first day", before.from_date, after.from_date),
        ("last day", before.to_date, after.to_date),
        ("time zone", before.timezone, after.timezone),
        ("airspace", _airspace(before), _airspace(after)),
    )
    told += _scope_changes(before, after, WHOLE)
    old_classes, new_classes = ({item.name: item for item in contest.classes} for contest in (before, after))
    old_days, new_days = ({str(day.number): day for day in contest.days} for contest in (before, after))
    told += _members("class", old_classes, new_classes)
    told += _members("day", old_days, new_days)
    for scope in dict.fromkeys((*scopes_of(before), *scopes_of(after))):
        gone = (scope.class_name or "") in set(old_classes) - set(new_classes)
        gone = gone or str(scope.day) in set(old_days) - set(new_days)
        if scope != WHOLE and not gone:
            told += [f"{scope_words(scope)}: {words}" for words in _scope_changes(before, after, scope)]
    return tuple(told)


def _members(label: str, before: Mapping[str, object], after: Mapping[str, object]) -> list[str]:
    """Return which classes or days were added and taken out."""
    added = [f"{label} {name} added" for name in after if name not in before]
    return added + [f"{label} {name} taken out" for name in before if name not in after]


def _scope_changes(before: Contest, after: Contest, scope: Scope) -> list[str]:
    """Return what differs in what is set for exactly one scope."""
    told = []
    unset = BUILT_IN if scope == WHOLE else UNSET
    for role in Role:
        old_zone, new_zone = zones_at(before, scope).get(role), zones_at(after, scope).get(role)
        if old_zone != new_zone:
            texts = (unset if zone is None else zone.text for zone in (old_zone, new_zone))
            told.append(f"{role} zone {' → '.join(texts)}")
    old_day, new_day = day_at(before, scope), day_at(after, scope)
    dates = (old_day.date if old_day else None, new_day.date if new_day else None)
    told += _differing(("date", *dates))
    for setting in SETTINGS:
        old_value, new_value = (_value(contest, scope, setting) for contest in (before, after))
        if old_value != new_value:
            told.append(f"{setting.words} {setting.show(old_value)} → {setting.show(new_value)}")
    return told + _channel_changes(channels_at(before, scope), channels_at(after, scope))


def _value(contest: Contest, scope: Scope, setting: Setting) -> Any:
    """Return a setting's value at a scope; of the whole contest its default where nothing is set."""
    return value_of(contest, setting)[0] if scope == WHOLE else value_at(contest, scope, setting.key)


def own_words(contest: Contest, scope: Scope) -> list[str]:
    """Return what is set for exactly one scope, a few words each."""
    words = [f"{role} zone {zone.text}" for role, zone in zones_at(contest, scope).items()]
    for setting in SETTINGS:
        value = value_at(contest, scope, setting.key)
        words += [] if value is None else [f"{setting.words} {setting.show(value)}"]
    return words + [f"channel for {what} {channel}" for what, channel in channels_at(contest, scope).items()]


def _airspace(contest: Contest) -> str:
    return ", ".join(map(str, contest.airspace))


def _pin(contest: Contest) -> str:
    return f"{contest.set_name}@{contest.set_revision}"


def _channel_changes(before: Mapping[str, str], after: Mapping[str, str]) -> list[str]:
    told = []
    for what in sorted({*before, *after}):
        if what not in after:
            told.append(f"channel for {what} taken out")
        elif before.get(what) != after[what]:
            told.append(f"channel for {what} {'changed' if what in before else 'added'}: {after[what]}")
    return told


def task_changes(before: Task | None, after: Task) -> tuple[str, ...]:
    """Return what a task's revision changed, a few words each; `made` for the first one, empty where nothing shows."""
    if before is None:
        return ("made",)
    told = _differing(
        ("name", before.name, after.name),
        ("set", f"{before.set_name}@{before.set_revision}", f"{after.set_name}@{after.set_revision}"),
        ("type", before.type, after.type),
        ("status", before.status, after.status),
        ("day", before.day, after.day),
        ("class", before.class_name, after.class_name),
        ("variant", before.variant, after.variant),
        ("time", _time(before), _time(after)),
        ("speed", _speed(before), _speed(after)),
        ("take-off", _place(before.take_off), _place(after.take_off)),
        ("landing", _place(before.landing), _place(after.landing)),
        ("tags", " ".join(before.tags), " ".join(after.tags)),
    )
    between_sets = before.set_name != after.set_name
    steps = compare_points(before.points, after.points, between_sets=between_sets)
    told += [words for step in steps if (words := _step_words(step, before, after))]
    if before.rules != after.rules:
        told.append("rules of measuring")
    old_free, new_free = dict(free_values(before.free)), dict(free_values(after.free))
    told += _differing(*((what, old_free.get(what), new_free.get(what)) for what in {**old_free, **new_free}))
    return tuple(told)


def _time(task: Task) -> str | None:
    return None if task.time_s is None else format_duration(task.time_s)


def _speed(task: Task) -> str | None:
    return None if task.speed_kmh is None else f"{task.speed_kmh:g} km/h"


def _place(place: Place | None) -> str | None:
    return None if place is None else place.name


def _step_words(step: PointDifference, before: Task, after: Task) -> str | None:
    if step.change is PointChange.DROPPED:
        return f"− {step.code}"
    point = after.points[step.number]
    if step.change is PointChange.ADDED or step.baseline_number is None:
        return f"+ {step.code} as point {step.number}"
    old = before.points[step.baseline_number]
    if step.change is PointChange.REPLACED:
        return f"{step.code} instead of {step.baseline_code}"
    moved = f"moved {format_short_distance(step.distance_m or 0.0)}" if step.change is PointChange.MOVED else None
    zone = None if same_geometry(old.zone, point.zone) else f"{old.zone.text} → {point.zone.text}"
    name = None if (old.place.code, old.place.name) == (point.place.code, point.place.name) else f"was {old.place.code}"
    parts = [part for part in (moved, zone, name) if part]
    return f"{step.code}: {', '.join(parts)}" if parts else None
