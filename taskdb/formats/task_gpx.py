"""A task as a GPX 1.1 route: the points in order for everyone, zones and the rest in an extension of our own.

The extension's namespace is `urn:taskdb:task:1`: in the route an element `task` with `revision`, `type`, `set`,
`fingerprint`, `contest`, `day`, `class`, `variant` and `time_s`; in each point an element `zone` with `role` and the
zone's values under the names of its JSON form (metres, true degrees) as attributes.
"""

from __future__ import annotations

from typing import BinaryIO

from taskdb.core.course.zones import describe_zone
from taskdb.core.model import Place, TaskPoint
from taskdb.core.quantities import format_distance, format_duration
from taskdb.formats.exported import ExportedTask, coordinate, number, zone_values
from taskdb.formats.xml_text import document, element, maybe

GPX_NAMESPACE = "http://www.topografix.com/GPX/1/1"
TASK_NAMESPACE = "urn:taskdb:task:1"

LOST = ("programs that do not know our extension read the points and their order, not the zones",)


def write_gpx_task(stream: BinaryIO, exported: ExportedTask) -> tuple[str, ...]:
    """Write a task as a route and return what other programs will not see of it."""
    task = exported.task
    # The order of children is the schema's: in a route the extensions stand before the points.
    route = [
        *element("name", task.name),
        *element("desc", describe(exported)),
        *element("type", task.type.value),
        *element("extensions", element("t:task", None, _task_attributes(exported))),
    ]
    for point in task.points:
        route += _point(point)
    root = element(
        "gpx",
        [*element("metadata", element("name", task.name)), *element("rte", route)],
        {"xmlns": GPX_NAMESPACE, "xmlns:t": TASK_NAMESPACE, "version": "1.1", "creator": "taskdb"},
    )
    stream.write(document(root))
    return LOST


def describe(exported: ExportedTask) -> str:
    """Return a task in one line: type, distance, time, set, revision and fingerprint."""
    task, distances = exported.task, exported.course.distances
    words = [task.type.value.replace("-", " ")]
    if distances.minimum_m is not None and distances.maximum_m is not None and distances.minimum_m != distances.task_m:
        words.append(f"{format_distance(distances.minimum_m)} to {format_distance(distances.maximum_m)}")
    else:
        words.append(format_distance(distances.task_m))
    if task.time_s is not None:
        words.append(format_duration(task.time_s))
    words.append(f"revision {exported.revision} on {task.set_name}@{task.set_revision}")
    words.append(f"fingerprint {exported.fingerprint}")
    return ", ".join(words)


def _task_attributes(exported: ExportedTask) -> dict[str, str | None]:
    task = exported.task
    return {
        "revision": str(exported.revision),
        "type": task.type.value,
        "set": f"{task.set_name}@{task.set_revision}",
        "fingerprint": exported.fingerprint,
        "contest": task.contest,
        "day": None if task.day is None else str(task.day),
        "class": task.class_name,
        "variant": task.variant,
        "time_s": None if task.time_s is None else str(task.time_s),
    }


def _point(point: TaskPoint) -> list[str]:
    place: Place = point.place
    values = {
        name: number(value) if isinstance(value, float) else value for name, value in zone_values(point.zone).items()
    }
    return element(
        "rtept",
        [
            *maybe("ele", None if place.elevation_m is None else number(place.elevation_m)),
            *element("name", place.code),
            *element("cmt", f"{point.role.value}: {describe_zone(point.zone)}"),
            *maybe("desc", place.name),
            *element("type", point.role.value),
            *element("extensions", element("t:zone", None, {"role": point.role.value, **values})),
        ],
        {"lat": coordinate(place.position.latitude_deg), "lon": coordinate(place.position.longitude_deg)},
    )
