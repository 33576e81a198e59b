"""A task as a GPX 1.1 route: the points in order for everyone, zones and the rest in an extension of our own.

The extension's namespace is `urn:taskdb:task:1`. In the route stands an element `task` with the task's single values
under their JSON names as attributes (`type`, `time_s` …) and in it `take-off`, `landing`, `free` and `tag`; in each
point an element `zone` with `role`, `from` (where the zone came from) and the zone's values under the names of its
JSON form (metres, true degrees); its `text` alone says the whole zone.
"""

from __future__ import annotations

from typing import BinaryIO

from taskdb.core.course.free import free_words
from taskdb.core.course.zones import describe_zone
from taskdb.core.model import Place, TaskPoint
from taskdb.core.quantities import format_distance, format_duration
from taskdb.formats.exported import ExportedTask, coordinate, number, zone_values
from taskdb.formats.markup.xml_text import document, element, maybe
from taskdb.formats.tasks.values import free_lost, limits_lost, whole_texts

GPX_NAMESPACE = "http://www.topografix.com/GPX/1/1"
TASK_NAMESPACE = "urn:taskdb:task:1"

LOST = "zones and what belongs to the task as a whole, for programs that do not know our extension"


def write_gpx_task(stream: BinaryIO, exported: ExportedTask) -> tuple[str, ...]:
    """Write a task as a route and return what other programs will not see of it."""
    task = exported.task
    # The order of children is the schema's: in a route the extensions stand before the points.
    route = [
        *element("name", task.name),
        *element("desc", describe(exported)),
        *element("type", task.type.value),
        *element("extensions", _whole(exported)),
    ]
    for point in task.points:
        route += _point(point)
    root = element(
        "gpx",
        [*element("metadata", element("name", task.name)), *element("rte", route)],
        {"xmlns": GPX_NAMESPACE, "xmlns:t": TASK_NAMESPACE, "version": "1.1", "creator": "taskdb"},
    )
    stream.write(document(root))
    return (LOST, *free_lost(exported), *limits_lost(exported))


def describe(exported: ExportedTask) -> str:
    """Return a task in one line: mark, type, distance, time, set, revision, fingerprint, what is left to the pilot."""
    task, distances = exported.task, exported.course.distances
    words = [*([exported.mark.upper()] if exported.mark else []), task.type.value.replace("-", " ")]
    if distances.minimum_m is not None and distances.maximum_m is not None and distances.minimum_m != distances.task_m:
        words.append(f"{format_distance(distances.minimum_m)} to {format_distance(distances.maximum_m)}")
    else:
        words.append(format_distance(distances.task_m))
    if task.time_s is not None:
        words.append(format_duration(task.time_s))
    words.append(f"revision {exported.revision} on {task.set_name}@{task.set_revision}")
    words.append(f"fingerprint {exported.fingerprint}")
    line = ", ".join(words)
    return line if task.free is None else f"{line}. {free_words(task.free)}"


def _whole(exported: ExportedTask) -> list[str]:
    """Return our element of the task as a whole."""
    task, free = exported.task, exported.task.free
    inside: list[str] = []
    for name, place in (("t:take-off", task.take_off), ("t:landing", task.landing)):
        if place is not None:
            inside += element(name, None, _place_attributes(place))
    if free is not None:
        most = None if free.most_points is None else str(free.most_points)
        repeat = "true" if free.no_repeat else None
        codes = [line for code in free.from_codes for line in element("t:code", code)]
        zone = None if free.zone is None else free.zone.text
        origin = None if free.zone_from is None else free.zone_from.value
        attributes = {
            "most_points": most, "from_set": free.from_set, "no_repeat": repeat, "zone": zone, "zone_from": origin,
        }  # fmt: skip
        inside += element("t:free", codes or None, attributes)
    for tag in task.tags:
        inside += element("t:tag", tag)
    return element("t:task", inside or None, whole_texts(exported))


def _place_attributes(place: Place) -> dict[str, str | None]:
    return {
        "code": place.code,
        "name": place.name,
        "lat": coordinate(place.position.latitude_deg),
        "lon": coordinate(place.position.longitude_deg),
        "ele": None if place.elevation_m is None else number(place.elevation_m),
    }


def _point(point: TaskPoint) -> list[str]:
    place: Place = point.place
    values = {
        name: number(value) if isinstance(value, float) else value for name, value in zone_values(point.zone).items()
    }
    own = {"role": point.role.value, "from": point.zone_from.value, **values}
    return element(
        "rtept",
        [
            *maybe("ele", None if place.elevation_m is None else number(place.elevation_m)),
            *element("name", place.code),
            *element("cmt", f"{point.role.value}: {describe_zone(point.zone)}"),
            *maybe("desc", place.name),
            *element("type", point.role.value),
            *element("extensions", element("t:zone", None, own)),
        ],
        {"lat": coordinate(place.position.latitude_deg), "lon": coordinate(place.position.longitude_deg)},
    )
