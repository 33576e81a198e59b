"""A waypoint as the units that are merged: its fields, latitude and longitude being one, and each runway one.

Runways are told apart by their designator; those that share one (a strip beside a runway) are a unit together, since
nothing else says which of them a change meant.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from taskdb.core.history.changes import values_of
from taskdb.core.history.finer import with_typed
from taskdb.core.model import VALUE_FIELDS, Position, Runway, Waypoint

RUNWAY = "runway "
_BLANK = Waypoint(code="", name="", position=Position(0.0, 0.0))
PLAIN_FIELDS = tuple(name for name in VALUE_FIELDS if name != "runways")


@dataclass(frozen=True, slots=True)
class UnitChange:
    """A unit that a difference changes, with its values before and after as the model has them."""

    unit: str
    old: Any
    new: Any


def runway_units(runways: Iterable[Runway]) -> Mapping[str, tuple[Runway, ...]]:
    """Return the runways by unit (`runway 07/25`), in their order."""
    units: dict[str, tuple[Runway, ...]] = {}
    for runway in runways:
        unit = RUNWAY + (runway.designator or "without designator")
        units[unit] = (*units.get(unit, ()), runway)
    return units


def same(unit: str, a: Any, b: Any) -> bool:
    """Say whether two values of a unit are equal in their canonical form."""
    return bool(a == b or _canonical(unit, a) == _canonical(unit, b))


def _canonical(unit: str, value: Any) -> Any:
    field = "runways" if unit.startswith(RUNWAY) else unit
    values: dict[str, Any] = {field: value}
    return values_of(replace(_BLANK, **values))[field]


def value_of(waypoint: Waypoint, unit: str) -> Any:
    """Return a unit's value: the field, or the runways of a designator (none: an empty tuple)."""
    if unit.startswith(RUNWAY):
        return runway_units(waypoint.runways).get(unit, ())
    return getattr(waypoint, unit)


def unit_changes(old: Waypoint, new: Waypoint) -> tuple[UnitChange, ...]:
    """Return the units in which two states differ, in the order of the fields, runways last."""
    found = [
        UnitChange(name, getattr(old, name), getattr(new, name))
        for name in PLAIN_FIELDS
        if not same(name, getattr(old, name), getattr(new, name))
    ]
    before, after = runway_units(old.runways), runway_units(new.runways)
    found += [
        UnitChange(unit, before.get(unit, ()), after.get(unit, ()))
        for unit in dict.fromkeys((*before, *after))
        if not same(unit, before.get(unit, ()), after.get(unit, ()))
    ]
    return tuple(found)


def with_units(waypoint: Waypoint, changes: Sequence[UnitChange], theirs: Waypoint) -> Waypoint:
    """Return a waypoint with some units set to their new values.

    `theirs` is the state that the values come from: what was typed goes with a position or an elevation. A runway
    keeps its place in the list, a new one goes last.
    """
    values: dict[str, Any] = {c.unit: c.new for c in changes if not c.unit.startswith(RUNWAY)}
    runways = dict(runway_units(waypoint.runways))
    for change in changes:
        if change.unit.startswith(RUNWAY):
            runways[change.unit] = change.new
    if any(change.unit.startswith(RUNWAY) for change in changes):
        values["runways"] = _in_order(waypoint.runways, runways)
    if {"position", "elevation_m"} & set(values):
        values["typed"] = with_typed(waypoint.typed, theirs.typed, values)
    return replace(waypoint, **values)


def _in_order(before: Sequence[Runway], units: Mapping[str, tuple[Runway, ...]]) -> tuple[Runway, ...]:
    """Return all runways; those of a unit that did not change keep the place that each had."""
    unchanged = all(units.get(unit) == runways for unit, runways in runway_units(before).items())
    if unchanged:
        known = runway_units(before)
        return (*before, *(runway for unit, new in units.items() if unit not in known for runway in new))
    return tuple(runway for runways in units.values() for runway in runways)
