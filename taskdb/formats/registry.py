"""Which formats there are, and what reads and writes each. To add a format: one module, and one line here."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from importlib import import_module
from typing import Any, BinaryIO

from taskdb.core.model import Waypoint
from taskdb.errors import UsageError
from taskdb.formats.detect import detect, detect_task
from taskdb.formats.exported import ExportedTask
from taskdb.formats.limits import LARGEST_TASK_BYTES, require_size
from taskdb.formats.tasks.reading import MOST_POINTS, ReadPoint, TaskReading
from taskdb.formats.text.decode import seekable
from taskdb.formats.text.intake import Decided, ReadOptions, Record, Records, Reject, SetReading
from taskdb.formats.text.profiles import Profile, parse_profile
from taskdb.formats.text.rejects import write_rejects

__all__ = [
    "MOST_POINTS",
    "SET_FORMATS",
    "SET_READERS",
    "TASK_FORMATS",
    "TASK_READERS",
    "Decided",
    "ExportedTask",
    "Profile",
    "ReadOptions",
    "ReadPoint",
    "Record",
    "Records",
    "Reject",
    "SetReading",
    "TaskReading",
    "parse_profile",
    "read_set",
    "read_tasks",
    "read_tasks_by_profile",
    "write_rejects",
    "write_set",
    "write_set_by_profile",
    "write_task",
    "write_task_by_profile",
]

SetReader = Callable[[BinaryIO, ReadOptions], SetReading]
SetWriter = Callable[..., tuple[str, ...]]
"""`(stream, waypoints, *, identity=False)` → what the format could not hold."""
TaskWriter = Callable[[BinaryIO, ExportedTask], tuple[str, ...]]
TaskReader = Callable[[BinaryIO], tuple[TaskReading, ...]]


def _later(module: str, function: str) -> Callable[..., Any]:
    """Return a function of a module that is loaded when it is first called: a command pays for its own format only."""

    def call(*values: Any, **named: Any) -> Any:
        return getattr(import_module(f"taskdb.formats.{module}"), function)(*values, **named)

    return call


SET_FORMATS: Mapping[str, tuple[str, SetWriter]] = {
    "csv": (".csv", _later("waypoints.csv", "write_csv")),
    "geojson": (".geojson", _later("waypoints.geojson", "write_geojson")),
    "gpx": (".gpx", _later("waypoints.gpx", "write_gpx")),
    "kml": (".kml", _later("waypoints.kml", "write_kml")),
}
"""The formats in which sets are written: suffix and writer by name."""

TASK_FORMATS: Mapping[str, tuple[str, TaskWriter]] = {
    "gpx": (".gpx", _later("tasks.gpx", "write_gpx_task")),
    "geojson": (".geojson", _later("tasks.geojson", "write_geojson_task")),
    "csv": (".csv", _later("tasks.csv", "write_csv_task")),
    "igc": (".igc", _later("tasks.igc", "write_igc_task")),
    "kml": (".kml", _later("tasks.kml", "write_kml_task")),
}
"""The formats in which tasks are written: suffix and writer by name."""

SET_READERS: Mapping[str, SetReader] = {
    "csv": _later("waypoints.csv", "read_csv"),
    "geojson": _later("waypoints.geojson", "read_geojson"),
    "gpx": _later("waypoints.gpx", "read_gpx"),
    "kml": _later("waypoints.kml", "read_kml"),
    "kmz": _later("waypoints.kml", "read_kmz"),
    "tsv": _later("waypoints.csv", "read_csv"),
}
"""The formats from which sets are read, by name."""

TASK_READERS: Mapping[str, TaskReader] = {
    "csv": _later("tasks.csv_reading", "read_csv_tasks"),
    "geojson": _later("tasks.geojson_reading", "read_geojson_tasks"),
    "gpx": _later("tasks.gpx_reading", "read_gpx_tasks"),
    "igc": _later("tasks.igc_reading", "read_igc_tasks"),
    "kml": _later("tasks.kml_reading", "read_kml_tasks"),
    "kmz": _later("tasks.kml_reading", "read_kmz_tasks"),
}
"""The formats from which tasks are read, by name."""


def read_tasks(stream: BinaryIO, *, file_name: str, format: str | None = None) -> tuple[TaskReading, ...]:
    """Return the tasks of a file in any format that is known, with every problem of each.

    `file_name` is for messages; the format is as told or decided by the content. A GPX file may hold several routes;
    of a recorder's file the declaration that counts is read. Raises InputError where the file as a whole cannot be
    used, UsageError for an unknown format.
    """
    stream = seekable(stream)
    name = format or detect_task(stream)
    if name not in TASK_READERS:
        raise UsageError(
            "unknown-format",
            f"{file_name}: {name!r} is no format from which tasks are read.",
            hint=f"Formats: {', '.join(TASK_READERS)}.",
        )
    require_size(stream, LARGEST_TASK_BYTES, "Give the file of one task or of one day.")
    return TASK_READERS[name](stream)


def read_tasks_by_profile(stream: BinaryIO, profile: Profile) -> tuple[TaskReading, ...]:
    """Return the tasks of a file in the layout of a user's profile, with every problem of each."""
    stream = seekable(stream)
    require_size(stream, LARGEST_TASK_BYTES, "Give the file of one task or of one day.")
    tasks: tuple[TaskReading, ...] = _later("tasks.profile_reading", "read_tasks_by_profile")(stream, profile)
    return tasks


def read_set(stream: BinaryIO, *, file_name: str, options: ReadOptions | None = None) -> SetReading:
    """Return the waypoints of a file in any format that is known, with every problem of every row.

    `file_name` is for messages; the format is as told or decided by the content. Raises InputError where the file
    as a whole cannot be used (empty, no text, no column for code or position, an ambiguous notation …).
    """
    options = options or ReadOptions()
    stream = seekable(stream)
    if options.profile is not None:
        profile = parse_profile(options.profile)
        reading: SetReading = _later("text.profile_text", "read_by_profile")(stream, profile, options)
        return reading
    return _reader(options.format or detect(stream))(stream, options)


def _reader(name: str) -> SetReader:
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


def write_set_by_profile(stream: BinaryIO, waypoints: Iterable[Waypoint], profile: Profile) -> tuple[str, ...]:
    """Write a set in the layout of a user's profile and return what it does not hold."""
    lost: tuple[str, ...] = _later("text.profile_text", "write_set_by_profile")(stream, waypoints, profile)
    return lost


def write_task_by_profile(stream: BinaryIO, exported: ExportedTask, profile: Profile) -> tuple[str, ...]:
    """Write a task in the layout of a user's profile and return what it does not hold."""
    lost: tuple[str, ...] = _later("text.profile_text", "write_task_by_profile")(stream, exported, profile)
    return lost
