"""One value said twice, once finer and once coarser: which of the two stands, and is it the same value at all?

A number says no more than its last digit. Where a coarser statement, rounded as it was typed, covers a finer one, both
say the same and the finer one stands, whichever came first: so lists of different fineness can take turns.
"""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass, replace
from enum import Enum

from taskdb.core.ground import filled_by
from taskdb.core.model import Position, Runway, Typed, Waypoint
from taskdb.core.notation.angles import Notation
from taskdb.core.notation.fineness import elevation_step_m, position_steps_e7
from taskdb.core.quantities import FOOT_M

_FULL_TURN_E7 = 3_600_000_000
_EXACT = (1.0, 1.0)
_GRIDS = {Notation.UTM.value, Notation.MGRS.value}
_COARSER_FROM = 1.01
"""Steps nearer than this are one fineness: then a digit that differs is a change."""
_TYPED_PARTS = {
    "position": ("latitude", "longitude", "notation", "decimals"),
    "elevation_m": ("elevation", "elevation_unit"),
}
_ELEVATION_STEP_M = 0.1
_HALF_TENTH = 0.0501


class Said(Enum):
    """What a new statement is to the one that stands."""

    OTHERWISE = "otherwise"
    COARSER = "coarser"
    FINER = "finer"


@dataclass(frozen=True, slots=True)
class Settled:
    """A waypoint after a new statement of it: the fields whose finer value was kept, and those that became finer."""

    waypoint: Waypoint
    kept: tuple[str, ...] = ()
    refined: tuple[str, ...] = ()


def position_said(old: Waypoint, new: Waypoint) -> Said:
    """Return what the new position is to the old one, by what was typed; without typing a position is exact."""
    steps_old = position_steps_e7(old.position, old.typed) or _EXACT
    steps_new = position_steps_e7(new.position, new.typed) or _EXACT
    said = _said(steps_old[0], steps_new[0])
    if said is Said.FINER and _is_decimal(old) and _is_within(old.position, new.position, _EXACT, steps_new):
        # 47.391 may be 47.391000: programs drop zeros at the end of a number, and then it is the finer one.
        return Said.COARSER
    if not _is_within(old.position, new.position, steps_old, steps_new):
        return Said.OTHERWISE
    if said is Said.OTHERWISE and {_notation(old), _notation(new)} == _GRIDS:
        return Said.COARSER  # a metre rounded and a metre cut off: neither is the better one
    return said


def _notation(waypoint: Waypoint) -> str | None:
    return None if waypoint.typed is None else waypoint.typed.notation


def _is_decimal(waypoint: Waypoint) -> bool:
    return _notation(waypoint) == Notation.DECIMAL


def _is_within(a: Position, b: Position, steps_a: tuple[float, float], steps_b: tuple[float, float]) -> bool:
    # Half a step each, and each was rounded to a whole 1e-7 degree besides.
    north, east = ((mine + theirs) / 2.0 + 1.0 for mine, theirs in zip(steps_a, steps_b, strict=True))
    over = abs(a.longitude_e7 - b.longitude_e7)
    return abs(a.latitude_e7 - b.latitude_e7) <= north and min(over, _FULL_TURN_E7 - over) <= east


def _said(step_old: float, step_new: float) -> Said:
    if step_new > step_old * _COARSER_FROM:
        return Said.COARSER
    return Said.FINER if step_old > step_new * _COARSER_FROM else Said.OTHERWISE


def _number_said(old: float, new: float, step_old: float, step_new: float) -> Said:
    if abs(old - new) > (step_old + step_new) / 2.0 + _HALF_TENTH:
        return Said.OTHERWISE
    return _said(step_old, step_new)


def elevation_said(old: Waypoint, new: Waypoint) -> Said:
    """Return what the new elevation is to the old one; one that was not typed is kept to 0.1 m."""
    if old.elevation_m is None or new.elevation_m is None or filled_by(old):  # what is stated beats what was filled in
        return Said.OTHERWISE
    steps = [elevation_step_m(one.elevation_m, one.typed) or _ELEVATION_STEP_M for one in (old, new)]
    return _number_said(old.elevation_m, new.elevation_m, steps[0], steps[1])


def settle(old: Waypoint, new: Waypoint) -> Settled:
    """Return the new waypoint with the finer statement of each value that both state, told by field."""
    kept: list[str] = []
    refined: list[str] = []
    values: dict[str, object] = {}
    if old.position != new.position:
        said = position_said(old, new)
        if said is Said.COARSER:
            kept.append("position")
            values["position"] = old.position
        elif said is Said.FINER:
            refined.append("position")
    if old.elevation_m != new.elevation_m:
        said = elevation_said(old, new)
        if said is Said.COARSER:
            kept.append("elevation_m")
            values["elevation_m"] = old.elevation_m
        elif said is Said.FINER:
            refined.append("elevation_m")
    if old.runways != new.runways:
        runways = _finer_runways(old.runways, new.runways)
        if runways is not None:
            values["runways"] = runways
            (kept if runways == old.runways else refined).append("runways")
    if values:
        typed = with_typed(new.typed, old.typed, kept)  # a value that is kept keeps what was typed for it
        new = replace(new, typed=typed, **values)  # type: ignore[arg-type]
    return Settled(new, tuple(kept), tuple(refined))


def with_typed(typed: Typed | None, of: Typed | None, fields: Container[str]) -> Typed | None:
    """Return what was typed with the part of another for some fields, of which position and elevation were typed."""
    names = [name for field, parts in _TYPED_PARTS.items() if field in fields for name in parts]
    if not names:
        return typed
    typed = replace(typed or Typed(), **{name: getattr(of or Typed(), name) for name in names})
    return None if typed == Typed() else typed


def _finer_runways(old: Sequence[Runway], new: Sequence[Runway]) -> tuple[Runway, ...] | None:
    """Return the runways in their finer numbers; None where they differ otherwise than by rounding.

    What was typed of a runway is not kept: its numbers are taken as whole metres or feet where they are such.
    """
    if len(old) != len(new):
        return None
    found = []
    for a, b in zip(old, new, strict=True):
        if replace(a, length_m=None, width_m=None, heading_true_deg=None) != replace(
            b, length_m=None, width_m=None, heading_true_deg=None
        ):
            return None
        numbers = {
            "length_m": _finer_number(a.length_m, b.length_m, _metres_step(a.length_m), _metres_step(b.length_m)),
            "width_m": _finer_number(a.width_m, b.width_m, _metres_step(a.width_m), _metres_step(b.width_m)),
            "heading_true_deg": _finer_number(
                a.heading_true_deg,
                b.heading_true_deg,
                _whole_step(a.heading_true_deg),
                _whole_step(b.heading_true_deg),
            ),
        }
        if any(number is _APART for number in numbers.values()):
            return None
        found.append(replace(b, **numbers))  # type: ignore[arg-type]
    return tuple(found)


_APART = object()


def _finer_number(old: float | None, new: float | None, step_old: float, step_new: float) -> object:
    if old == new:
        return new
    if old is None or new is None:
        return _APART
    said = _number_said(old, new, step_old, step_new)
    if said is Said.OTHERWISE:
        return _APART
    return old if said is Said.COARSER else new


def _whole_step(value: float | None) -> float:
    return 1.0 if value is not None and round(value * 10) % 10 == 0 else 0.1


def _metres_step(value: float | None) -> float:
    """Return 1 for whole metres, a foot for what whole feet give, else 0.1."""
    if value is None or round(value * 10) % 10 == 0:
        return 1.0
    feet = round(value / FOOT_M)
    return FOOT_M if abs(feet * FOOT_M - value) <= _HALF_TENTH else 0.1
