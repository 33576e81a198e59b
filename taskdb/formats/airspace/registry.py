"""Which formats airspace is read from and written in, and what reads and writes each: one line a format."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from importlib import import_module
from typing import Any, BinaryIO

from taskdb.core.airspace.volume import Volume
from taskdb.errors import UsageError
from taskdb.formats.airspace.reading import AirspaceOptions, AirspaceReading
from taskdb.formats.detect import detect
from taskdb.formats.text.decode import seekable

__all__ = [
    "AIRSPACE_FORMATS",
    "AIRSPACE_READERS",
    "AirspaceOptions",
    "AirspaceReading",
    "read_airspace",
    "write_airspace",
]

_HEAD = 1 << 13
_AIXM = re.compile(rb"<(?:[\w.-]+:)?AIXMBasicMessage\b")

Reader = Callable[[BinaryIO, AirspaceOptions], AirspaceReading]
Writer = Callable[[BinaryIO, Iterable[Volume]], tuple[str, ...]]


def _later(module: str, function: str) -> Callable[..., Any]:
    """Return a function of a module that is loaded when it is first called: a command pays for its own format only."""

    def call(*values: Any) -> Any:
        return getattr(import_module(f"taskdb.formats.airspace.{module}"), function)(*values)

    return call


AIRSPACE_READERS: Mapping[str, Reader] = {
    "aixm": _later("aixm", "read_aixm_airspace"),
    "geojson": _later("geojson", "read_geojson_airspace"),
    "kml": _later("kml", "read_kml_airspace"),
    "kmz": _later("kml", "read_kmz_airspace"),
}
"""The formats from which airspace is read, by name."""

AIRSPACE_FORMATS: Mapping[str, tuple[str, Writer]] = {
    "geojson": (".geojson", _later("geojson", "write_geojson_airspace")),
    "kml": (".kml", _later("kml", "write_kml_airspace")),
}
"""The formats in which airspace is written: suffix and writer by name."""


def _detect_airspace(stream: BinaryIO) -> str:
    """Return the name of a format: `aixm` for its message, else as sets of waypoints; the stream at its beginning."""
    head = stream.read(_HEAD)
    stream.seek(0)
    return "aixm" if _AIXM.search(head) else detect(stream)


def read_airspace(stream: BinaryIO, *, file_name: str, options: AirspaceOptions | None = None) -> AirspaceReading:
    """Return the volumes of a file in any format that is known, with every problem of every volume.

    `file_name` is for messages; the format is as told or decided by the content. Raises InputError where the file as
    a whole cannot be used, UsageError for an unknown format or field.
    """
    options = options or AirspaceOptions()
    stream = seekable(stream)
    name = options.format or _detect_airspace(stream)
    if name not in AIRSPACE_READERS:
        raise UsageError(
            "unknown-format",
            f"{file_name}: {name!r} is no format from which airspace is read.",
            hint=f"Formats: {', '.join(AIRSPACE_READERS)}.",
        )
    return AIRSPACE_READERS[name](stream, options)


def write_airspace(stream: BinaryIO, volumes: Iterable[Volume], format: str) -> tuple[str, ...]:
    """Write volumes in a format and return what it could not hold. UsageError for an unknown format."""
    if format not in AIRSPACE_FORMATS:
        raise UsageError(
            "unknown-format",
            f"{format!r} is no format in which airspace is written.",
            hint=f"Formats: {', '.join(AIRSPACE_FORMATS)}.",
        )
    return AIRSPACE_FORMATS[format][1](stream, volumes)
