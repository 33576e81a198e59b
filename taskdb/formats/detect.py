"""Which format a file is in, by what it begins with; its name is not asked, since people rename files."""

from __future__ import annotations

import codecs
import re
from typing import BinaryIO

from taskdb.errors import InputError

_HEAD = 1 << 13
_ROOT = re.compile(r"<(?![?!])\s*(?:[\w.-]+:)?([\w.-]+)")
# The recorder's own line, and behind it its headers or what it declares (IGC Technical Specification, A 2.3).
_RECORDED = re.compile(
    rb"\A(?:\xef\xbb\xbf)?(?:A[0-9A-Z]{3}[^\r\n]*[\r\n]+)?(?:H[FOP][A-Z]{3}|HDTE|C\d{18}[0-9A-Z]{4}\d\d)"
)
# Programs also hand out a piece of KML by itself.
_ROOTS = {"gpx": "gpx", "kml": "kml", "document": "kml", "folder": "kml", "placemark": "kml"}


def detect(stream: BinaryIO) -> str:
    """Return the name of a format: `kmz`, `gpx`, `kml`, `geojson`, else `csv`. The stream is left at its beginning.

    Raises InputError for XML and zips that are none of these.
    """
    head = stream.read(_HEAD)
    stream.seek(0)
    if head.startswith(b"PK\x03\x04"):
        return "kmz"
    text = _text(head)
    if text.startswith("<"):
        plain = re.sub(r"<!--.*?-->|<\?.*?\?>|<!DOCTYPE[^>\[]*(?:\[.*?\]\s*)?>", "", text, flags=re.DOTALL)
        root = _ROOT.search(plain)
        name = _ROOTS.get(root[1].lower()) if root is not None else None
        if name is None:
            shown = repr(root[1]) if root is not None else "no element"
            raise InputError(
                "unknown-format",
                f"The file is XML with the root {shown}, which is neither GPX nor KML.",
                hint="Save it as GPX, KML, GeoJSON or CSV.",
            )
        return name
    if text[:1] in ("{", "["):
        return "geojson"
    return "csv"


def detect_task(stream: BinaryIO) -> str:
    """Return the name of a task's format: `igc` for a recorder's file, else as `detect`; the stream as there."""
    head = stream.read(_HEAD)
    stream.seek(0)
    return "igc" if _RECORDED.search(head) else detect(stream)


def _text(head: bytes) -> str:
    """Return the beginning of a file as text, as far as is needed to know its format."""
    for mark, codec in ((codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be")):
        if head.startswith(mark):
            return head[2:].decode(codec, "replace").strip()
    if head[:1] == b"<" and head[1:2] == b"\x00":
        return head.decode("utf-16-le", "replace").strip()
    if head[:2] == b"\x00<":
        return head.decode("utf-16-be", "replace").strip()
    return head.removeprefix(codecs.BOM_UTF8).decode("latin-1").strip(" \t\r\n\x1e\x0b\x0c")
