"""Which formats there are, and what reads and writes each. To add a format: one module, and one line here."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from importlib import import_module
from typing import BinaryIO

from taskdb.core.model import Waypoint
from taskdb.errors import UsageError
from taskdb.formats.csv_waypoints import read_csv, write_csv
from taskdb.formats.exported import ExportedTask
from taskdb.formats.intake import Decided, ReadOptions, Record, Records, Reject, SetReading

__all__ = [
    "SET_FORMATS",
    "SET_READERS",
    "TASK_FORMATS",
    "Decided",
    "ExportedTask",
    "ReadOptions",
    "Record",
    "Records",
    "Reject",
    "SetReading",
    "read_set",
    "write_set",
    "write_task",
]

SetWriter = Callable[..., tuple[str, ...]]
"""`(stream, waypoints, *, identity=False)` → what the format could not hold."""

SET_FORMATS: Mapping[str, tuple[str, SetWriter]] = {
    "csv": (".csv", write_csv),
}
"""The formats in which sets are written: suffix and writer by name."""

TaskWriter = Callable[[BinaryIO, ExportedTask], tuple[str, ...]]

# Task writers draw zones and need the course room; only what writes tasks pays for loading it.
_TASK_WRITERS = {
    "gpx": (".gpx", "taskdb.formats.task_gpx", "write_gpx_task"),
    "geojson": (".geojson", "taskdb.formats.task_geojson", "write_geojson_task"),
    "csv": (".csv", "taskdb.formats.task_csv", "write_csv_task"),
}


def _writer(module: str, function: str) -> TaskWriter:
    def write(stream: BinaryIO, exported: ExportedTask) -> tuple[str, ...]:
        writer: TaskWriter = getattr(import_module(module), function)
        return writer(stream, exported)

    return write


TASK_FORMATS: Mapping[str, tuple[str, TaskWriter]] = {
    name: (suffix, _writer(module, function)) for name, (suffix, module, function) in _TASK_WRITERS.items()
}
"""The formats in which tasks are written: suffix and writer by name."""

SET_READERS: Mapping[str, Callable[[BinaryIO, ReadOptions], SetReading]] = {
    "csv": read_csv,
    "tsv": read_csv,
}
"""The formats from which sets are read, by name."""


def read_set(stream: BinaryIO, *, file_name: str, options: ReadOptions | None = None) -> SetReading:
    """Return the waypoints of a file in any format that is known, with every problem of every row.

    `file_name` serves messages and as a hint to the format; the content decides. Raises InputError where the file
    as a whole cannot be used (empty, no text, no column for code or position, an ambiguous notation …).
    """
    options = options or ReadOptions()
    return _reader(options.format or "csv")(stream, options)


def _reader(name: str) -> Callable[[BinaryIO, ReadOptions], SetReading]:
    if name not in SET_READERS:
        raise UsageError(
            "unknown-format", f"{name!r} is no format that is read.", hint=f"Formats: {', '.join(SET_READERS)}."
        )
    return SET_READERS[name]


def write_set(
    stream: BinaryIO, waypoints: Iterable[Waypoint], format: str, *, identity: bool = False
) -> tuple[str, ...]:
    """Write a set in a format and return what the format could not hold, as sentences' parts; byte for byte the same
    for the same waypoints. Raises UsageError for an unknown format.
    """
    if format not in SET_FORMATS:
        raise UsageError(
            "unknown-format", f"{format!r} is no format that is written.", hint=f"Formats: {', '.join(SET_FORMATS)}."
        )
    return SET_FORMATS[format][1](stream, waypoints, identity=identity)


def write_task(stream: BinaryIO, exported: ExportedTask, format: str) -> tuple[str, ...]:
    """Write a task in a format and return what the format could not hold. Raises UsageError for an unknown format."""
    if format not in TASK_FORMATS:
        raise UsageError(
            "unknown-format", f"{format!r} is no format that is written.", hint=f"Formats: {', '.join(TASK_FORMATS)}."
        )
    return TASK_FORMATS[format][1](stream, exported)
