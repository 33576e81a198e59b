"""Tasks of files put onto a set: each point the set's or the task's own, each distinct task once.

Nothing is looked up in a store here, and nothing kept.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from taskdb.core.course import assembly
from taskdb.core.course.assembly import Chosen
from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.course.zones import same_geometry
from taskdb.core.matching.placed import FilePoint, Placement, place_points
from taskdb.core.model import FreeChoice, Place, Role, Shape, Task, TaskType, Waypoint, Zone, ZoneFrom
from taskdb.core.names import code_problem
from taskdb.errors import TaskdbError
from taskdb.formats.registry import ReadPoint, TaskReading
from taskdb.services.tasks.basis import Basis
from taskdb.services.tasks.files import Read, Skipped


@dataclass
class DistinctTask:
    """A task with every reading that declares it."""

    task: Task
    found: list[tuple[Read, Task]]


@dataclass(frozen=True)
class Target:
    """What readings are put onto: the basis, the set's waypoints, and what each file's point is among them."""

    basis: Basis
    codes: frozenset[str]
    placements: Mapping[FilePoint, Placement]

    def of(self, point: ReadPoint) -> Placement:
        return self.placements[_file_point(point)]


def _file_point(point: ReadPoint) -> FilePoint:
    return FilePoint(point.code, point.name, point.position)


def target_of(basis: Basis, read: Sequence[Read], waypoints: Sequence[Waypoint], confirm_far: bool) -> Target:
    points = [
        _file_point(point)
        for one in read
        for point in (*one.reading.points, one.reading.take_off, one.reading.landing)
        if point is not None
    ]
    placements = place_points(points, waypoints, confirm_far=confirm_far)
    return Target(basis, frozenset(waypoint.code for waypoint in waypoints), placements)


def distinct_tasks(read: Sequence[Read], target: Target) -> tuple[list[DistinctTask], list[Skipped]]:
    """Return the distinct tasks in order of their first file, and those that cannot be put together."""
    found: dict[str, DistinctTask] = {}
    refused = []
    for one in read:
        one = replace(one, reading=_without_repeated_ends(one.reading, target))
        try:
            task = _assembled(one.reading, target)
        except TaskdbError as error:
            refused.append(Skipped(one.file, one.reading.name or None, error.message, error=error))
            continue
        # Some formats have no time: what differs in nothing else is the same task.
        key = fingerprint(replace(task, time_s=None))
        found.setdefault(key, DistinctTask(task, [])).found.append((one, task))
    parted = []
    for distinct in found.values():
        times = {task.time_s for _, task in distinct.found if task.time_s is not None}
        parted += [distinct] if len(times) < 2 else _by_time(distinct)
    for distinct in parted:
        distinct.task = max((task for _, task in distinct.found), key=_says)
    return parted, refused


def _without_repeated_ends(reading: TaskReading, target: Target) -> TaskReading:
    """Return a reading whose ends stand once: a leg without length gives their lines no direction, and is told.

    Points with zones of their own stay as they are: whoever set them knows the direction.
    """
    points = [*reading.points]
    told = []

    def is_repeated(one: ReadPoint, other: ReadPoint) -> bool:
        here, there = target.of(one), target.of(other)
        same = here.waypoint.identity if here.waypoint is not None else None
        is_same = same is not None and there.waypoint is not None and same == there.waypoint.identity
        return (is_same or here.position == there.position) and one.zone is None and other.zone is None

    while len(points) > 2 and is_repeated(points[-2], points[-1]):
        told.append(
            f"its last two points are one place ({_label(points[-1])}): the leg of 0 km between them is left out"
        )
        points.pop()
    while len(points) > 2 and is_repeated(points[0], points[1]):
        told.append(
            f"its first two points are one place ({_label(points[0])}): the leg of 0 km between them is left out"
        )
        points.pop(0)
    return replace(reading, points=tuple(points), notes=(*reading.notes, *told)) if told else reading


def _label(point: ReadPoint) -> str:
    return point.code or point.name or f"{point.position.latitude_deg:.5f},{point.position.longitude_deg:.5f}"


def _by_time(distinct: DistinctTask) -> list[DistinctTask]:
    """Return one course flown for several times as several tasks."""
    found: dict[int | None, DistinctTask] = {}
    for one, task in distinct.found:
        found.setdefault(task.time_s, DistinctTask(task, [])).found.append((one, task))
    return list(found.values())


def _says(task: Task) -> tuple[bool, ...]:
    return (task.time_s is not None, task.take_off is not None, task.landing is not None, bool(task.tags))


def _assembled(reading: TaskReading, target: Target) -> Task:
    """Return a reading as a task on the set, under the name that it has in its file."""
    basis = target.basis
    task_type = reading.type or assembly.default_type([point.zone for point in reading.points])
    roles = assembly.roles_of(len(reading.points), task_type)
    chosen = [
        Chosen(_place(point, f"P{number}", target), _own_zone(point, role, basis, reading))
        for number, (point, role) in enumerate(zip(reading.points, roles, strict=True))
    ]
    return basis.task(
        name=reading.name,
        type=task_type,
        points=assembly.assemble(chosen, task_type, basis.defaults_for(None, None)),
        time_s=reading.time_s,
        speed_kmh=reading.speed_kmh,
        free=_free(reading, task_type, basis),
        take_off=None if reading.take_off is None else _place(reading.take_off, "TAKE-OFF", target),
        landing=None if reading.landing is None else _place(reading.landing, "LANDING", target),
        tags=tuple(sorted(set(reading.tags))),
    )


def _place(point: ReadPoint, own_code: str, target: Target) -> Place:
    """Return the set's place, or the task's own: never under a code by which the set has another place."""
    placement = target.of(point)
    if placement.waypoint is not None:
        return Place.of(placement.waypoint)
    label = point.code or point.name
    code = own_code if code_problem(label) is not None or label in target.codes else label
    return Place(code, point.name or point.code or code, placement.position, point.elevation_m)


def _free(reading: TaskReading, task_type: TaskType, basis: Basis) -> FreeChoice | None:
    """Return a modified task's free choice; its zone is a default again where it was one and is the same here."""
    if task_type is not TaskType.MODIFIED:
        return None
    free = reading.free or FreeChoice()
    if free.zone is None:
        return replace(free, zone_from=None)
    default, origin = basis.defaults_for(None, None)[Role.TURN]
    is_default = free.zone_from not in (None, ZoneFrom.OWN) and same_geometry(free.zone, default)
    return replace(free, zone_from=origin if is_default else ZoneFrom.OWN)


def unknown_free(reading: TaskReading, target: Target) -> tuple[str, ...]:
    """Return a note on free points that the set has not: a file names them by their codes alone."""
    codes = () if reading.free is None else reading.free.from_codes
    unknown = [code for code in codes if code not in target.codes]
    if not unknown:
        return ()
    return (f"the points that may be chosen are codes, and {target.basis.at} has no {', '.join(unknown)}",)


def _has_areas(reading: TaskReading) -> bool:
    return any(point.zone is not None and point.zone.shape is Shape.AREA for point in reading.points)


def _own_zone(point: ReadPoint, role: Role, basis: Basis, reading: TaskReading) -> Zone | None:
    """Return the zone that a point has of its own; None where the default of its role counts."""
    # A task from a file has no class and no day yet.
    zone, defaults = point.zone, basis.defaults_for(None, None)
    if zone is None:
        # A turn point between areas is one, and no area of a size that nobody named.
        return defaults[Role.TURN][0] if role is Role.AREA and _has_areas(reading) else None
    was_default = point.zone_from not in (None, ZoneFrom.OWN)
    is_default = was_default and same_geometry(zone, defaults[role][0])
    return None if is_default else zone
