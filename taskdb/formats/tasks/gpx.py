"""Tasks as GPX: every route of 1.1 and 1.0 is read, else drawn tracks; a route of 1.1 is written.

In the route stand the points in order for everyone, zones and the rest in an extension of our own. Its namespace is
`urn:taskdb:task:1`. In the route stands an element `task` with the task's single values under their JSON names as
attributes (`type`, `time_s` …) and in it `take-off`, `landing`, `free` and `tag`; in each point an element `zone` with
`role`, `from` (where the zone came from) and the zone's values under the names of its JSON form (metres, true degrees);
its `text` alone says the whole zone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any, BinaryIO

from taskdb.core.course.zones import describe_zone
from taskdb.core.model import Place, TaskPoint, Zone
from taskdb.core.numbers import counted
from taskdb.core.plain import course_degrees, degrees, metres
from taskdb.errors import InputError
from taskdb.formats.exported import ExportedTask, coordinate, number
from taskdb.formats.limits import MOST_TASK_ELEMENTS, MOST_TASK_POINTS, require_task_points
from taskdb.formats.markup.gpx import GPX_11, require_gpx
from taskdb.formats.markup.xml import Node, document, element, maybe, read_xml
from taskdb.formats.tasks.lines import Line, a_track, lines_of, read_line
from taskdb.formats.tasks.reading import MOST_POINTS, Problems, ReadPoint, TaskReading, read_label, read_point
from taskdb.formats.tasks.values import describe, free_choice, free_lost, limits_lost, read_whole, whole_texts

TASK_NAMESPACE = "urn:taskdb:task:1"

LOST = "zones and what belongs to the task as a whole, for programs that do not know our extension"


def read_gpx_tasks(stream: BinaryIO) -> tuple[TaskReading, ...]:
    """Return the routes of a GPX file; where it has none the tracks that were drawn, and not flown.

    InputError for what is no GPX or has neither.
    """
    places: list[Node] = []
    fixes = Counter[int]()
    found = 0

    def take(node: Node, around: Sequence[Node]) -> bool:
        nonlocal found
        if node.name == "wpt" and (found := found + 1) <= MOST_TASK_POINTS:
            places.append(Node(node.namespace, "wpt", node.attributes, node.line, children=node.children))
        if node.name != "trkpt" or not around:
            return node.name == "wpt"
        fixes[id(around[-1])] += 1
        return len(around[-1].children) > MOST_POINTS + 1

    root, _ = read_xml(stream, take, most_kept=MOST_TASK_ELEMENTS)
    require_gpx(root, "Give a GPX file.")
    routes = [child for child in root.children if child.name == "rte" and child.namespace == root.namespace]
    tracks = [child for child in root.children if child.name == "trk" and child.namespace == root.namespace]
    if routes:
        notes = (f"{counted(len(tracks), 'track')} left aside: the file has routes",) if tracks else ()
        return tuple(_route(route, notes) for route in routes)
    require_task_points(found)  # only routes can do without their names
    lines = [_track(track, fixes) for track in tracks]
    drawn = lines_of("gpx", lines, _named(places)) or lines_of("gpx", lines, ())
    if not drawn:
        raise InputError(
            "no-tasks",
            "The GPX file has no routes: way points have no order.",
            hint="Way points are taken in with `taskdb set import FILE --into SET`.",
        )
    return drawn


def _track(track: Node, fixes: Counter[int]) -> Line:
    """Return a track as a line; of one in several pieces, or with times, that it was flown."""
    pieces = [piece for piece in track.children if piece.name == "trkseg"]
    points = [point for piece in pieces for point in piece.children if point.name == "trkpt"]
    flown = len(pieces) > 1 or any(point.find("time") is not None for point in points)
    vertices = [(point.attributes.get("lat", ""), point.attributes.get("lon", "")) for point in points]
    count = sum(fixes[id(piece)] for piece in pieces)
    return read_line(track.line, read_label(track.value("name")), vertices, count=count, flown=flown)


def _named(places: list[Node]) -> list[ReadPoint]:
    """Return the way points with a position; what is wrong with the others is no matter of a task."""
    found = (_point(Problems(), node) for node in places)
    return [point for point in found if point is not None]


def _own(node: Node, name: str) -> Node | None:
    """Return our own element of that name among a node's extensions."""
    extensions = node.find("extensions")
    children = () if extensions is None else extensions.children
    return next((c for c in children if c.namespace == TASK_NAMESPACE and c.name == name), None)


def _route(route: Node, notes: tuple[str, ...]) -> TaskReading:
    problems = Problems()
    nodes = [node for node in route.children if node.name == "rtept"]
    whole = _own(route, "task")
    if whole is None and len(nodes) > MOST_POINTS:
        problems.found.append(a_track(route.line, len(nodes)))
        nodes = []
    found = [_point(problems, node) for node in nodes]
    values: dict[str, Any] = {}
    if whole is not None:
        values = read_whole(problems, whole.line, whole.attributes)
        values["take_off"] = _place(problems, whole, "take-off")
        values["landing"] = _place(problems, whole, "landing")
        values["tags"] = tuple(child.text for child in whole.children if child.name == "tag")
        free = whole.find("free")
        if free is not None:
            codes = [child.text for child in free.children if child.name == "code"]
            most = problems.whole(free.line, "most_points", free.attributes.get("most_points", ""))
            again = free.attributes.get("no_repeat") == "true"
            told = {**free.attributes, "most_points": most, "from_codes": codes, "no_repeat": again}
            values["free"] = free_choice(problems, free.line, told)
    return TaskReading(
        format="gpx",
        name=read_label(route.value("name")),
        points=tuple(point for point in found if point is not None),
        problems=problems.sorted(),
        notes=notes,
        **values,
    )


def _point(problems: Problems, node: Node) -> ReadPoint | None:
    zone = _own(node, "zone")
    told = {} if zone is None else zone.attributes
    # In our own files the name is the code; in others there is one name, and it may be either.
    code, name = (node.value("name"), node.value("desc")) if zone is not None else ("", node.value("name"))
    texts = {
        "latitude_deg": node.attributes.get("lat", ""),
        "longitude_deg": node.attributes.get("lon", ""),
        "ele": node.value("ele"),
        "zone": told.get("text", ""),
        "role": told.get("role", ""),
        "from": told.get("from", ""),
        "code": code,
        "name": name,
    }
    return read_point(problems, node.line, texts, elevation="ele", origin="from")


def _place(problems: Problems, whole: Node, name: str) -> ReadPoint | None:
    node = whole.find(name)
    if node is None:
        return None
    told = {name: node.attributes.get(name, "") for name in ("code", "name", "ele")}
    at = {"latitude_deg": node.attributes.get("lat", ""), "longitude_deg": node.attributes.get("lon", "")}
    return read_point(problems, node.line, told | at, elevation="ele")


# Writing


def write_gpx_task(stream: BinaryIO, exported: ExportedTask) -> tuple[str, ...]:
    """Write a task as a route and return what other programs will not see of it."""
    task = exported.task
    # The order of children is the schema's: in a route the extensions stand before the points.
    route = [
        *element("name", task.name),
        *element("desc", describe(exported)),
        *element("type", task.type.value),
        *element("extensions", _whole_lines(exported)),
    ]
    for point in task.points:
        route += _point_lines(point)
    root = element(
        "gpx",
        [*element("metadata", element("name", task.name)), *element("rte", route)],
        {"xmlns": GPX_11, "xmlns:t": TASK_NAMESPACE, "version": "1.1", "creator": "taskdb"},
    )
    stream.write(document(root))
    return (LOST, *free_lost(exported), *limits_lost(exported))


def _whole_lines(exported: ExportedTask) -> list[str]:
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


def _point_lines(point: TaskPoint) -> list[str]:
    place: Place = point.place
    values = {
        name: number(value) if isinstance(value, float) else value for name, value in _zone_values(point.zone).items()
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


def _zone_values(zone: Zone) -> dict[str, Any]:
    """Return what applies to a zone's shape, by the names of its JSON form; metres and true degrees."""
    lengths = {
        "radius_m": zone.radius_m,
        "inner_radius_m": zone.inner_radius_m,
        "length_m": zone.length_m,
        "core_radius_m": zone.core_radius_m,
    }
    angles = {"from_radial_deg": zone.from_radial_deg, "to_radial_deg": zone.to_radial_deg, "axis_deg": zone.axis_deg}
    values: dict[str, Any] = {"shape": zone.shape.value}
    values |= {name: metres(value) for name, value in lengths.items() if value is not None}
    if zone.opening_deg is not None:
        values["opening_deg"] = degrees(zone.opening_deg)
    values |= {name: course_degrees(value) for name, value in angles.items() if value is not None}
    if zone.orientation is not None:
        values["orientation"] = zone.orientation.value
    values["text"] = zone.text
    return values
