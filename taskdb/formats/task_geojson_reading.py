"""A task read from GeoJSON (RFC 7946): our own collection whole, any other one as its point features in order."""

from __future__ import annotations

import json
from typing import Any, BinaryIO

from taskdb.core.model import Role, ZoneFrom
from taskdb.errors import InputError
from taskdb.formats.decode import decide_encoding, seekable
from taskdb.formats.geojson_waypoints import each_feature
from taskdb.formats.limits import require_few_lists
from taskdb.formats.task_reading import Problems, ReadPoint, TaskReading, read_label
from taskdb.formats.task_values import free_choice, read_whole

MOST_VERTICES = 50
_MOST_LISTS = 200_000
"""A line of more is what was flown, not what was set."""


def read_geojson_tasks(stream: BinaryIO) -> tuple[TaskReading, ...]:
    """Return the tasks of a GeoJSON file: one of its points, else one of each line, whose points have no names.

    InputError for what is no GeoJSON or has neither.
    """
    stream = seekable(stream)
    codec, _ = decide_encoding(stream, None)
    content = stream.read()
    require_few_lists(content, _MOST_LISTS)
    text = content.decode(codec).removeprefix("\ufeff")
    problems = Problems()
    found, lines = [], []
    try:
        features = list(each_feature(text))
        whole = _whole(text)
    except RecursionError:
        raise InputError("bad-json", "The file nests too deep to be GeoJSON.", hint="Save it anew.") from None
    for feature in features:
        properties, at = _point_of(feature.value)
        if at is None or (whole is not None and properties.get("kind") != "point"):
            lines += [(feature.line, feature.value)] if _is_line(feature.value) else []
            continue
        found.append(_point(problems, feature.line, properties, at))
    if not found and lines:
        return tuple(_line_task(line, feature) for line, feature in lines)
    if not found:
        raise InputError("no-tasks", "The GeoJSON file has no points.", hint="Give a file with points or a line.")
    values: dict[str, Any] = {} if whole is None else _values(problems, whole)
    name = values.pop("name", "")
    points = tuple(point for point in found if point is not None)
    return (TaskReading(format="geojson", name=name, points=points, problems=problems.sorted(), **values),)


def _whole(text: str) -> dict[str, Any] | None:
    """Return our own member of the task as a whole; None where the file has none."""
    try:
        document = json.loads(text)
    except ValueError:
        return None  # features line by line
    whole = document.get("task") if isinstance(document, dict) else None
    return whole if isinstance(whole, dict) else None


def _point_of(value: Any) -> tuple[dict[str, Any], list[Any] | None]:
    """Return a feature's properties and its coordinates where it is a point."""
    feature = value if isinstance(value, dict) else {}
    properties, geometry = feature.get("properties"), feature.get("geometry")
    held = properties if isinstance(properties, dict) else {}
    if not isinstance(geometry, dict) or geometry.get("type") != "Point":
        return held, None
    at = geometry.get("coordinates")
    return held, at if isinstance(at, list) else []


def _is_line(value: Any) -> bool:
    geometry = value.get("geometry") if isinstance(value, dict) else None
    return isinstance(geometry, dict) and geometry.get("type") == "LineString"


def _line_task(line: int, feature: dict[str, Any]) -> TaskReading:
    """Return a line's vertices as a task; which waypoints they are only their positions can say."""
    problems = Problems()
    at = feature["geometry"].get("coordinates")
    vertices = at if isinstance(at, list) else []
    properties = feature.get("properties")
    name = read_label(_text(properties.get("name"))) if isinstance(properties, dict) else ""
    if len(vertices) > MOST_VERTICES:
        problems.tell(
            line, "coordinates", str(len(vertices)), "a-track", f"over {MOST_VERTICES} of them: a track, no task"
        )
        vertices = []
    points = [_point(problems, line, {}, vertex if isinstance(vertex, list) else []) for vertex in vertices]
    whole = tuple(point for point in points if point is not None)
    return TaskReading(format="geojson", name=name, points=whole, problems=problems.sorted())


def _text(value: Any) -> str:
    """Return a single value as text: empty for null and for what is no single value."""
    if value is None or isinstance(value, dict | list):
        return ""
    text = value if isinstance(value, str) else json.dumps(value)
    # JSON can hold lone halves of surrogate pairs, which no encoding can.
    return text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")


def _point(problems: Problems, line: int, properties: dict[str, Any], at: list[Any]) -> ReadPoint | None:
    longitude, latitude = (_text(value) for value in [*at, None, None][:2])
    position = problems.position(line, latitude, longitude)
    zone = properties.get("zone")
    zone_text = zone.get("text") if isinstance(zone, dict) else zone
    own = problems.zone(line, _text(zone_text))
    elevation_m = problems.decimal(line, "elevation_m", _text(properties.get("elevation_m")))
    role = problems.choice(line, "role", _text(properties.get("role")), Role)
    origin = problems.choice(line, "zone_from", _text(properties.get("zone_from")), ZoneFrom)
    code, name = (read_label(_text(properties.get(key))) for key in ("code", "name"))
    return None if position is None else ReadPoint(line, code, name, position, elevation_m, own, role, origin)


def _values(problems: Problems, whole: dict[str, Any]) -> dict[str, Any]:
    values = read_whole(problems, 1, {key: _text(value) for key, value in whole.items()})
    values["name"] = read_label(_text(whole.get("name")))
    tags = whole.get("tags")
    values["tags"] = tuple(_text(tag) for tag in tags) if isinstance(tags, list) else ()
    if isinstance(whole.get("free"), dict):
        values["free"] = free_choice(problems, 1, whole["free"])
    for key in ("take_off", "landing"):
        values[key] = _place(problems, whole.get(key))
    return values


def _place(problems: Problems, value: Any) -> ReadPoint | None:
    if not isinstance(value, dict):
        return None
    return _point(problems, 1, value, [value.get("longitude_deg"), value.get("latitude_deg")])
