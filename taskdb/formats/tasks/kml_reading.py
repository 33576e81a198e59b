"""Tasks read from KML and KMZ: our own document whole, any other one as its lines, or its placemarks in order."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, BinaryIO

from taskdb.core.model import Role, ZoneFrom
from taskdb.core.numbers import counted
from taskdb.errors import InputError
from taskdb.formats.markup.kmz import open_kmz
from taskdb.formats.markup.xml_reading import Node, read_xml
from taskdb.formats.tasks.lines import Line, lines_of, read_line
from taskdb.formats.tasks.reading import MOST_POINTS, Problems, ReadPoint, TaskReading, read_label
from taskdb.formats.tasks.values import free_choice, read_whole
from taskdb.formats.waypoints.kml import (
    OWN_TASK_DATA,
    SHAPES,
    Placemarks,
    extended_data,
    has_place,
    is_update,
    require_kml,
)

_ENDS = {"take-off": "take_off", "landing": "landing"}


def read_kmz_tasks(stream: BinaryIO) -> tuple[TaskReading, ...]:
    """Return the tasks of the document in a KMZ. InputError for no KMZ, or where it has none."""
    with open_kmz(stream) as document:
        return tuple(replace(task, notes=(*document.notes, *task.notes)) for task in read_kml_tasks(document))


def read_kml_tasks(stream: BinaryIO | io.RawIOBase) -> tuple[TaskReading, ...]:
    """Return the tasks of a KML file: our own, else each line, else its placemarks with one point in their order.

    InputError for what is no KML or has neither.
    """
    lines: list[Line] = []
    placeless = [0]
    is_placemark = Placemarks()
    placemarks: list[tuple[Node, Node]] = []

    def take(node: Node, around: Sequence[Node]) -> bool:
        if not is_placemark(node):
            return False
        if is_update(around):
            return True
        points, drawn = list(node.each("Point")), list(node.each("LineString"))
        if len(points) == 1 and has_place(points[0]):
            placemarks.append((node, points[0]))
        elif not points and len(drawn) == 1:
            lines.append(_line(node, drawn[0]))
        else:
            placeless[0] += not any(node.each(*SHAPES))
        return True

    root, _ = read_xml(stream, take)
    require_kml(root)
    document = root if root.name == "Document" else root.find("Document")
    whole = dict(extended_data(document)) if document is not None else {}
    problems = Problems()
    points: list[ReadPoint | None] = []
    ends: dict[str, Any] = {}
    for placemark, at in placemarks:
        data = dict(extended_data(placemark))
        end = _ENDS.get(data.get("role", ""))
        if end is not None:
            ends[end] = _point(problems, placemark, at, {**data, "role": ""})
        else:
            points.append(_point(problems, placemark, at, data))
    known = tuple(point for point in points if point is not None)
    if "type" not in whole and (drawn := lines_of("kml", lines, known if placemarks else ())):
        return drawn
    if not points:
        raise InputError(
            "no-tasks",
            "The KML file has no placemark with a point, and no line.",
            hint="Give a file with its points as placemarks, in order, or a line through them.",
        )
    values: dict[str, Any] = {}
    aside = counted(placeless[0], "placemark")
    notes: tuple[str, ...] = (f"{aside} without a place left aside",) if placeless[0] else ()
    if "type" in whole and document is not None:
        values = {**read_whole(problems, document.line, whole), **_listed(problems, document.line, whole)}
    elif lines:
        notes += (f"{counted(len(lines), 'line')} left aside: the file has points",)
    return (
        TaskReading(
            format="kml",
            name="" if document is None else read_label(document.value("name")),
            points=known,
            problems=problems.sorted(),
            notes=notes,
            **ends,
            **values,
        ),
    )


def _line(node: Node, drawn: Node) -> Line:
    # Blanks after commas are none of the standard's, and written all the same.
    tuples = re.sub(r"\s*,\s*", ",", drawn.value("coordinates")).split()
    parts = [[*one.split(","), "", ""] for one in tuples[: MOST_POINTS + 1]]
    vertices = [(latitude, longitude) for longitude, latitude, *_ in parts]
    return read_line(node.line, read_label(node.value("name")), vertices, count=len(tuples))


def _point(problems: Problems, node: Node, at: Node, data: dict[str, str]) -> ReadPoint | None:
    longitude, latitude = [*at.value("coordinates").split(","), "", ""][:2]
    position = problems.position(node.line, latitude.strip(), longitude.strip())
    elevation_m = problems.decimal(node.line, "elevation_m", data.get("elevation_m", ""))
    zone = problems.zone(node.line, data.get("zone", ""))
    role = problems.choice(node.line, "role", data.get("role", ""), Role)
    origin = problems.choice(node.line, "zone_from", data.get("zone_from", ""), ZoneFrom)
    # The label of ours is for people, and the name itself stands beside it, also an empty one.
    name = read_label(data["name"] if data.keys() >= OWN_TASK_DATA else node.value("name") or data.get("name", ""))
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
