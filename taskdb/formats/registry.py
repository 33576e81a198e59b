"""What services call to read and write sets, tasks and airspace in a format of the table `known` or by a profile."""

from __future__ import annotations

import codecs
import io
import re
from collections.abc import Callable, Iterable, Mapping
from importlib import import_module
from typing import TYPE_CHECKING, Any, BinaryIO

from taskdb.core.airspace.volume import Volume
from taskdb.core.model import Waypoint
from taskdb.errors import InputError, UsageError
from taskdb.formats.airspace.reading import AirspaceOptions, AirspaceReading
from taskdb.formats.exported import ExportedTask, InOrder
from taskdb.formats.known import AIRSPACE_READ, AIRSPACE_WRITTEN, SETS_READ, SETS_WRITTEN, TASKS_READ, TASKS_WRITTEN
from taskdb.formats.limits import LARGEST_TASK_BYTES, require_size
from taskdb.formats.tasks.reading import MOST_POINTS, ReadPoint, TaskReading
from taskdb.formats.text.intake import Decided, ReadOptions, Record, Records, Reject, SetReading
from taskdb.formats.text.profiles import Profile, parse_profile
from taskdb.formats.waypoints.rejects import write_rejects

if TYPE_CHECKING:
    from taskdb.core.flights.fixes import Log

__all__ = [
    "MOST_POINTS",
    "AirspaceOptions",
    "AirspaceReading",
    "Decided",
    "ExportedTask",
    "InOrder",
    "Profile",
    "ReadOptions",
    "ReadPoint",
    "Record",
    "Records",
    "Reject",
    "SetReading",
    "TaskReading",
    "parse_profile",
    "read_airspace",
    "read_flight",
    "read_set",
    "read_tasks",
    "read_tasks_by_profile",
    "write_airspace",
    "write_rejects",
    "write_set",
    "write_set_by_profile",
    "write_task",
    "write_task_by_profile",
]


def _at(where: str) -> Callable[..., Any]:
    """Return the function `module:function`: its module is loaded now, so that a command pays for its own format."""
    module, _, function = where.partition(":")
    found: Callable[..., Any] = getattr(import_module(f"taskdb.formats.{module}"), function)
    return found


def _known(formats: Mapping[str, str], name: str, what: str) -> Callable[..., Any]:
    """Return what reads or writes a format. UsageError for one that `formats` does not name."""
    if name not in formats:
        raise UsageError("unknown-format", f"{name!r} is no format {what}.", hint=f"Formats: {', '.join(formats)}.")
    return _at(formats[name])


def read_tasks(stream: BinaryIO, *, format: str | None = None) -> tuple[TaskReading, ...]:
    """Return the tasks of a file in any format that is known, with every problem of each.

    The format is as told or decided by the content. A GPX file may hold several routes; of a recorder's file the
    declaration that counts is read. Raises InputError where the file as a whole cannot be used, UsageError for an
    unknown format.
    """
    stream = _seekable(stream)
    read = _known(TASKS_READ, format or detect_task(stream), "from which tasks are read")
    require_size(stream, LARGEST_TASK_BYTES, "Give the file of one task or of one day.")
    tasks: tuple[TaskReading, ...] = read(stream)
    return tasks


def read_tasks_by_profile(stream: BinaryIO, profile: Profile) -> tuple[TaskReading, ...]:
    """Return the tasks of a file in the layout of a user's profile, with every problem of each."""
    stream = _seekable(stream)
    require_size(stream, LARGEST_TASK_BYTES, "Give the file of one task or of one day.")
    tasks: tuple[TaskReading, ...] = _at("tasks.profile:read_tasks_by_profile")(stream, profile)
    return tasks


def read_set(stream: BinaryIO, *, options: ReadOptions | None = None) -> SetReading:
    """Return the waypoints of a file in any format that is known, with every problem of every row.

    The format is as told or decided by the content. Raises InputError where the file as a whole cannot be used
    (empty, no text, no column for code or position, an ambiguous notation …), UsageError for an unknown format.
    """
    options = options or ReadOptions()
    stream = _seekable(stream)
    reading: SetReading
    if options.profile is not None:
        reading = _at("waypoints.profile:read_set_by_profile")(stream, parse_profile(options.profile), options)
    else:
        reading = _known(SETS_READ, options.format or detect(stream), "that is read")(stream, options)
    return reading


def read_airspace(stream: BinaryIO, *, options: AirspaceOptions | None = None) -> AirspaceReading:
    """Return the volumes of a file in any format that is known, with every problem of every volume.

    The format is as told or decided by the content. Raises InputError where the file as a whole cannot be used,
    UsageError for an unknown format or field.
    """
    options = options or AirspaceOptions()
    stream = _seekable(stream)
    name = options.format or _detect_airspace(stream)
    reading: AirspaceReading = _known(AIRSPACE_READ, name, "from which airspace is read")(stream, options)
    return reading


def read_flight(stream: BinaryIO) -> Log:
    """Return the flight of a recorder's file, which the IGC specification alone says how to write.

    What is spoilt is told and left out. Raises InputError where the file is too large, or holds no fixes.
    """
    log: Log = _at("flights.igc:read_igc_flight")(_seekable(stream))
    return log


def _seekable(stream: BinaryIO) -> BinaryIO:
    """Return a stream that can be read twice, from where it stands."""
    return stream if stream.seekable() else io.BytesIO(stream.read())


def write_set(
    stream: BinaryIO, waypoints: Iterable[Waypoint], format: str, *, identity: bool = False
) -> tuple[str, ...]:
    """Write a set in a format and return what the format could not hold, as sentences' parts; byte for byte the same
    for the same waypoints. Raises UsageError for an unknown format.
    """
    write = _known(SETS_WRITTEN, format, "that is written")
    lost: tuple[str, ...] = write(stream, waypoints, identity=identity)
    return lost


def write_task(stream: BinaryIO, exported: ExportedTask, format: str) -> tuple[str, ...]:
    """Write a task in a format and return what the format could not hold. Raises UsageError for an unknown format."""
    lost: tuple[str, ...] = _known(TASKS_WRITTEN, format, "that is written")(stream, exported)
    return lost


def write_set_by_profile(stream: BinaryIO, waypoints: Iterable[Waypoint], profile: Profile) -> tuple[str, ...]:
    """Write a set in the layout of a user's profile and return what it does not hold."""
    lost: tuple[str, ...] = _at("waypoints.profile:write_set_by_profile")(stream, waypoints, profile)
    return lost


def write_task_by_profile(stream: BinaryIO, exported: ExportedTask, profile: Profile) -> tuple[str, ...]:
    """Write a task in the layout of a user's profile and return what it does not hold."""
    lost: tuple[str, ...] = _at("tasks.profile:write_task_by_profile")(stream, exported, profile)
    return lost


def write_airspace(stream: BinaryIO, volumes: Iterable[Volume], format: str) -> tuple[str, ...]:
    """Write volumes in a format and return what it could not hold. UsageError for an unknown format."""
    lost: tuple[str, ...] = _known(AIRSPACE_WRITTEN, format, "in which airspace is written")(stream, volumes)
    return lost


# Which format a file is in, by what it begins with; its name is not asked, since people rename files.

_HEAD = 1 << 13
_ROOT = re.compile(r"<(?![?!])\s*(?:[\w.-]+:)?([\w.-]+)")
# The recorder's own line, and behind it its headers or what it declares (IGC Technical Specification, A 2.3).
_RECORDED = re.compile(
    rb"\A(?:\xef\xbb\xbf)?(?:A[0-9A-Z]{3}[^\r\n]*[\r\n]+)?(?:H[FOP][A-Z]{3}|HDTE|C\d{18}[0-9A-Z]{4}\d\d)"
)
_AIXM = re.compile(rb"<(?:[\w.-]+:)?AIXMBasicMessage\b")
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


def _detect_airspace(stream: BinaryIO) -> str:
    """Return the name of a format: `aixm` for its message, else as `detect`; the stream at its beginning."""
    head = stream.read(_HEAD)
    stream.seek(0)
    return "aixm" if _AIXM.search(head) else detect(stream)


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
