"""A task as CSV: one row a point, with its zone as text that is read back as the same zone, and the leg to it."""

from __future__ import annotations

import csv
import io
from typing import BinaryIO

from taskdb.core.names import clean_text
from taskdb.core.plain import course_degrees
from taskdb.formats.exported import ExportedTask, coordinate, number
from taskdb.formats.text.cells import neutralise
from taskdb.formats.waypoints.csv import format_elevation

TASK_HEADER = (
    "number", "role", "code", "name", "latitude_deg", "longitude_deg", "elevation_m", "zone", "zone_axis_deg",
    "zone_from", "leg_m", "course_true_deg",
)  # fmt: skip

LOST = "what belongs to the task as a whole: type, time, contest, fingerprint"
LOST_FREE = "what is left to the pilot: how many points from where, and their zone"


def write_csv_task(stream: BinaryIO, exported: ExportedTask) -> tuple[str, ...]:
    """Write a task's points in order (UTF-8, CRLF, quotes where needed) and return what the format could not hold.

    `leg_m` and `course_true_deg` are of the leg from the point of the row above to that of the row; empty at the start.
    """
    text = io.TextIOWrapper(stream, "utf-8", errors="replace", newline="")
    writer = csv.writer(text, lineterminator="\r\n", quoting=csv.QUOTE_MINIMAL)
    writer.writerow(TASK_HEADER)
    legs = {leg.to_number: leg for leg in exported.course.between_points}
    for i, point in enumerate(exported.task.points):
        leg, place, axis = legs.get(i), point.place, point.zone.axis_deg
        course = None if leg is None else leg.course_true_deg
        writer.writerow(
            [
                i,
                point.role.value,
                neutralise(clean_text(place.code)),
                neutralise(clean_text(place.name)),
                coordinate(place.position.latitude_deg),
                coordinate(place.position.longitude_deg),
                format_elevation(place.elevation_m),
                point.zone.text,
                "" if axis is None else number(course_degrees(axis)),
                point.zone_from.value,
                "" if leg is None else f"{leg.distance_m:.3f}",
                "" if course is None else number(course_degrees(course)),
            ]
        )
    text.flush()
    text.detach()
    return (LOST,) if exported.task.free is None else (LOST, LOST_FREE)
