"""Tasks read from GPX 1.1 and 1.0: every route is one, with the zones that our own extension holds."""

from __future__ import annotations

from typing import Any, BinaryIO

from taskdb.core.model import Role, ZoneFrom
from taskdb.errors import InputError
from taskdb.formats.gpx_waypoints import GPX_10, GPX_11
from taskdb.formats.task_gpx import TASK_NAMESPACE
from taskdb.formats.task_reading import Problems, ReadPoint, TaskReading, read_label
from taskdb.formats.task_values import free_choice, read_whole
from taskdb.formats.xml_reading import Node, read_xml


def read_gpx_tasks(stream: BinaryIO) -> tuple[TaskReading, ...]:
    """Return the routes of a GPX file. InputError for what is no GPX or has no route."""
    root, _ = read_xml(stream, lambda node: node.name in ("trkpt", "wpt"))
    if root.name != "gpx" or root.namespace not in (GPX_11, GPX_10, ""):
        raise InputError("not-gpx", f"The file's root is {root.name!r} and not gpx.", hint="Give a GPX file.")
    routes = [child for child in root.children if child.name == "rte" and child.namespace == root.namespace]
    if not routes:
        raise InputError(
            "no-tasks",
            "The GPX file has no routes: way points have no order, and a track is no task.",
            hint="Way points are taken in with `taskdb set import FILE --into SET`.",
        )
    return tuple(_route(route) for route in routes)


def _own(node: Node, name: str) -> Node | None:
    """Return our own element of that name among a node's extensions."""
    extensions = node.find("extensions")
    children = () if extensions is None else extensions.children
    return next((c for c in children if c.namespace == TASK_NAMESPACE and c.name == name), None)


def _route(route: Node) -> TaskReading:
    problems = Problems()
    found = [_point(problems, node) for node in route.children if node.name == "rtept"]
    whole = _own(route, "task")
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
