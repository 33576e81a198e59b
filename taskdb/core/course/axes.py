"""The direction in which each sector, keyhole and line of a task opens, from true bearings taken at its own point.

Source of the geometry: FAI Sporting Code Section 3, 1.2.9 and 1.1.9 (edition of about 2008). Where a direction does
not exist a bearing is asked for; no side is ever chosen in silence.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from taskdb.core.course.regions import counted_position
from taskdb.core.geodesy import arrival_deg, bearing_deg, turn_deg, wrap_bearing
from taskdb.core.model import Orientation, Position, Role, Shape, TaskPoint, Zone
from taskdb.core.pasted import quoted
from taskdb.errors import RefusedError

STRAIGHT_WITHIN_DEG = 1.0
"""So near to straight through, a bisector has no side that a person would expect."""

_ORIENTED = (Shape.SECTOR, Shape.KEYHOLE, Shape.LINE)
_DEFAULTS = {
    Role.START: Orientation.AWAY_FROM_NEXT,
    Role.TURN: Orientation.BISECTOR,
    Role.AREA: Orientation.BISECTOR,
    Role.FINISH: Orientation.AWAY_FROM_PREVIOUS,
}


def default_orientation(shape: Shape, role: Role) -> Orientation | None:
    """Return the orientation that a zone takes from its point's role; None for a shape without a direction.

    A line between start and finish has none either: it needs a bearing.
    """
    if shape not in _ORIENTED or (shape is Shape.LINE and role not in (Role.START, Role.FINISH)):
        return None
    return _DEFAULTS[role]


def resolve_points(points: Sequence[TaskPoint]) -> tuple[TaskPoint, ...]:
    """Return the points with `axis_deg` set on every zone that has a direction (degrees true, 0 ≤ x < 360).

    Bearings run to where the neighbours count: their place, or the middle of a ring segment. An axis from an earlier
    order of the points is computed anew; one that was typed stays. At a line the axis is the direction of flight
    across it: along the outbound leg (`away-from-next`, `towards-next`) or the inbound leg (`away-from-previous`,
    `towards-previous`), always as flown. Raises RefusedError `no-axis` where a direction does not exist.
    """
    counted = [counted_position(p) for p in points]
    resolved = []
    for number, point in enumerate(points):
        before = counted[number - 1] if number > 0 else None
        after = counted[number + 1] if number + 1 < len(points) else None
        axis = _axis(number, point, before, after)
        resolved.append(
            point if axis == point.zone.axis_deg else replace(point, zone=replace(point.zone, axis_deg=axis))
        )
    return tuple(resolved)


def _axis(number: int, point: TaskPoint, before: Position | None, after: Position | None) -> float | None:
    zone = point.zone
    if zone.shape not in _ORIENTED:
        return None
    orientation = zone.orientation or default_orientation(zone.shape, point.role)
    if orientation is Orientation.BEARING and zone.axis_deg is not None:
        return wrap_bearing(zone.axis_deg)
    if orientation is None or orientation is Orientation.BEARING:
        raise _no_axis(number, point, "a line at a turn has no direction of its own")
    if zone.shape is Shape.LINE:
        return _across_line(number, point, orientation, before, after)
    at = point.place.position
    if orientation is Orientation.BISECTOR:
        return _bisector(number, point, before, after)
    to_next = orientation in (Orientation.AWAY_FROM_NEXT, Orientation.TOWARDS_NEXT)
    bearing = _bearing(number, point, at, after if to_next else before, "next" if to_next else "previous")
    is_away = orientation in (Orientation.AWAY_FROM_NEXT, Orientation.AWAY_FROM_PREVIOUS)
    return wrap_bearing(bearing + 180) if is_away else bearing


def _across_line(
    number: int, point: TaskPoint, orientation: Orientation, before: Position | None, after: Position | None
) -> float:
    at = point.place.position
    if orientation is Orientation.BISECTOR:
        raise _no_axis(number, point, "a line stands square to a leg, not to a bisector")
    if orientation in (Orientation.AWAY_FROM_NEXT, Orientation.TOWARDS_NEXT):
        return _bearing(number, point, at, after, "next")
    inbound = None if before is None else arrival_deg(before, at)
    if inbound is None:
        raise _no_axis(number, point, _absent(before, "previous"))
    return inbound


def _bisector(number: int, point: TaskPoint, before: Position | None, after: Position | None) -> float:
    """Return the remote bisector: half the way from the inbound to the outbound leg, and round to the other side."""
    at = point.place.position
    inbound = _bearing(number, point, at, before, "previous")
    outbound = _bearing(number, point, at, after, "next")
    turn = turn_deg(inbound, outbound)
    if 180 - abs(turn) < STRAIGHT_WITHIN_DEG:
        raise _no_axis(number, point, "the course runs straight through, so the bisector has no side")
    return wrap_bearing(inbound + turn / 2 + 180)


def _absent(neighbour: Position | None, which: str) -> str:
    return f"there is no {which} point" if neighbour is None else f"the {which} point is at the same place"


def _bearing(number: int, point: TaskPoint, at: Position, neighbour: Position | None, which: str) -> float:
    bearing = None if neighbour is None else bearing_deg(at, neighbour)
    if bearing is None:
        raise _no_axis(number, point, _absent(neighbour, which))
    return bearing


def _no_axis(number: int, point: TaskPoint, reason: str) -> RefusedError:
    return RefusedError(
        "no-axis",
        f"Point {number} ({point.place.code}): the direction of '{point.zone.text}' does not exist: {reason}.",
        hint=f"Give a true bearing, for instance --zone {quoted(f'{number}={_with_bearing(point.zone)}')}",
        details={"number": number, "code": point.place.code, "zone": point.zone.text, "reason": reason},
    )


def _with_bearing(zone: Zone) -> str:
    words = zone.text.split()
    if zone.orientation is not None:
        words = words[:-1]
    return " ".join([*words, "235"])
