"""Waypoints as GeoJSON (RFC 7946): point features with the fields of the CSV as properties, lists where they are lists.

Read are collections, single features, and features line by line, also parted by RS (RFC 8142). Other geometries are
left aside and counted. A third coordinate is above the ellipsoid and no elevation: it is kept aside.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable
from decimal import Decimal
from typing import Any, BinaryIO

from taskdb.core.facilities import format_radio, format_runways
from taskdb.core.model import Radio, RowProblem, Runway, Waypoint
from taskdb.core.notation import Notation
from taskdb.core.plain import waypoint_plain
from taskdb.errors import InputError
from taskdb.formats.exported import in_order
from taskdb.formats.limits import LARGEST_WHOLE_BYTES, require_found, require_points, require_rows, require_size
from taskdb.formats.markup.antimeridian import pair
from taskdb.formats.markup.geojson import (
    GEOMETRIES,
    FeatureAt,
    as_json,
    each_feature,
    feature,
    no_geojson,
    place_of,
    plain_text,
    write_features,
)
from taskdb.formats.text.decode import decide_encoding
from taskdb.formats.text.headers import recognise
from taskdb.formats.text.intake import ReadOptions, SetReading
from taskdb.formats.text.interpret import interpret
from taskdb.formats.text.table import Gathered, ToldHeaders, count_words, gathered_table
from taskdb.formats.waypoints.csv import HEADER
from taskdb.formats.waypoints.extras import extras_of, extras_text, kept_values, noting_others

_OWN_FIELDS = tuple(name for name in HEADER if name not in ("latitude_deg", "longitude_deg"))
_PLACE = ("latitude_deg", "longitude_deg", "position")
_SURELY_NONE = 1_000


def read_geojson(stream: BinaryIO, options: ReadOptions) -> SetReading:
    """Return the point features of a GeoJSON file. Raises InputError for what is no GeoJSON, or of another datum."""
    require_size(stream, LARGEST_WHOLE_BYTES, "Save it as CSV, or split it.")
    codec, encoding = decide_encoding(stream, options.encoding)
    text = stream.read().decode(codec).removeprefix("\ufeff")
    named = ToldHeaders(options)
    rows, left = as_json(text, lambda plain: _rows(plain, named))
    heights = sum('"height"' in row.extras for row in rows)
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


def _rows(text: str, named: ToldHeaders) -> tuple[list[Gathered], Counter[str]]:
    """Return the points of a text as rows, and what else it holds, by kind."""
    rows: list[Gathered] = []
    problems: list[RowProblem] = []
    left = Counter[str]()
    for found in each_feature(text):
        row = _gather(found, named)
        if isinstance(row, str):
            left[row] += 1
            require_found(len(rows), left.total(), "waypoints", "no-waypoints")
            continue
        rows.append(row)
        if row.problem is not None:
            problems.append(row.problem)
            require_rows(len(rows), problems)
            if len(rows) == _SURELY_NONE and _are_none(rows):
                raise no_geojson(f"it lists values that are no features, the first {problems[0].value}")
        require_points(len(rows))
    if rows and _are_none(rows):
        raise no_geojson(f"it lists {len(rows):,} values that are no features, the first {problems[0].value}")
    return rows, left


def _are_none(rows: list[Gathered]) -> bool:
    return all(row.problem is not None and row.problem.code == "not-a-feature" for row in rows)


# One feature


def _gather(found: FeatureAt, named: ToldHeaders) -> Gathered | str:
    """Return a feature as a row; for one that is no point what it is, as it is counted."""
    value = found.value
    if not isinstance(value, dict) or value.get("type") != "Feature":
        return Gathered(found.line, {}, "", _problem(found, "not-a-feature", "it is no feature"))
    geometry = value.get("geometry")
    at = place_of(geometry)
    if at is None:
        kind = geometry.get("type") if isinstance(geometry, dict) else None
        return f"{kind}(s)" if kind in GEOMETRIES and kind != "Point" else "feature(s) without a place"
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
        header = plain_text(name)
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


def _within(item: dict[str, Any], path: str, named: ToldHeaders) -> dict[str, str]:
    """Return the values of an object within a property that a person named, as `tags.name`."""
    paths = ((f"{path}.{plain_text(name)}", value) for name, value in item.items())
    return {inner: _cell(value, inner) for inner, value in paths if inner in named}


def _problem(found: FeatureAt, code: str, message: str) -> RowProblem:
    shown = json.dumps(found.value, ensure_ascii=True)[:200]
    return RowProblem(found.line, "position", shown, code, message)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e6


def _number(value: Any) -> str:
    return format(Decimal(repr(value)), "f")


def _clean(value: Any) -> Any:
    if isinstance(value, str):
        return plain_text(value)
    if isinstance(value, list):
        return [_clean(item) for item in value]
    if isinstance(value, dict):
        return {plain_text(key): _clean(item) for key, item in value.items()}
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
        return plain_text(value)
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
    return None if value is None else plain_text(str(value))


def _runway(item: dict[str, Any]) -> Runway:
    numbers = {k: None if item.get(k) is None else float(item[k]) for k in ("heading_true_deg", "length_m", "width_m")}
    one_way = item.get("one_way") is True
    return Runway(_text(item.get("designator")), surface=_text(item.get("surface")), one_way=one_way, **numbers)


# Writing


def write_geojson(stream: BinaryIO, waypoints: Iterable[Waypoint], *, identity: bool = False) -> tuple[str, ...]:
    """Write waypoints in order of code as one FeatureCollection, and return what the format could not hold."""
    lost: set[str] = set()
    coming = noting_others(in_order(waypoints), "geojson", lost)
    write_features(stream, (_feature(waypoint, identity) for waypoint in coming))
    return tuple(lost)


def _feature(waypoint: Waypoint, identity: bool) -> dict[str, Any]:
    shown = waypoint_plain(waypoint, set_name=None, revision=None)
    properties = {name: shown[name] for name in _OWN_FIELDS}
    if identity:
        properties["identity"] = waypoint.identity
    kept = extras_of(waypoint, "geojson")
    properties |= {k: v for k, v in kept_values(kept, "properties").items() if k not in properties}
    height = kept.get("height")
    place = [*pair(waypoint.position), *(height if isinstance(height, list) else [])]
    result = feature({"type": "Point", "coordinates": place}, properties)
    return result | {k: v for k, v in kept_values(kept, "members").items() if k not in result}
