"""GeoJSON as text (RFC 7946): features read, each with the line on which it begins, and features written.

Numbers that are none of JSON's (`11.`, `.5`), as programs write them all the same, are read. Written is one feature a
line, members in the order they are given, the same bytes every time.
"""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any, BinaryIO, NoReturn, TypeVar

from taskdb.errors import InputError

T = TypeVar("T")
GEOMETRIES = (
    "Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon", "GeometryCollection",
)  # fmt: skip
_WGS84_NAMES = ("CRS84", "4326", "WGS84", "4979")
_TEXT_OR_NUMBER = re.compile(r'"(?:[^"\\]|\\.)*"|(?<![\w.+-])(-?)(?:(\d+)\.(?!\d)|\.(\d))')


@dataclass(frozen=True, slots=True)
class FeatureAt:
    """A feature, and the physical line on which it begins."""

    line: int
    value: Any


def as_json(text: str, read: Callable[[str], T]) -> T:
    """Return what `read` makes of a text; where it is no JSON, of the text with its numbers as JSON has them.

    Raises InputError where it is none either, or nests too deep.
    """
    try:
        try:
            return read(text)
        except InputError as error:
            mended = _TEXT_OR_NUMBER.sub(_mended, text) if error.code == "bad-json" else text
            if mended == text:
                raise
            return read(mended)
    except RecursionError:
        raise InputError("bad-json", "The file nests too deep to be GeoJSON.", hint="Save it anew.") from None


def _mended(found: re.Match[str]) -> str:
    if found[0].startswith('"'):
        return found[0]
    return f"{found[1]}{found[2]}.0" if found[2] else f"{found[1]}0.{found[3]}"


def no_geojson(why: str) -> InputError:
    return InputError("no-waypoints", f"The file is JSON and no GeoJSON: {why}.", hint="Save it as GeoJSON or CSV.")


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


def each_feature(text: str) -> Iterator[FeatureAt]:
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
                yield FeatureAt(line, value)


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
    elif members.get("type") in GEOMETRIES:
        yield begin, {"type": "Feature", "geometry": members, "properties": {}}, at + 1
    else:
        raise no_geojson(_what_else(members))


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


def plain_text(text: str) -> str:
    """Return a text without lone halves of surrogate pairs, which JSON can hold and no encoding can."""
    return text if text.isascii() else text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")


# Writing


def feature_lines(collection: dict[str, Any]) -> bytes:
    """Return a FeatureCollection as UTF-8 text with one feature a line."""
    stream = io.BytesIO()
    head = {name: value for name, value in collection.items() if name != "features"}
    write_features(stream, collection["features"], head)
    return stream.getvalue()


def write_features(stream: BinaryIO, features: Iterable[dict[str, Any]], head: dict[str, Any] | None = None) -> None:
    """Write a FeatureCollection with one feature a line, as they come; `head`: its other members, the type first."""
    stream.write(f'{_json(head or {"type": "FeatureCollection"})[:-1]},"features":[\n'.encode())
    for i, one in enumerate(features):
        stream.write(f"{',' + chr(10) if i else ''}{_json(one)}".encode())
    stream.write(b"\n]}\n")


def _json(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return text if text.isascii() else text.encode("utf-8", "replace").decode()


def feature(geometry: dict[str, Any] | None, properties: dict[str, Any]) -> dict[str, Any]:
    """Return a Feature."""
    return {"type": "Feature", "geometry": geometry, "properties": properties}
