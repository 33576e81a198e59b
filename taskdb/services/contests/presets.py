"""A preset taken into a new contest: its zones, settings and classes, each with where it comes from."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from taskdb.core.contests.scopes import set_values, set_zones, source_key
from taskdb.core.contests.settings import BY_KEY, Reach, read_values, with_sources, with_values
from taskdb.core.course.zones import allowed_for_role, parse_zone
from taskdb.core.model import Contest, ContestClass, Role, Scope, Zone
from taskdb.core.names import require_name
from taskdb.core.numbers import counted
from taskdb.errors import InputError, RefusedError, UsageError
from taskdb.reference.presets import Preset


def preset_zones(preset: Preset) -> dict[Role, Zone]:
    """Return a preset's zones. InputError with everything in it, its classes too, that cannot be read."""
    problems: list[str] = []
    zones = _read_preset(preset, "", problems)
    for class_name, own in preset.classes.items():
        _read_preset(own, f"classes.{class_name}.", problems)
        for key in own.settings:
            if key in BY_KEY and BY_KEY[key].reach is Reach.CONTEST:
                problems.append(f"classes.{class_name}.settings.{key}: it is set for the whole contest only")
    if problems:
        raise InputError(
            "not-a-preset",
            f"{preset.name} cannot be used as a preset: {counted(len(problems), 'problem')}.",
            hint=f"Settings: {', '.join(BY_KEY)}.",
            details={"lines": problems},
        )
    return zones


def _read_preset(preset: Preset, where: str, problems: list[str]) -> dict[Role, Zone]:
    """Return the zones of a preset or of one of its classes, and add what cannot be read to the problems."""
    zones: dict[Role, Zone] = {}
    for role, text in preset.zones.items():
        try:
            zones[Role(role)] = parse_zone(text)
        except UsageError as error:
            problems.append(f"{where}zones.{role}: {error.message}")
        except ValueError:
            problems.append(f"{where}zones.{role}: there is no such role; the roles are {', '.join(Role)}")
    for key, text in preset.settings.items():
        try:
            read_values({key: text})
            if BY_KEY[key].reach is Reach.DAY:
                problems.append(f"{where}settings.{key}: it is set for a day only")
        except UsageError as error:
            problems.append(f"{where}settings.{key}: {error.message}")
    return zones


def with_preset(contest: Contest, preset: Preset, by_hand: Collection[str]) -> Contest:
    """Return the contest with a preset's settings and classes, and with where they and its zones come from.

    `by_hand` names the roles and settings that were typed: those stay.
    """
    values = {key: value for key, value in read_values(preset.settings).items() if key not in by_hand}
    contest = with_values(contest, values)
    names = [require_name(name, what="class") for name in preset.classes]
    contest = replace(contest, classes=tuple(ContestClass(name) for name in sorted(names)))
    taken = [*values, *(role for role in preset.zones if role not in by_hand)]
    sources: dict[str, str | None] = {key: _said(preset, key) for key in taken}
    for name, own in preset.classes.items():
        scope = Scope(name)
        zones = _read_preset(own, "", [])
        require_zones(zones)
        contest = set_zones(set_values(contest, read_values(own.settings), scope), zones, scope)
        sources |= {source_key(scope, key): _said(own, key) for key in (*own.settings, *own.zones)}
    return with_sources(contest, sources)


def _said(preset: Preset, key: str) -> str | None:
    source = preset.sources.get(key)
    return f"{preset.name}: {source}" if source else None


def require_zones(zones: Mapping[Role, Zone]) -> None:
    """Raise RefusedError where a zone cannot be the default of its role."""
    for role, zone in zones.items():
        reason = allowed_for_role(zone, role)
        if reason is not None:
            raise RefusedError(
                "zone-not-for-role",
                f"The zone {zone.text!r} cannot be the default of role {role}: {reason}.",
                hint=f"Give another zone with --{role}.",
            )
