"""A task read from KML: our own document whole, any other one as its placemarks with one point, in order."""

from __future__ import annotations

import json
from typing import Any, BinaryIO

from taskdb.core.model import Role, ZoneFrom
from taskdb.errors import InputError
from taskdb.formats.kml_waypoints import KML_NAMESPACE, extended_data
from taskdb.formats.task_reading import Problems, ReadPoint, TaskReading, read_label
from taskdb.formats.task_values import free_choice, read_whole
from taskdb.formats.xml_reading import Node, read_xml

_ENDS = {"take-off": "take_off", "landing": "landing"}


def read_kml_tasks(stream: BinaryIO) -> tuple[TaskReading, ...]:
    """Return the one task of a KML file. InputError for what is no KML or has no point."""
    root, _ = read_xml(stream, lambda node: node.name == "Polygon")
    if root.name != "kml" or not KML_NAMESPACE.fullmatch(root.namespace):
        raise InputError("not-kml", f"The file's root is {root.name!r} and not kml.", hint="Give a KML file.")
    problems = Problems()
    document = root.find("Document")
    whole = dict(extended_data(document)) if document is not None else {}
    points: list[ReadPoint | None] = []
    ends: dict[str, Any] = {}
    for placemark in root.each("Placemark"):
        at = list(placemark.each("Point"))
        if len(at) != 1:
            continue
        data = dict(extended_data(placemark))
        end = _ENDS.get(data.get("role", ""))
        if end is not None:
            ends[end] = _point(problems, placemark, at[0], {**data, "role": ""})
        else:
            points.append(_point(problems, placemark, at[0], data))
    if not points:
        raise InputError(
            "no-tasks",
            "The KML file has no placemark with a point; a line has no points that are named.",
            hint="Give a file with its points as placemarks, in order.",
        )
    values: dict[str, Any] = {}
    if "type" in whole and document is not None:
        values = {**read_whole(problems, document.line, whole), **_listed(problems, document.line, whole)}
    return (
        TaskReading(
            format="kml",
            name="" if document is None else read_label(document.value("name")),
            points=tuple(point for point in points if point is not None),
            problems=problems.sorted(),
            **ends,
            **values,
        ),
    )


def _point(problems: Problems, node: Node, at: Node, data: dict[str, str]) -> ReadPoint | None:
    longitude, latitude = [*at.value("coordinates").split(","), "", ""][:2]
    position = problems.position(node.line, latitude.strip(), longitude.strip())
    elevation_m = problems.decimal(node.line, "elevation_m", data.get("elevation_m", ""))
    zone = problems.zone(node.line, data.get("zone", ""))
    role = problems.choice(node.line, "role", data.get("role", ""), Role)
    origin = problems.choice(node.line, "zone_from", data.get("zone_from", ""), ZoneFrom)
    # A placemark's label is for people; the name itself may stand beside it, also an empty one.
    name = read_label(data["name"] if "name" in data else node.value("name"))
    code = read_label(data.get("code", ""))
    return None if position is None else ReadPoint(node.line, code, name, position, elevation_m, zone, role, origin)


def _listed(problems: Problems, line: int, whole: dict[str, str]) -> dict[str, Any]:
    values: dict[str, Any] = {}
    free, tags = _json(problems, line, "free", whole), _json(problems, line, "tags", whole)
    if isinstance(free, dict):
        values["free"] = free_choice(problems, line, free)
    if isinstance(tags, list):
        values["tags"] = tuple(tag for tag in tags if isinstance(tag, str))
    return values


def _json(problems: Problems, line: int, name: str, whole: dict[str, str]) -> Any:
    text = whole.get(name, "")
    try:
        return json.loads(text) if text else None
    except (ValueError, RecursionError):
        problems.tell(line, name, text, "bad-json", "it is no JSON")
        return None
