"""What a change of a waypoint amounts to: renumbered, renamed, moved how far and where to, which other fields.

Computed once, so that text, JSON, GeoJSON and the notice for members are writers over the same facts.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from taskdb.core.geodesy import distance_m, inverse
from taskdb.core.history.changes import Change, SetDiff, changed_fields
from taskdb.core.history.finer import Said, position_said
from taskdb.core.model import Waypoint

SMALL_MOVE_M = 1.0


@dataclass(frozen=True, slots=True)
class ChangeFacts:
    """A change taken apart. `moved_m` is the geodesic in metres, `bearing_deg` its true course, None where it stayed.

    `others` are the changed fields besides code, name and position, in the order of VALUE_FIELDS. `is_refined`: the
    new position says the old one more finely, within the rounding of what was typed.
    """

    old: Waypoint
    new: Waypoint
    is_renumbered: bool
    is_renamed: bool
    moved_m: float | None
    bearing_deg: float | None
    others: tuple[str, ...]
    is_refined: bool = False


@dataclass(frozen=True, slots=True)
class Counts:
    """How many waypoints each kind of change concerns; one waypoint may count in several kinds of change."""

    added: int
    retired: int
    changed: int
    renumbered: int
    renamed: int
    moved: int
    others: int
    refined: int = 0
    """Those whose position only became finer: they are not among the moved."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """What a tolerance left out: how many moves and elevations, and how many waypoints had nothing else."""

    moves: int = 0
    elevations: int = 0
    waypoints: int = 0

    @property
    def is_nothing(self) -> bool:
        return not (self.moves or self.elevations)


def facts_of(change: Change) -> ChangeFacts:
    """Return what a change amounts to."""
    old, new = change
    fields = changed_fields(old, new)
    moved_m = bearing_deg = None
    is_refined = False
    if "position" in fields:
        line = inverse(old.position, new.position)
        moved_m, bearing_deg = line.distance_m, line.bearing_deg
        is_refined = position_said(old, new) is Said.FINER
    return ChangeFacts(
        old=old,
        new=new,
        is_renumbered="code" in fields,
        is_renamed="name" in fields,
        moved_m=moved_m,
        bearing_deg=bearing_deg,
        others=tuple(name for name in fields if name not in ("code", "name", "position")),
        is_refined=is_refined,
    )


def count_facts(difference: SetDiff, facts: Iterable[ChangeFacts]) -> Counts:
    """Return the headline counts of a difference; `facts` are those of its changes."""
    known = list(facts)
    return Counts(
        added=len(difference.added),
        retired=len(difference.retired),
        changed=len(difference.changed),
        renumbered=sum(fact.is_renumbered for fact in known),
        renamed=sum(fact.is_renamed for fact in known),
        moved=sum(fact.moved_m is not None and not fact.is_refined for fact in known),
        others=sum(bool(fact.others) for fact in known),
        refined=sum(fact.is_refined for fact in known),
    )


def within_tolerance(difference: SetDiff, tolerance_m: float) -> tuple[SetDiff, LeftOut]:
    """Return a difference without moves and elevation changes of at most `tolerance_m`, and what was left out.

    The new half of a change then shows the old value. 0 leaves out nothing.
    """
    if tolerance_m <= 0:
        return difference, LeftOut()
    kept, moves, elevations, waypoints = [], 0, 0, 0
    for old, new in difference.changed:
        seen = new
        if old.position != new.position and distance_m(old.position, new.position) <= tolerance_m:
            seen = replace(seen, position=old.position)
            moves += 1
        if _elevation_within(old, new, tolerance_m):
            seen = replace(seen, elevation_m=old.elevation_m)
            elevations += 1
        if changed_fields(old, seen):
            kept.append((old, seen))
        else:
            waypoints += 1
    left_out = LeftOut(moves, elevations, waypoints)
    return SetDiff(difference.added, difference.retired, tuple(kept)), left_out


def small_moves(facts: Iterable[ChangeFacts]) -> tuple[int, int]:
    """Return how many moves are below a metre, as another rounding makes them, and how many moves there are."""
    moves = [fact.moved_m for fact in facts if fact.moved_m is not None]
    return sum(moved_m < SMALL_MOVE_M for moved_m in moves), len(moves)


def _elevation_within(old: Waypoint, new: Waypoint, tolerance_m: float) -> bool:
    before, after = old.elevation_m, new.elevation_m
    if before is None or after is None or before == after:
        return False
    # Elevations are kept to 0.1 m: in whole decimetres the limit itself is within it.
    return abs(round(before * 10) - round(after * 10)) <= tolerance_m * 10 + 1e-9
