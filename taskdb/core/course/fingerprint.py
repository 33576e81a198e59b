"""A short code from a task's geometry, to say over the radio: equal tasks give equal codes, whatever their names.

Made from whole numbers only, so that it is the same on every machine; pure hashing, nothing is measured.
"""

from __future__ import annotations

import hashlib

from taskdb.core.course.axes import default_orientation
from taskdb.core.course.zones import canonical
from taskdb.core.model import FreeChoice, Position, Role, Task, TaskPoint, Zone

ALPHABET = "34679AFHKLMRTWXY"
"""Sixteen signs that are not taken for one another by eye (no 0 O Q, 1 I, 2 Z, 5 S, 8 B) nor, mostly, by ear."""

_VERSION = "1"


def fingerprint(task: Task) -> str:
    """Return two groups of four signs, such as `7KMA-94TX`, for a task's geometry, order, type and time.

    Positions count to 1e-6°, sizes to 0.1 m, directions to 1e-4°. Names, codes, elevations, the set, the contest and
    an axis that follows from the other points do not count: resolved and unresolved points give the same code.
    """
    lines = [_VERSION, task.type.value, "" if task.time_s is None else str(task.time_s), _free_line(task.free)]
    lines.extend(_point_line(point) for point in task.points)
    number = int.from_bytes(hashlib.sha256("\n".join(lines).encode("ascii")).digest()[:4], "big")
    signs = "".join(ALPHABET[number >> shift & 15] for shift in range(28, -1, -4))
    return f"{signs[:4]}-{signs[4:]}"


def _free_line(free: FreeChoice | None) -> str:
    if free is None:
        return ""
    counted = f"free {free.most_points} {free.no_repeat}"
    return counted if free.zone is None else f"{counted} {_zone(free.zone, Role.TURN)}"


def _point_line(point: TaskPoint) -> str:
    return f"{point.role.value} {_position(point.place.position)} {_zone(point.zone, point.role)}"


def _position(position: Position) -> str:
    # Rounded in whole numbers: a float rounded twice could fall to either side on another machine.
    latitude = (position.latitude_e7 + 5) // 10
    longitude = (position.longitude_e7 + 5) // 10
    if longitude == 180_000_000:
        longitude = -180_000_000
    if abs(latitude) == 90_000_000:
        longitude = 0
    return f"{latitude} {longitude}"


def _zone(zone: Zone, role: Role) -> str:
    told = canonical(zone, default_orientation(zone.shape, role))
    sizes = (told.radius_m, told.inner_radius_m, told.length_m, told.core_radius_m)
    parts = [told.shape.value, *(_whole(size, 10) for size in sizes), _whole(told.opening_deg, 10_000)]
    parts.extend(_whole(angle, 10_000) for angle in (told.from_radial_deg, told.to_radial_deg, told.axis_deg))
    parts.append("-" if told.orientation is None else told.orientation.value)
    return " ".join(parts)


def _whole(value: float | None, per_unit: int) -> str:
    return "-" if value is None else str(round(value * per_unit))
