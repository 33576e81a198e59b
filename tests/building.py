"""Tasks built in one line: points in order, each with its place and zone; roles follow from order and type.

task(((48.87, 11.81), "line 1km"), ((49.11, 12.70), "cylinder 500m"), ((48.87, 11.81), "cylinder 3km"))
"""

from __future__ import annotations

import datetime
import itertools
from collections.abc import Mapping
from contextlib import AbstractContextManager
from dataclasses import replace
from typing import Any

from taskdb.core.airspace.volume import Kind, Limit, Reference, Volume
from taskdb.core.course.axes import resolve_points
from taskdb.core.course.fingerprint import fingerprint
from taskdb.core.course.measure import measure_course
from taskdb.core.course.zones import parse_zone
from taskdb.core.model import E7, FlownByLogs, Place, Position, Role, Task, TaskPoint, TaskType, Waypoint, ZoneFrom
from taskdb.formats.exported import ExportedTask
from taskdb.report.sheet import SheetPage
from taskdb.services.desk import Desk, Write
from taskdb.store.engine import NewOperation, Writing

CLOCK_STARTS_AT = datetime.datetime(2027, 5, 1, 8, 0, tzinfo=datetime.UTC)


def waypoint(code: str, name: str, latitude_deg: float, longitude_deg: float, **values: Any) -> Waypoint:
    return Waypoint(code, name, Position.at(latitude_deg, longitude_deg), **values)


def desk(store_url: str, *, looks: int = 0, made: int = 0) -> Desk:
    """Return a desk whose clock ticks a minute a look and whose identities count up.

    `looks` and `made`: how often it was asked for the time and for an identity before.
    """
    minutes = itertools.count(looks)
    numbers = itertools.count(made + 1)
    return Desk(
        store_url=store_url,
        author="librarian",
        now=lambda: CLOCK_STARTS_AT + datetime.timedelta(minutes=next(minutes)),
        new_identity=lambda: f"{next(numbers):032x}",
    )


def flown_by_logs(**values: Any) -> FlownByLogs:
    """Return what three logs told of a day; one flight ended near 002."""
    told = FlownByLogs(
        3, 2, 98.7, 92.4, "2027-05-15T11:02:03Z", "2027-05-15T11:40:00Z", "2027-05-15T13:59:59Z",
        "2027-05-15T14:20:10Z", (("002", 1),), ("00112233" * 4, "0123456789abcdef" * 2, "fedcba9876543210" * 2),
    )  # fmt: skip
    return replace(told, **values)


# -- tasks ------------------------------------------------------------------------------------------------------------

Spot = Position | tuple[float, float]
"""Where something is; a pair is latitude and longitude in degrees."""


def place(at: Spot, code: str = "X", name: str | None = None, **values: Any) -> Place:
    """Return a place, named like its code unless told otherwise."""
    position = at if isinstance(at, Position) else Position.at(*at)
    return Place(code, code if name is None else name, position, **values)


def point(code: str, latitude_deg: float, longitude_deg: float, role: Role, zone: str, **values: Any) -> TaskPoint:
    """Return a point with a zone of its own, as typed: its axis is not resolved."""
    return TaskPoint(place((latitude_deg, longitude_deg), code, **values), role, parse_zone(zone), ZoneFrom.OWN)


def points(
    *stops: tuple[Place | Spot, str], type: TaskType = TaskType.RACING, zone_from: ZoneFrom = ZoneFrom.OWN
) -> tuple[TaskPoint, ...]:
    """Return start, turns or areas, and finish, as typed: axes are not resolved. Bare spots are P0, P1, …"""
    last = len(stops) - 1
    between = Role.AREA if type is TaskType.ASSIGNED_AREA else Role.TURN
    return tuple(
        TaskPoint(
            at if isinstance(at, Place) else place(at, f"P{n}"),
            Role.START if n == 0 else Role.FINISH if n == last else between,
            parse_zone(zone),
            zone_from,
        )
        for n, (at, zone) in enumerate(stops)
    )


def task(
    *stops: tuple[Place | Spot, str],
    type: TaskType = TaskType.RACING,
    zone_from: ZoneFrom = ZoneFrom.OWN,
    name: str = "A",
    on: tuple[str, int] = ("region", 1),
    **fields: Any,
) -> Task:
    """Return a task on a set revision, its axes resolved; `fields` are those of Task."""
    return Task(name, type, resolve_points(points(*stops, type=type, zone_from=zone_from)), *on, **fields)


def rounds(
    spots: list[tuple[float, float]], zones: tuple[str, ...], names: str = "Ort {}", **values: Any
) -> list[tuple[Place, str]]:
    """Return stops coded 000, 001, … whose last is the first place again, under the first one's code and name."""
    last = len(spots) - 1
    return [
        (place(spot, f"{n % last:03d}", names.format(n % last), **values), zone)
        for n, (spot, zone) in enumerate(zip(spots, zones, strict=True))
    ]


def exported(made: Task, revision: int = 1) -> ExportedTask:
    return ExportedTask(made, measure_course(made), revision, fingerprint(made))


def page(made: Task, **more: Any) -> SheetPage:
    """Return the sheet's page of a task at revision 2."""
    return SheetPage(made, 2, measure_course(made), fingerprint(made), **more)


def volume_of_plain(value: Mapping[str, Any]) -> Volume:
    """Return the volume of its JSON form: the inverse of `volume_plain`.

    KeyError, TypeError or ValueError where it is none.
    """
    polygons = [
        [[(round(x * E7), round(y * E7)) for x, y in ring] for ring in polygon] for polygon in value["polygons"]
    ]
    return Volume.of(
        value["name"],
        Kind(value["kind"]),
        _limit_of_plain(value["floor"]),
        _limit_of_plain(value["ceiling"]),
        polygons,
        times=value["times"],
        frequency=value["frequency"],
    )


def _limit_of_plain(value: Mapping[str, Any]) -> Limit:
    metres = value["value_m"]
    return Limit(None if metres is None else float(metres), Reference(value["reference"]), value["text"])


def writing_rows(desk: Desk, write: Write) -> AbstractContextManager[Writing]:
    """Open a write of a desk that holds the lock from its beginning, for rows that no service writes."""
    operation = NewOperation(desk.stamp(), desk.author, write.command, write.note)
    return desk.store.writing(operation, preview=write.preview)
