"""A task read from GeoJSON (RFC 7946): our own collection whole, any other one as its point features in order."""

from __future__ import annotations

import json
from typing import Any, BinaryIO

from taskdb.core.model import Role, ZoneFrom
from taskdb.core.numbers import counted
from taskdb.errors import InputError
from taskdb.formats.limits import require_few_lists
from taskdb.formats.markup.geojson_features import as_json, each_feature
from taskdb.formats.tasks.lines import Line, lines_of, read_line
from taskdb.formats.tasks.reading import MOST_POINTS, Problems, ReadPoint, TaskReading, read_label
from taskdb.formats.tasks.values import free_choice, read_whole
from taskdb.formats.text.decode import decide_encoding, seekable
from taskdb.formats.waypoints.geojson import place_of

_MOST_LISTS = 200_000


def read_geojson_tasks(stream: BinaryIO) -> tuple[TaskReading, ...]:
    """Return the tasks of a GeoJSON file: one of its points, else one of each line, whose points have no names.

    InputError for what is no GeoJSON or has neither.
    """
    stream = seekable(stream)
    codec, _ = decide_encoding(stream, None)
    content = stream.read()
    require_few_lists(content, _MOST_LISTS)
    return as_json(content.decode(codec).removeprefix("\ufeff"), _tasks)


def _tasks(text: str) -> tuple[TaskReading, ...]:
    problems = Problems()
    found, lines, placeless = [], [], 0
    features = list(each_feature(text))
    whole = _whole(text)
    for feature in features:
        properties, geometry = _parts(feature.value)
        at = place_of(geometry)
        if at is None or (whole is not None and properties.get("kind") != "point"):
            lines += [_line(feature.line, properties, vertices) for vertices in _vertices(geometry)]
            placeless += geometry is None
        else:
            found.append(_point(problems, feature.line, properties, at))
    points = tuple(point for point in found if point is not None)
    if whole is None and (drawn := lines_of("geojson", lines, points if found else ())):
        return drawn
    if not found:
        raise InputError("no-tasks", "The GeoJSON file has no points.", hint="Give a file with points or a line.")
    values: dict[str, Any] = {} if whole is None else _values(problems, whole)
    name = values.pop("name", "")
    aside = counted(placeless, "feature")
    notes: tuple[str, ...] = (f"{aside} without a place left aside",) if placeless else ()
    notes += (f"{counted(len(lines), 'line')} left aside: the file has points",) if lines and whole is None else ()
    return (TaskReading(format="geojson", name=name, points=points, problems=problems.sorted(), notes=notes, **values),)


def _whole(text: str) -> dict[str, Any] | None:
    """Return our own member of the task as a whole; None where the file has none."""
    try:
        document = json.loads(text)
    except ValueError:
        return None  # features line by line
    whole = document.get("task") if isinstance(document, dict) else None
    return whole if isinstance(whole, dict) else None


def _parts(value: Any) -> tuple[dict[str, Any], Any]:
    """Return a feature's properties and its geometry."""
    feature = value if isinstance(value, dict) else {}
    properties = feature.get("properties")
    return properties if isinstance(properties, dict) else {}, feature.get("geometry")


def _vertices(geometry: Any) -> list[list[Any]]:
    """Return the points of a geometry that is one line, also as a multiline of one; nothing for any other."""
    kind, at = (geometry.get("type"), geometry.get("coordinates")) if isinstance(geometry, dict) else (None, None)
    if not isinstance(at, list):
        return []
    if kind == "MultiLineString":
        return [at[0]] if len(at) == 1 and isinstance(at[0], list) else []
    return [at] if kind == "LineString" else []


def _line(line: int, properties: dict[str, Any], vertices: list[Any]) -> Line:
    """Return a line; which waypoints its points are only their positions can say."""
    pairs = [[*(vertex if isinstance(vertex, list) else []), None, None] for vertex in vertices[: MOST_POINTS + 1]]
    texts = [(_text(latitude), _text(longitude)) for longitude, latitude, *_ in pairs]
    return read_line(line, read_label(_text(properties.get("name"))), texts, count=len(vertices))


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
