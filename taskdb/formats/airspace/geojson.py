"""Airspace as GeoJSON (RFC 7946): polygons and multipolygons with their properties, one feature a volume.

Other geometries are left aside and counted; a third coordinate is no limit and left aside. What is written reads back
to the same volumes.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable
from decimal import Decimal
from typing import Any, BinaryIO

from taskdb.core.airspace.volume import Volume, polygons_plain, volume_plain
from taskdb.core.model import RowProblem
from taskdb.formats.airspace.assembly import assemble
from taskdb.formats.airspace.reading import AirspaceOptions, AirspaceReading, RawVolume, require_volumes
from taskdb.formats.limits import LARGEST_WHOLE_BYTES, require_few_lists, require_size
from taskdb.formats.markup.geojson import GEOMETRIES, FeatureAt, as_json, each_feature, feature, feature_lines
from taskdb.formats.text.decode import decide_encoding
from taskdb.formats.text.table import count_words

_FLAT = "heights of positions are no limits and were left aside"


def read_geojson_airspace(stream: BinaryIO, options: AirspaceOptions) -> AirspaceReading:
    """Return the volumes of a GeoJSON file. InputError for what is no GeoJSON, of another datum, or has no polygons."""
    require_size(stream, LARGEST_WHOLE_BYTES, "Split it into several files.")
    codec, encoding = decide_encoding(stream, options.encoding)
    content = stream.read()
    require_few_lists(content)
    raws, left = as_json(content.decode(codec).removeprefix("\ufeff"), _volumes)
    aside = count_words(left)
    notes = (f"{aside} left aside",) if aside else ()
    return assemble(raws, options, format="geojson", encoding=encoding, notes=notes)


def _volumes(text: str) -> tuple[list[RawVolume], Counter[str]]:
    """Return the areas of a text, and what else it holds, by kind."""
    raws: list[RawVolume] = []
    left = Counter[str]()
    aside = 0
    for found in each_feature(text):
        raw = _raw(found)
        if isinstance(raw, str):
            left[raw] += 1
        else:
            raws.append(raw)
        aside += isinstance(raw, str)
        require_volumes(len(raws), aside)
    return raws, left


def _raw(found: FeatureAt) -> RawVolume | str:
    """Return a feature as a raw volume; for one without polygons what it is, as it is counted."""
    value = found.value
    if not isinstance(value, dict) or value.get("type") != "Feature":
        return "value(s) that are no features"
    geometry = value.get("geometry")
    polygons = _polygons(geometry)
    if polygons is None:
        kind = geometry.get("type") if isinstance(geometry, dict) else None
        return f"{kind}(s)" if kind in GEOMETRIES else "feature(s) without a place"
    properties = value.get("properties")
    texts = {_clean(name): _shown(item) for name, item in properties.items()} if isinstance(properties, dict) else {}
    if "name" not in texts and isinstance(value.get("id"), str):
        texts["id"] = _clean(value["id"])
    rings, problem = _rings(found.line, polygons)
    deep = any(len(place) > 2 for polygon in rings for ring in polygon for place in ring)
    flat = [[[(float(place[0]), float(place[1])) for place in ring] for ring in polygon] for polygon in rings]
    return RawVolume(found.line, texts, flat, problem=problem, notes=(_FLAT,) if deep else ())


def _polygons(geometry: Any) -> list[Any] | None:
    """Return the polygons of a geometry as the file has them; None where it has none."""
    if not isinstance(geometry, dict):
        return None
    kind, coordinates = geometry.get("type"), geometry.get("coordinates")
    if kind == "Polygon":
        return [coordinates]
    if kind == "MultiPolygon":
        return coordinates if isinstance(coordinates, list) else [coordinates]
    if kind == "GeometryCollection":
        inner = geometry.get("geometries")
        listed = [_polygons(one) for one in inner] if isinstance(inner, list) else []
        found = [polygon for polygons in listed if polygons is not None for polygon in polygons]
        return found or None
    return None


def _rings(line: int, polygons: list[Any]) -> tuple[list[list[list[list[float]]]], RowProblem | None]:
    """Return polygons where each is a list of rings of positions, else no polygons and what is wrong."""
    for polygon in polygons:
        for ring in polygon if isinstance(polygon, list) else [polygon]:
            for place in ring if isinstance(ring, list) else [ring]:
                if not (isinstance(place, list) and len(place) >= 2 and all(map(_is_number, place[:2]))):
                    shown = json.dumps(place)[:100]
                    why = "a ring is a list of positions, each [longitude, latitude] in degrees"
                    return [], RowProblem(line, "ground", shown, "bad-position", why)
    return polygons, None


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e6


def _clean(text: str) -> str:
    """Return a text without lone halves of surrogate pairs, which JSON can hold and no encoding can."""
    return text if text.isascii() else text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")


def _shown(value: Any) -> str:
    """Return a property as text; a number as it would be typed, so that a bare height is refused as such."""
    if value is None:
        return ""
    if isinstance(value, str):
        return _clean(value)
    if isinstance(value, int | float) and not isinstance(value, bool):
        return format(Decimal(repr(value)), "f") if abs(value) < 1e15 else repr(value)[:40]
    return json.dumps(value, ensure_ascii=True)


def write_geojson_airspace(stream: BinaryIO, volumes: Iterable[Volume]) -> tuple[str, ...]:
    """Write volumes in order of name as one FeatureCollection; nothing is lost."""
    features = [_feature(volume) for volume in sorted(volumes, key=lambda volume: volume.name)]
    stream.write(feature_lines({"type": "FeatureCollection", "features": features}))
    return ()


def _feature(volume: Volume) -> dict[str, Any]:
    properties = {name: value for name, value in volume_plain(volume).items() if name != "polygons"}
    properties |= {"floor": volume.floor.text, "ceiling": volume.ceiling.text}
    polygons = polygons_plain(volume.polygons)
    geometry: dict[str, Any] = (
        {"type": "Polygon", "coordinates": polygons[0]}
        if len(polygons) == 1
        else {"type": "MultiPolygon", "coordinates": polygons}
    )
    return feature(geometry, properties)
