"""What changed between two states of a set, as values. By identity, never by code.

Two states of a waypoint are equal where their canonical values are (1e-7°, 0.1 m, trimmed NFC text); what was typed
and what a format kept beside them make no change.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from taskdb.core.model import VALUE_FIELDS, Position, Runway, Waypoint
from taskdb.core.names import clean_text

Change = tuple[Waypoint, Waypoint]
"""A waypoint before and after."""


@dataclass(frozen=True, slots=True)
class SetChanges:
    """What one revision of a set does; every waypoint has its identity, the new half of a change its old one's."""

    added: Iterable[Waypoint] = ()
    changed: Iterable[Change] = ()
    retired: Iterable[Waypoint] = ()


@dataclass(frozen=True, slots=True)
class SetDiff:
    """What turns one state of a set into another: each part in code-point order of code (the new one of a change)."""

    added: tuple[Waypoint, ...] = ()
    retired: tuple[Waypoint, ...] = ()
    changed: tuple[Change, ...] = ()

    @staticmethod
    def of(added: Iterable[Waypoint], retired: Iterable[Waypoint], changed: Iterable[Change]) -> SetDiff:
        """Return a difference with its parts in order."""
        return SetDiff(
            added=tuple(sorted(added, key=_code)),
            retired=tuple(sorted(retired, key=_code)),
            changed=tuple(sorted(changed, key=lambda change: change[1].code)),
        )

    @property
    def is_empty(self) -> bool:
        return not (self.added or self.retired or self.changed)

    @property
    def bases(self) -> list[Waypoint]:
        """Every waypoint whose standing it speaks of, as it stood before."""
        return [*self.retired, *(old for old, _ in self.changed)]


def _canonical(name: str, value: Any) -> Any:
    if value is None or value == "":
        return "" if name in ("code", "name") else None
    if isinstance(value, Position):
        return value.latitude_e7, value.longitude_e7
    if name == "elevation_m":
        return round(value * 10)
    if name == "runways":
        return tuple(_canonical_runway(runway) for runway in value)
    if isinstance(value, str) and type(value) is str:
        return clean_text(value)
    return value


def _canonical_runway(runway: Runway) -> tuple[Any, ...]:
    tenths = (runway.heading_true_deg, runway.length_m, runway.width_m)
    numbers = tuple(None if value is None else round(value * 10) for value in tenths)
    return (runway.designator or None, *numbers, runway.surface or None, runway.one_way)


def values_of(waypoint: Waypoint) -> Mapping[str, Any]:
    """Return the canonical value of each field whose change makes a new state."""
    return {name: _canonical(name, getattr(waypoint, name)) for name in VALUE_FIELDS}


def changed_fields(old: Waypoint, new: Waypoint) -> tuple[str, ...]:
    """Return the names of the fields whose canonical values differ, in the order of VALUE_FIELDS."""
    if old == new:
        return ()
    differing = []
    for name in VALUE_FIELDS:
        before, after = getattr(old, name), getattr(new, name)
        if before != after and _canonical(name, before) != _canonical(name, after):
            differing.append(name)
    return tuple(differing)


def _code(waypoint: Waypoint) -> str:
    return waypoint.code


def diff(old: Iterable[Waypoint], new: Iterable[Waypoint]) -> SetDiff:
    """Return what turns the state `old` into the state `new`. Every waypoint must have an identity."""
    before = _by_identity(old)
    after = _by_identity(new)
    changed = [
        (before[identity], waypoint)
        for identity, waypoint in after.items()
        if identity in before and changed_fields(before[identity], waypoint)
    ]
    return SetDiff.of(
        added=(w for identity, w in after.items() if identity not in before),
        retired=(w for identity, w in before.items() if identity not in after),
        changed=changed,
    )


def identity_of(waypoint: Waypoint) -> str:
    """Return a waypoint's identity; ValueError where it has none."""
    if waypoint.identity is None:
        raise ValueError(f"the waypoint {waypoint.code} has no identity")
    return waypoint.identity


def _by_identity(state: Iterable[Waypoint]) -> dict[str, Waypoint]:
    return {identity_of(waypoint): waypoint for waypoint in state}
