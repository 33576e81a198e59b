"""Putting a task's points together: roles from place and type, zones from hand or defaults, editing by number.

Pure list work on values; what a point's words mean is decided before (services), what the course measures after.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from taskdb.core.course.axes import resolve_points
from taskdb.core.course.zones import BUILT_IN_ZONES, allowed_for_role
from taskdb.core.model import Place, Role, Shape, TaskPoint, TaskType, Zone, ZoneFrom
from taskdb.core.pasted import quoted
from taskdb.errors import RefusedError, UsageError


@dataclass(frozen=True, slots=True)
class Chosen:
    """A place of a task with the zone set for it by hand, or None where the default of its role counts."""

    place: Place
    own_zone: Zone | None = None


@dataclass(frozen=True, slots=True)
class ZoneChoice:
    """A zone for a point number or a group (`start`, `finish`, `turns`, `areas`); None: back to the default."""

    target: int | str
    zone: Zone | None


GROUPS: Mapping[str, Role] = {"start": Role.START, "finish": Role.FINISH, "turns": Role.TURN, "areas": Role.AREA}


def default_type(own_zones: Sequence[Zone | None]) -> TaskType:
    """Return the type of a task for which none was named: assigned-area where a zone of shape area was given."""
    has_area = any(zone is not None and zone.shape is Shape.AREA for zone in own_zones)
    return TaskType.ASSIGNED_AREA if has_area else TaskType.RACING


def roles_of(count: int, task_type: TaskType) -> tuple[Role, ...]:
    """Return the roles of `count` points: first start, last finish, between them area or turn by type.

    Raises UsageError below two points: a course has at least a start and a finish.
    """
    if count < 2:
        raise UsageError(
            "too-few-points",
            f"A task needs at least a start and a finish; {count} given.",
            hint="Name the points in order, e.g. `taskdb task new NAME HOME QUARRY CASTLE HOME`.",
        )
    between = Role.AREA if task_type is TaskType.ASSIGNED_AREA else Role.TURN
    return (Role.START, *[between] * (count - 2), Role.FINISH)


def defaults_of(
    contest_zones: Mapping[Role, Zone] | None, nearer: Sequence[tuple[Mapping[Role, Zone], ZoneFrom]] = ()
) -> Mapping[Role, tuple[Zone, ZoneFrom]]:
    """Return each role's default zone and where it comes from; the built-in one where the contest has none.

    `nearer` are the zones of a class and a day, the nearest first: they go before the contest's.
    """
    layers = (*nearer, (contest_zones or {}, ZoneFrom.CONTEST), (BUILT_IN_ZONES, ZoneFrom.BUILT_IN))
    return {role: next((own[role], origin) for own, origin in layers if role in own) for role in BUILT_IN_ZONES}


def assemble(
    chosen: Sequence[Chosen], task_type: TaskType, defaults: Mapping[Role, tuple[Zone, ZoneFrom]]
) -> tuple[TaskPoint, ...]:
    """Return the task's points with roles, zones and resolved axes.

    Raises UsageError below two points, RefusedError where a zone cannot serve its role or has no direction.
    """
    points = []
    for number, (choice, role) in enumerate(zip(chosen, roles_of(len(chosen), task_type), strict=True)):
        zone, origin = (choice.own_zone, ZoneFrom.OWN) if choice.own_zone is not None else defaults[role]
        reason = allowed_for_role(zone, role)
        if reason is not None:
            raise RefusedError(
                "zone-not-for-role",
                f"Point {number} ({choice.place.code}), of role {role}, cannot have the zone {zone.text!r}: {reason}.",
                hint=f"Give it another zone, e.g. --zone {quoted(f'{number}={BUILT_IN_ZONES[role].text}')}",
            )
        points.append(TaskPoint(choice.place, role, zone, origin))
    return resolve_points(points)


def chosen_of(points: Sequence[TaskPoint]) -> list[Chosen]:
    """Return the choices behind saved points: a zone set by hand stays with its point, a default one does not."""
    return [
        Chosen(point.place, replace(point.zone, axis_deg=None) if point.zone_from is ZoneFrom.OWN else None)
        for point in points
    ]


def with_zones(chosen: Sequence[Chosen], choices: Sequence[ZoneChoice], task_type: TaskType) -> list[Chosen]:
    """Return the choices with zones set by number or group, later ones winning.

    Raises UsageError for a number that is not there or a group that the task has none of.
    """
    result = list(chosen)
    roles = roles_of(len(result), task_type)
    for choice in choices:
        if isinstance(choice.target, int):
            require_number(choice.target, len(result))
            targets = [choice.target]
        else:
            targets = [n for n, role in enumerate(roles) if role is GROUPS[choice.target]]
            if not targets:
                raise UsageError(
                    "no-such-point",
                    f"This {task_type} task has no points of the group {choice.target!r}.",
                    hint="Groups are start, finish, turns (racing, declared, modified) and areas (assigned area).",
                )
        for number in targets:
            result[number] = replace(result[number], own_zone=choice.zone)
    return result


def require_number(number: int, count: int) -> None:
    """Raise UsageError unless point `number` exists among `count` points, numbered from 0."""
    if not 0 <= number < count:
        raise UsageError(
            "no-such-point",
            f"There is no point {number}; the points are numbered 0 (start) to {count - 1} (finish).",
            hint="`taskdb task show NAME` lists the points with their numbers.",
        )


def insert(chosen: Sequence[Chosen], number: int, new: Chosen) -> list[Chosen]:
    """Return the choices with `new` as point `number`, the rest moved up; the count itself appends."""
    require_number(number, len(chosen) + 1)
    return [*chosen[:number], new, *chosen[number:]]


def move(chosen: Sequence[Chosen], number: int, to: int) -> list[Chosen]:
    """Return the choices with point `number` become point `to`."""
    require_number(number, len(chosen))
    require_number(to, len(chosen))
    rest = [*chosen[:number], *chosen[number + 1 :]]
    return [*rest[:to], chosen[number], *rest[to:]]


def drop(chosen: Sequence[Chosen], number: int) -> list[Chosen]:
    """Return the choices without point `number`."""
    require_number(number, len(chosen))
    return [*chosen[:number], *chosen[number + 1 :]]


def substitute(chosen: Sequence[Chosen], number: int, place: Place) -> list[Chosen]:
    """Return the choices with another place as point `number`; a zone set by hand stays."""
    require_number(number, len(chosen))
    return [*chosen[:number], replace(chosen[number], place=place), *chosen[number + 1 :]]


def turned_round(chosen: Sequence[Chosen]) -> list[Chosen]:
    """Return the choices in the opposite order; a zone set by hand stays with its point."""
    return list(reversed(chosen))


def started_at(chosen: Sequence[Chosen], number: int) -> list[Chosen]:
    """Return a closed course begun and ended at its point `number`; zones set by hand stay with their points.

    Raises RefusedError where the course does not end where it starts: there is no round to begin elsewhere.
    """
    require_number(number, len(chosen))
    if len(chosen) < 3 or _place_key(chosen[0]) != _place_key(chosen[-1]):
        raise RefusedError(
            "not-closed",
            "Only a course that ends at its start can be begun at another point.",
            hint="Name the points in order with `taskdb task new`.",
        )
    ring = list(chosen[:-1])
    at = number % len(ring)
    turned = [*ring[at:], *ring[:at]]
    return [*turned, Chosen(turned[0].place)]


def _place_key(choice: Chosen) -> object:
    return choice.place.identity or choice.place.position
