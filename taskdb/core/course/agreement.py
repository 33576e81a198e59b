"""Whether what somebody else holds of a task is the task: point by point, zones as far as they are known. Pure.

Positions and zones are held against what a format can say: its rounding is no difference.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from taskdb.core.course.axes import default_orientation
from taskdb.core.course.free import NOT_SAID, free_values
from taskdb.core.course.zones import canonical, same_geometry
from taskdb.core.geodesy import distance_m
from taskdb.core.model import FreeChoice, Place, Position, Role, Shape, Task, TaskPoint, TaskType, Zone
from taskdb.core.numbers import counted
from taskdb.core.quantities import format_duration, format_short_distance


@dataclass(frozen=True, slots=True)
class Rounding:
    """How far apart what is equal may lie: positions and sizes in metres, directions in degrees."""

    position_m: float = 0.2
    size_m: float = 0.06
    angle_deg: float = 0.0001


TASK_FILE = Rounding()
DECLARATION = Rounding(position_m=2.7, size_m=0.6, angle_deg=0.0006)
"""0.001 minute is 1.855 m at most, rounded or cut off in both coordinates; areas end at 1 m and 0.001°."""


@dataclass(frozen=True, slots=True)
class HeldPoint:
    """A point as it is held elsewhere. `zone` None: nothing is known of it."""

    label: str
    position: Position
    zone: Zone | None = None


@dataclass(frozen=True, slots=True)
class HeldTask:
    """A task as it is held elsewhere; None where nothing is known."""

    points: tuple[HeldPoint, ...]
    type: TaskType | None = None
    time_s: int | None = None
    free: FreeChoice | None = None
    take_off: HeldPoint | None = None
    landing: HeldPoint | None = None


@dataclass(frozen=True, slots=True)
class HeldDifference:
    """One thing in which what is held differs; `what` is position, zone, points, type, time, free, take-off or landing.

    `off_m` is how far apart two positions lie; None where something else differs.
    """

    number: int | None
    what: str
    off_m: float | None = field(default=None, kw_only=True)
    message: str


def differences(task: Task, held: HeldTask, rounding: Rounding = TASK_FILE) -> tuple[HeldDifference, ...]:
    """Return every difference, that of the first point first; empty where nothing that is known differs."""
    found: list[HeldDifference] = []
    for number, (official, point) in enumerate(zip(task.points, held.points, strict=False)):
        off = _off(f"point {number}", "position", number, official.place, point, rounding)
        if off is not None:
            found.append(off)
        elif point.zone is not None and not _same_zone(official, point.zone, rounding):
            message = f"point {number} ({official.place.code}) has the zone {point.zone.text!r}"
            found.append(HeldDifference(number, "zone", f"{message}; in the task it is {official.zone.text!r}"))
    counts = (len(held.points), len(task.points))
    if counts[0] != counts[1]:
        found.append(
            HeldDifference(min(counts), "points", f"it has {counted(counts[0], 'point')}; the task has {counts[1]}")
        )
    if held.type not in (None, task.type):
        found.append(HeldDifference(None, "type", f"its type is {held.type}; the task's is {task.type}"))
    if held.time_s is not None and held.time_s != task.time_s:
        official_time = "none" if task.time_s is None else format_duration(task.time_s)
        message = f"its time is {format_duration(held.time_s)}; the task's is {official_time}"
        found.append(HeldDifference(None, "time", message))
    found += _free_differences(task.free, held.free)
    for label, place, end in (("take-off", task.take_off, held.take_off), ("landing", task.landing, held.landing)):
        if place is not None and end is not None:
            off = _off(f"the {label}", label, None, place, end, rounding)
            found += [off] if off is not None else []
    return tuple(found)


def _free_differences(official: FreeChoice | None, held: FreeChoice | None) -> list[HeldDifference]:
    """Return what differs in what is left to the pilot; what one of both does not say is no difference."""
    ours, theirs = dict(free_values(official)), dict(free_values(held))
    same_zone = official and held and official.zone and held.zone and same_geometry(official.zone, held.zone)
    return [
        HeldDifference(None, "free", f"its {what}: {theirs[what]}; the task's: {value}")
        for what, value in ours.items()
        if what in theirs
        and theirs[what] != value
        and NOT_SAID not in (value, theirs[what])
        and not (same_zone and what.startswith("zone"))
    ]


def not_known(task: Task, held: HeldTask) -> tuple[str, ...]:
    """Return what could not be compared: zones by the numbers of their points, type, time."""
    lacking = [str(number) for number, point in enumerate(held.points) if point.zone is None]
    zones = "zones" if len(lacking) == len(held.points) else f"zones of points {', '.join(lacking)}"
    parts = (
        (zones, bool(lacking)),
        ("type", held.type is None),
        ("time", held.time_s is None and task.time_s is not None),
    )
    return tuple(text for text, is_lacking in parts if is_lacking)


def _off(
    label: str, what: str, number: int | None, place: Place, held: HeldPoint, rounding: Rounding
) -> HeldDifference | None:
    off_m = distance_m(place.position, held.position)
    if off_m <= rounding.position_m:
        return None
    shown = f"{off_m:.1f} m" if off_m < 99.95 else format_short_distance(off_m)
    official = f"{place.code} {place.name}".strip()
    said = (
        f", there called {held.label!r}," if held.label and held.label not in (place.code, place.name, official) else ""
    )
    return HeldDifference(number, what, f"{label} ({official}){said} is {shown} off", off_m=off_m)


def _same_zone(official: TaskPoint, zone: Zone, rounding: Rounding) -> bool:
    ours, theirs = (_airspace(each, official.role) for each in (official.zone, zone))
    if (ours.shape, ours.orientation) != (theirs.shape, theirs.orientation):
        return False
    sizes = ((z.radius_m, z.inner_radius_m, z.length_m, z.core_radius_m) for z in (ours, theirs))
    angles = ((z.opening_deg, z.from_radial_deg, z.to_radial_deg, z.axis_deg) for z in (ours, theirs))
    return all(_near(a, b, rounding.size_m) for a, b in zip(*sizes, strict=True)) and all(
        _near(a, b, rounding.angle_deg, turn=360.0) for a, b in zip(*angles, strict=True)
    )


def _airspace(zone: Zone, role: Role) -> Zone:
    """Return a zone in the one form that its airspace has: a cylinder of role area is an area, directions are told."""
    is_area = role is Role.AREA and zone.shape is Shape.CYLINDER
    told = canonical(zone, default_orientation(zone.shape, role))
    return replace(told, shape=Shape.AREA) if is_area else told


def _near(a: float | None, b: float | None, limit: float, turn: float | None = None) -> bool:
    if a is None or b is None:
        return a is b
    apart = abs(a - b)
    return min(apart, abs(turn - apart)) <= limit if turn is not None else apart <= limit
