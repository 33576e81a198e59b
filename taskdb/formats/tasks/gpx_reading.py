"""Tasks read from GPX 1.1 and 1.0: every route, with the zones of our own extension; else drawn tracks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any, BinaryIO

from taskdb.core.model import Role, ZoneFrom
from taskdb.core.numbers import counted
from taskdb.errors import InputError
from taskdb.formats.markup.xml_reading import Node, read_xml
from taskdb.formats.tasks.gpx import TASK_NAMESPACE
from taskdb.formats.tasks.lines import Line, a_track, lines_of, read_line
from taskdb.formats.tasks.reading import MOST_POINTS, Problems, ReadPoint, TaskReading, read_label
from taskdb.formats.tasks.values import free_choice, read_whole
from taskdb.formats.waypoints.gpx import GPX_10, GPX_11


def read_gpx_tasks(stream: BinaryIO) -> tuple[TaskReading, ...]:
    """Return the routes of a GPX file; where it has none the tracks that were drawn, and not flown.

    InputError for what is no GPX or has neither.
    """
    places: list[Node] = []
    fixes = Counter[int]()

    def take(node: Node, around: Sequence[Node]) -> bool:
        if node.name == "wpt":
            places.append(Node(node.namespace, "wpt", node.attributes, node.line, children=node.children))
        if node.name != "trkpt" or not around:
            return node.name == "wpt"
        fixes[id(around[-1])] += 1
        return len(around[-1].children) > MOST_POINTS + 1

    root, _ = read_xml(stream, take)
    if root.name != "gpx" or root.namespace not in (GPX_11, GPX_10, ""):
        raise InputError("not-gpx", f"The file's root is {root.name!r} and not gpx.", hint="Give a GPX file.")
    routes = [child for child in root.children if child.name == "rte" and child.namespace == root.namespace]
    tracks = [child for child in root.children if child.name == "trk" and child.namespace == root.namespace]
    if routes:
        notes = (f"{counted(len(tracks), 'track')} left aside: the file has routes",) if tracks else ()
        return tuple(_route(route, notes) for route in routes)
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
    position = problems.position(node.line, node.attributes.get("lat", ""), node.attributes.get("lon", ""))
    elevation_m = problems.decimal(node.line, "ele", node.value("ele"))
    own = problems.zone(node.line, told.get("text", ""))
    role = problems.choice(node.line, "role", told.get("role", ""), Role)
    origin = problems.choice(node.line, "from", told.get("from", ""), ZoneFrom)
    name = read_label(node.value("name"))
    # In our own files the name is the code; in others there is one name, and it may be either.
    code, name = (name, read_label(node.value("desc"))) if zone is not None else ("", name)
    return None if position is None else ReadPoint(node.line, code, name, position, elevation_m, own, role, origin)


def _place(problems: Problems, whole: Node, name: str) -> ReadPoint | None:
    node = whole.find(name)
    if node is None:
        return None
    told = node.attributes
    position = problems.position(node.line, told.get("lat", ""), told.get("lon", ""))
    elevation_m = problems.decimal(node.line, "ele", told.get("ele", ""))
    if position is None:
        return None
    return ReadPoint(
        node.line, read_label(told.get("code", "")), read_label(told.get("name", "")), position, elevation_m
    )
