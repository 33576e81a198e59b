"""The formats that are known, one entry each: what reads and writes it, and where it goes.

Help, completion, `export`, hand-outs and the folders that are looked through for tasks are made from this table.
Nothing is loaded from here, so that help and completion can read it; `registry` calls what it names.
"""

from __future__ import annotations

from typing import NamedTuple


class Way(NamedTuple):
    """How sets, tasks, or airspace go through a format.

    `reads` and `writes` name a function as `module:function` below `taskdb.formats`; None where there is none. What
    is read can be imported; what is written can be exported, and is offered by help and completion. Only what says
    `in_handout` goes into a hand-out, where every pilot gets it. `has_order`: each file says that its points are a
    task; a file without order may be a list of places, and in a folder it is taken as a task only where it says so.
    """

    reads: str | None = None
    writes: str | None = None
    in_handout: bool = False
    has_order: bool = False


class Format(NamedTuple):
    """A format: its name, the suffix of written files and then those of read ones, and how each noun goes."""

    name: str
    suffixes: tuple[str, ...]
    sets: Way = Way()
    tasks: Way = Way()
    airspace: Way = Way()


FORMATS = (
    Format("aixm", (".xml",), airspace=Way("airspace.aixm:read_aixm_airspace")),
    Format(
        "csv",
        (".csv",),
        sets=Way("waypoints.csv:read_csv", "waypoints.csv:write_csv", in_handout=True),
        tasks=Way("tasks.csv:read_csv_tasks", "tasks.csv:write_csv_task", in_handout=True),
    ),
    Format(
        "geojson",
        (".geojson", ".json"),
        sets=Way("waypoints.geojson:read_geojson", "waypoints.geojson:write_geojson", in_handout=True),
        tasks=Way("tasks.geojson:read_geojson_tasks", "tasks.geojson:write_geojson_task", in_handout=True),
        airspace=Way("airspace.geojson:read_geojson_airspace", "airspace.geojson:write_geojson_airspace"),
    ),
    Format(
        "gpx",
        (".gpx",),
        sets=Way("waypoints.gpx:read_gpx", "waypoints.gpx:write_gpx", in_handout=True),
        tasks=Way("tasks.gpx:read_gpx_tasks", "tasks.gpx:write_gpx_task", in_handout=True, has_order=True),
    ),
    Format(
        "igc",
        (".igc",),
        tasks=Way("tasks.igc:read_igc_tasks", "tasks.igc:write_igc_task", in_handout=True, has_order=True),
    ),
    Format(
        "kml",
        (".kml",),
        sets=Way("waypoints.kml:read_kml", "waypoints.kml:write_kml", in_handout=True),
        tasks=Way("tasks.kml:read_kml_tasks", "tasks.kml:write_kml_task", in_handout=True),
        airspace=Way("airspace.kml:read_kml_airspace", "airspace.kml:write_kml_airspace"),
    ),
    Format(
        "kmz",
        (".kmz",),
        sets=Way("waypoints.kml:read_kmz"),
        tasks=Way("tasks.kml:read_kmz_tasks"),
        airspace=Way("airspace.kml:read_kmz_airspace"),
    ),
    Format("tsv", (".tsv",), sets=Way("waypoints.csv:read_csv")),
)

SETS_READ = {f.name: f.sets.reads for f in FORMATS if f.sets.reads is not None}
SETS_WRITTEN = {f.name: f.sets.writes for f in FORMATS if f.sets.writes is not None}
TASKS_READ = {f.name: f.tasks.reads for f in FORMATS if f.tasks.reads is not None}
TASKS_WRITTEN = {f.name: f.tasks.writes for f in FORMATS if f.tasks.writes is not None}
AIRSPACE_READ = {f.name: f.airspace.reads for f in FORMATS if f.airspace.reads is not None}
AIRSPACE_WRITTEN = {f.name: f.airspace.writes for f in FORMATS if f.airspace.writes is not None}
"""What reads and writes sets, tasks and airspace, by the format's name."""

SUFFIX_OF = {f.name: f.suffixes[0] for f in FORMATS}
"""The suffix of a written file, by the format's name."""

SETS_HANDED_OUT = tuple(f.name for f in FORMATS if f.sets.in_handout)
TASKS_HANDED_OUT = tuple(f.name for f in FORMATS if f.tasks.in_handout)

TASK_SUFFIXES = frozenset(suffix for f in FORMATS if f.tasks.reads is not None for suffix in f.suffixes)
"""The files of a folder that may hold tasks."""
PLACES_ONLY = frozenset(f.name for f in FORMATS if not f.tasks.has_order)
"""Formats of which a file may be a list of places in no order."""
