"""Waypoints as GeoJSON (RFC 7946): point features with the fields of the CSV as properties, lists where they are lists.

Read are collections, single features, and features line by line, also parted by RS (RFC 8142). Other geometries are
left aside and counted. A third coordinate is above the ellipsoid and no elevation: it is kept aside.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, BinaryIO, NoReturn

from taskdb.core.facilities import format_radio, format_runways
from taskdb.core.model import Radio, RowProblem, Runway, Waypoint
from taskdb.core.notation import Notation
from taskdb.core.plain import waypoint_plain
from taskdb.errors import InputError
from taskdb.formats.antimeridian import pair
from taskdb.formats.csv_waypoints import HEADER
from taskdb.formats.decode import decide_encoding, seekable
from taskdb.formats.extras import extras_of, extras_text, others_lost
from taskdb.formats.gathered import Gathered, Named, count_words, gathered_table
from taskdb.formats.headers import recognise
from taskdb.formats.intake import ReadOptions, SetReading
from taskdb.formats.interpret import interpret
from taskdb.formats.json_text import feature, feature_lines
from taskdb.formats.limits import LARGEST_WHOLE_BYTES, require_points, require_rows, require_size

_OWN_FIELDS = tuple(name for name in HEADER if name not in ("latitude_deg", "longitude_deg"))
_PLACE = ("latitude_deg", "longitude_deg", "position")
_GEOMETRIES = (
    "Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon", "GeometryCollection",
)  # fmt: skip
_SURELY_NONE = 1_000
_WGS84_NAMES = ("CRS84", "4326", "WGS84", "4979")


@dataclass(frozen=True, slots=True)
class FoundFeature:
    """A feature, and the physical line on which it begins."""

    line: int
    value: Any


def read_geojson(stream: BinaryIO, options: ReadOptions) -> SetReading:
    """Return the point features of a GeoJSON file. Raises InputError for what is no GeoJSON, or of another datum."""
    stream = seekable(stream)
    require_size(stream, LARGEST_WHOLE_BYTES, "Save it as CSV, or split it.")
    codec, encoding = decide_encoding(stream, options.encoding)
    text = stream.read().decode(codec)
    rows: list[Gathered] = []
    problems: list[RowProblem] = []
    left = Counter[str]()
    named, heights = Named(options), 0
    try:
        for found in each_feature(text.removeprefix("\ufeff")):
            row = _gather(found, named)
            if isinstance(row, str):
                left[row] += 1
                continue
            heights += '"height"' in row.extras
            rows.append(row)
            if row.problem is not None:
                problems.append(row.problem)
                require_rows(len(rows), problems)
                if len(rows) == _SURELY_NONE and _are_none(rows):
                    raise _no_geojson(f"it lists values that are no features, the first {problems[0].value}")
            require_points(len(rows))
    except RecursionError:
        raise InputError("bad-json", "The file nests too deep to be GeoJSON.", hint="Save it anew.") from None
    if rows and _are_none(rows):
        raise _no_geojson(f"it lists {len(rows):,} values that are no features, the first {problems[0].value}")
    aside = count_words(left)
    if not rows:
        raise InputError(
            "no-waypoints",
            f"The GeoJSON holds no points{f', only {aside}' if aside else ''}.",
            hint="Give a file with points: a line or an area is no waypoint.",
        )
    notes = [f"{aside} left aside"] if aside else []
    if heights:
        notes.append(f"the third coordinate of {heights} points is above the ellipsoid and was not taken as elevation")
    table = gathered_table(
        rows, format="geojson", encoding=encoding, notes=tuple(notes), notation=Notation.DECIMAL, named=named
    )
    return interpret(table, options)


def _are_none(rows: list[Gathered]) -> bool:
    return all(row.problem is not None and row.problem.code == "not-a-feature" for row in rows)


def _no_geojson(why: str) -> InputError:
    return InputError("no-waypoints", f"The file is JSON and no GeoJSON: {why}.", hint="Save it as GeoJSON or CSV.")


# Finding the features and their lines


def _refuse(text: str, at: int, why: str) -> NoReturn:
    line = text.count("\n", 0, at) + 1
    raise InputError(
        "bad-json",
        f"Line {line} is no JSON: {why}.",
        hint="Save it anew in the program that made it.",
        details={"line": line},
    )


def _constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number of JSON")


_DECODER = json.JSONDecoder(parse_constant=_constant)
_BLANK = " \t\r\n"


def _skip(text: str, at: int) -> int:
    while at < len(text) and text[at] in _BLANK:
        at += 1
    return at


def _value(text: str, at: int) -> tuple[Any, int]:
    try:
        return _DECODER.raw_decode(text, at)
    except json.JSONDecodeError as error:
        _refuse(text, error.pos, error.msg)
    except ValueError as error:
        _refuse(text, at, str(error))


def each_feature(text: str) -> Iterator[FoundFeature]:
    """Yield the features of a collection, of a line each, or the one there is."""
    at, line, counted = 0, 1, 0
    while (at := _skip(text, at)) < len(text):
        if text[at] == "\x1e":
            at += 1
            continue
        if text[at] not in "{[":
            _refuse(text, at, f"{text[at]!r} cannot begin a feature")
        for start, value, end in _document(text, at):
            line += text.count("\n", counted, start)
            counted = start
            at = end
            if value is not None:
                yield FoundFeature(line, value)


def _document(text: str, at: int) -> Iterator[tuple[int, Any, int]]:
    """Yield the features of one document with where each begins and ends; last where the document ends."""
    if text[at] == "[":
        yield from _array(text, at)
        return
    members: dict[str, Any] = {}
    begin, at = at, _skip(text, at + 1)
    had_features = False
    while at < len(text) and text[at] != "}":
        key, at = _value(text, at)
        at = _skip(text, at)
        if not isinstance(key, str) or text[at : at + 1] != ":":
            _refuse(text, at, "a member's name and a colon were expected")
        at = _skip(text, at + 1)
        if key == "features" and text[at : at + 1] == "[":
            had_features = True
            for start, value, end in _array(text, at):
                yield start, value, end
                at = end
        else:
            members[key], at = _value(text, at)
        at = _skip(text, at)
        if text[at : at + 1] == ",":
            at = _skip(text, at + 1)
    if at >= len(text):
        _refuse(text, len(text), "it ends in the middle")
    _require_wgs84(members.get("crs"))
    if had_features:
        yield at, None, at + 1
    elif members.get("type") == "Feature":
        yield begin, members, at + 1
    elif members.get("type") in _GEOMETRIES:
        yield begin, {"type": "Feature", "geometry": members, "properties": {}}, at + 1
    else:
        raise _no_geojson(_what_else(members))


def _what_else(members: dict[str, Any]) -> str:
    kind = members.get("type")
    if kind == "FeatureCollection":
        return "its features are no list"
    if isinstance(kind, str):
        return f"its type is {kind[:60]!r}"
    names = ", ".join(repr(name[:60]) for name in list(members)[:6])
    return f"it has no type, only {names}" if names else "it is empty"


def _array(text: str, at: int) -> Iterator[tuple[int, Any, int]]:
    at = _skip(text, at + 1)
    while at < len(text) and text[at] != "]":
        start = at
        value, at = _value(text, at)
        yield start, value, at
        at = _skip(text, at)
        if text[at : at + 1] == ",":
            at = _skip(text, at + 1)
        elif text[at : at + 1] != "]":
            _refuse(text, at, "a comma or the end of the list was expected")
    if at >= len(text):
        _refuse(text, len(text), "it ends in the middle")
    yield at, None, at + 1


def _require_wgs84(crs: Any) -> None:
    """Refuse the `crs` of the format's first version where it names another datum than the one that holds now."""
    if crs is not None and not any(name in json.dumps(crs) for name in _WGS84_NAMES):
        raise InputError(
            "other-datum",
            f"The file says that its coordinates are of another datum: {json.dumps(crs)[:200]}.",
            hint="Convert it to WGS84 longitude and latitude first.",
        )


# One feature


def _gather(found: FoundFeature, named: Named) -> Gathered | str:
    """Return a feature as a row; for one that is no point what it is, as it is counted."""
    value = found.value
    if not isinstance(value, dict) or value.get("type") != "Feature":
        return Gathered(found.line, {}, "", _problem(found, "not-a-feature", "it is no feature"))
    geometry = value.get("geometry")
    at = place_of(geometry)
    if at is None:
        kind = geometry.get("type") if isinstance(geometry, dict) else None
        return f"{kind}(s)" if kind in _GEOMETRIES and kind != "Point" else "feature(s) without a place"
    if not len(at) >= 2 or not all(_is_number(x) for x in at):
        problem = _problem(found, "bad-position", "a point is [longitude, latitude], in degrees")
        return Gathered(found.line, {}, "", problem)
    cells = {"latitude_deg": _number(at[1]), "longitude_deg": _number(at[0])}
    kept: dict[str, Any] = {}
    if len(at) > 2:
        kept["height"] = at[2:]
    properties = value.get("properties")
    unknown = {}
    for name, item in (properties if isinstance(properties, dict) else {}).items():
        header = _plain_text(name)
        known = recognise(header)
        if (known is not None and known.field not in _PLACE) or header in named:
            cells[header] = _cell(item, header)
        else:
            unknown[header] = _clean(item)
            if named and isinstance(item, dict):
                cells |= _within(item, header, named)
    if unknown:
        kept["properties"] = unknown
    members = {k: _clean(v) for k, v in value.items() if k not in ("type", "geometry", "properties")}
    if "id" in named and "id" in members and "id" not in cells:
        cells["id"] = _cell(members["id"], "id")
    if members:
        kept["members"] = members
    return Gathered(found.line, cells, extras_text("geojson", kept))


def place_of(geometry: Any) -> list[Any] | None:
    """Return the coordinates of a geometry that is one point, also as a multipoint or collection of one; else None.

    RFC 7946 3.1 allows to take empty coordinates for no geometry.
    """
    if not isinstance(geometry, dict):
        return None
    kind, at = geometry.get("type"), geometry.get("coordinates")
    if kind == "GeometryCollection":
        inner = geometry.get("geometries")
        points = [place for one in inner if (place := place_of(one)) is not None] if isinstance(inner, list) else []
        return points[0] if len(points) == 1 else None
    if kind == "MultiPoint":
        return at[0] if isinstance(at, list) and len(at) == 1 and isinstance(at[0], list) else None
    if kind != "Point" or at is None or at == []:
        return None
    return at if isinstance(at, list) else [at]


def _within(item: dict[str, Any], path: str, named: Named) -> dict[str, str]:
    """Return the values of an object within a property that a person named, as `tags.name`."""
    paths = ((f"{path}.{_plain_text(name)}", value) for name, value in item.items())
    return {inner: _cell(value, inner) for inner, value in paths if inner in named}


def _problem(found: FoundFeature, code: str, message: str) -> RowProblem:
    shown = json.dumps(found.value, ensure_ascii=True)[:200]
    return RowProblem(found.line, "position", shown, code, message)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e6


def _number(value: Any) -> str:
    return format(Decimal(repr(value)), "f")


def _plain_text(text: str) -> str:
    """Return a text without lone halves of surrogate pairs, which JSON can hold and no encoding can."""
    return text if text.isascii() else text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")


def _clean(value: Any) -> Any:
    if isinstance(value, str):
        return _plain_text(value)
    if isinstance(value, list):
        return [_clean(item) for item in value]
    if isinstance(value, dict):
        return {_plain_text(key): _clean(item) for key, item in value.items()}
    return value


def _cell(value: Any, header: str) -> str:
    """Return a property as the text that a table would hold."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return _number(value)
    if isinstance(value, str):
        return _plain_text(value)
    listed = _listed(value, header)
    return json.dumps(_clean(value), ensure_ascii=False) if listed is None else listed


def _listed(value: Any, header: str) -> str | None:
    """Return radio or runways, as lists of objects under the names of our JSON, as their text."""
    try:
        if header == "radio":
            return format_radio([Radio(_text(item["channel"]) or "", _text(item.get("purpose"))) for item in value])
        if header == "runways":
            return format_runways([_runway(item) for item in value])
    except (TypeError, KeyError, AttributeError, ValueError):
        pass
    return None


def _text(value: Any) -> str | None:
    return None if value is None else _plain_text(str(value))


def _runway(item: dict[str, Any]) -> Runway:
    numbers = {k: None if item.get(k) is None else float(item[k]) for k in ("heading_true_deg", "length_m", "width_m")}
    one_way = item.get("one_way") is True
    return Runway(_text(item.get("designator")), surface=_text(item.get("surface")), one_way=one_way, **numbers)


# Writing


def write_geojson(stream: BinaryIO, waypoints: Iterable[Waypoint], *, identity: bool = False) -> tuple[str, ...]:
    """Write waypoints in order of code as one FeatureCollection, and return what the format could not hold."""
    ordered = sorted(waypoints, key=lambda w: w.code)
    features = [_feature(waypoint, identity) for waypoint in ordered]
    stream.write(feature_lines({"type": "FeatureCollection", "features": features}))
    return others_lost(ordered, "geojson")


def _feature(waypoint: Waypoint, identity: bool) -> dict[str, Any]:
    shown = waypoint_plain(waypoint, set_name=None, revision=None)
    properties = {name: shown[name] for name in _OWN_FIELDS}
    if identity:
        properties["identity"] = waypoint.identity
    held = extras_of(waypoint, "geojson")
    kept = held if isinstance(held, dict) else {}
    unknown = kept.get("properties")
    properties |= {k: v for k, v in (unknown if isinstance(unknown, dict) else {}).items() if k not in properties}
    height = kept.get("height")
    place = [*pair(waypoint.position), *(height if isinstance(height, list) else [])]
    members = kept.get("members")
    result = feature({"type": "Point", "coordinates": place}, properties)
    return result | {k: v for k, v in (members if isinstance(members, dict) else {}).items() if k not in result}
