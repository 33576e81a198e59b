"""Parts of a set for handing out: the points that some tasks use, and those round a place."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from taskdb.core.geodesy import distance_m
from taskdb.core.model import Place, Position, Task, Waypoint
from taskdb.files.pack import PackedFile
from taskdb.formats.known import SETS_WRITTEN, SUFFIX_OF
from taskdb.formats.registry import write_set
from taskdb.services.references import resolve_set
from taskdb.services.tasks.basis import place_of
from taskdb.services.tasks.free_points import free_places, free_set
from taskdb.store import sets as set_rows

if TYPE_CHECKING:
    from taskdb.store.engine import Connection


def used_points(c: Connection, tasks: Iterable[Task]) -> dict[str, list[Waypoint]]:
    """Return the waypoints that tasks use or leave to the pilot, by the set revision of each, in order of code.

    Of a modified task that is the points by code, or the whole set that it names.

    A point of a task's own, which no set has, comes along under its code; where that is taken a number is added.
    """
    by_set: dict[str, list[Place]] = {}
    for task in tasks:
        by_set.setdefault(f"{task.set_name}@{task.set_revision}", []).extend((*task.places, *free_places(c, task)))
        whole = free_set(c, task)
        if whole is not None:
            standing = set_rows.waypoints_at(c, whole.head.id, whole.revision)
            by_set.setdefault(str(whole), []).extend(place_of(waypoint) for waypoint in standing)
    return {reference: _waypoints(c, reference, places) for reference, places in by_set.items()}


def _waypoints(c: Connection, reference: str, places: Sequence[Place]) -> list[Waypoint]:
    at = resolve_set(c, reference)
    identities = {place.identity for place in places if place.identity is not None}
    standing = set_rows.waypoints_with_identities(c, at.head.id, at.revision, sorted(identities))
    found = {waypoint.code: waypoint for waypoint in standing.values()}
    own = [place for place in places if place.identity not in standing]
    for place in sorted(dict.fromkeys(own), key=lambda place: (place.code, place.position.latitude_e7)):
        code, number = place.code, 1
        while code in found and found[code].position != place.position:
            number += 1
            code = f"{place.code}_{number}"
        found.setdefault(code, Waypoint(code, place.name, place.position, place.elevation_m))
    return [found[code] for code in sorted(found)]


def with_those_near(
    points: Sequence[Waypoint], catalogue: Iterable[Waypoint], centre: Position, within_m: float
) -> list[Waypoint]:
    """Return points together with those of a catalogue within a distance of a place, in order of code."""
    found = {w.code: w for w in catalogue if distance_m(centre, w.position) <= within_m}
    found |= {w.code: w for w in points}
    return [found[code] for code in sorted(found)]


def points_files(points: dict[str, list[Waypoint]], formats: Iterable[str]) -> list[PackedFile]:
    """Return files of points: `points.gpx` …, with the set's revision in the name where there are several."""
    files = []
    for reference, waypoints in sorted(points.items()):
        name = "points" if len(points) == 1 else f"points {reference}"
        for format_name in formats:
            if format_name in SETS_WRITTEN:
                buffer = io.BytesIO()
                lost = write_set(buffer, waypoints, format_name)
                path = name + SUFFIX_OF[format_name]
                files.append(PackedFile(path, buffer.getvalue(), format_name, set=reference, lost=tuple(lost)))
    return files
