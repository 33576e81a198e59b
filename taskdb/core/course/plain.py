"""The JSON form of tasks: their points, their measured course, what a declaration is worth, and the day of a task."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import Any

from taskdb.core.course.axes import default_orientation
from taskdb.core.course.day import DaySheet, LastFinish
from taskdb.core.course.declared import ByZones, DeclaredCourse
from taskdb.core.course.measure import Course, CourseShape, Distances, Leg, TaskTime
from taskdb.core.course.schedule import Timetable
from taskdb.core.course.wind import LegFlown
from taskdb.core.kinds import LegalEnd
from taskdb.core.model import FreeChoice, Task, TaskPoint
from taskdb.core.plain import (
    course_degrees,
    fields_plain,
    metres,
    or_none,
    place_plain,
    plain,
    speed_kmh,
    zone_plain,
)


def point_plain(point: TaskPoint, number: int) -> dict[str, Any]:
    """Return a task point under its number (the start is 0); an orientation taken from its role is shown as such."""
    place = place_plain(point.place) or {}
    zone = zone_plain(point.zone)
    taken = default_orientation(point.zone.shape, point.role)
    if point.zone.orientation is None and taken is not None:
        zone["orientation"] = taken.value
    return {
        "number": number,
        "role": point.role.value,
        **place,
        "zone": zone,
        "zone_from": point.zone_from.value,
    }


def free_plain(free: FreeChoice | None) -> dict[str, Any] | None:
    """Return the pilot's own choice of a modified assigned task, or null."""
    if free is None:
        return None
    return {**fields_plain(free), "zone": None if free.zone is None else zone_plain(free.zone)}


def leg_plain(leg: Leg, between_points: Leg) -> dict[str, Any]:
    """Return a leg; the course of a leg without length is null. The magnetic course is filled in by who knows it.

    `between_points` is the same leg from point to point: another one where a ring segment counts through its middle.
    """
    return {
        "from": leg.from_number,
        "to": leg.to_number,
        "distance_m": metres(leg.distance_m),
        "course_true_deg": or_none(course_degrees, leg.course_true_deg),
        "course_magnetic_deg": None,
        "points_m": metres(between_points.distance_m),
        "points_course_true_deg": or_none(course_degrees, between_points.course_true_deg),
    }


def distances_plain(distances: Distances, points_m: float) -> dict[str, Any]:
    """Return the lengths of a course in metres, with the points that attain its extremes.

    `points_m` is the length through the points themselves, `centres_m` that through the middle of ring segments.
    """
    return {
        "centres_m": metres(distances.centres_m),
        "points_m": metres(points_m),
        "task_m": metres(distances.task_m),
        "minimum_m": or_none(metres, distances.minimum_m),
        "maximum_m": or_none(metres, distances.maximum_m),
        "shortest_touching_m": or_none(metres, distances.shortest_touching_m),
        "minimum_at": [plain(position) for position in distances.minimum_at or ()],
        "maximum_at": [plain(position) for position in distances.maximum_at or ()],
        "deductions": [
            {"number": taken.number, "m": metres(taken.metres), "reason": taken.reason}
            for taken in distances.deductions
        ],
    }


def shape_plain(shape: CourseShape) -> dict[str, Any]:
    """Return the shape of a course; percentages to 1e-7, a missed limit never shown as met."""
    margin = shape.fai_margin_percent
    if margin is not None:
        margin = min(round(margin, 7), -1e-7) if margin < 0 else round(margin, 7)
    sides = [round(side, 7) for side in shape.side_percent]
    return {**fields_plain(shape), "side_percent": sides, "fai_margin_percent": margin}


def time_plain(time: TaskTime) -> dict[str, Any]:
    """Return a task's time in seconds and the speeds over its minimum, task and maximum distance."""
    return {
        "kind": time.kind,
        "time_s": time.time_s,
        "speed_kmh": {
            "minimum": or_none(speed_kmh, time.minimum_kmh),
            "task": or_none(speed_kmh, time.task_kmh),
            "maximum": or_none(speed_kmh, time.maximum_kmh),
        },
    }


def task_plain(
    task: Task, course: Course, *, revision: int, fingerprint: str, stale: Sequence[str] = ()
) -> dict[str, Any]:
    """Return one revision of a task with its measured course, as `task show` answers it."""
    return {
        "task": task.name,
        "revision": revision,
        "contest": task.contest,
        "day": task.day,
        "class": task.class_name,
        "variant": task.variant,
        "status": task.status.value,
        "set": f"{task.set_name}@{task.set_revision}",
        "type": task.type.value,
        "fingerprint": fingerprint,
        "earth": task.rules.earth.value,
        "free": free_plain(task.free),
        "take_off": place_plain(task.take_off),
        "landing": place_plain(task.landing),
        "tags": list(task.tags),
        "issued_at": task.issued_at,
        "stale": list(stale),
        "points": [point_plain(point, number) for number, point in enumerate(task.points)],
        "legs": [leg_plain(*legs) for legs in zip(course.legs, course.between_points, strict=True)],
        "distance": distances_plain(course.distances, course.points_m),
        "shape": shape_plain(course.shape),
        "time": time_plain(course.time),
    }


def declared_plain(course: DeclaredCourse | None) -> dict[str, Any] | None:
    """Return the assessment of a declared course, null for any other."""
    if course is None:
        return None
    return {
        "sectors": _by_zones(course.sectors),
        "cylinders": _by_zones(course.cylinders),
        "ends": [{"number": end.number, "shape": end.shape.value, "m": metres(end.metres)} for end in course.ends],
        "close_pairs": [
            {"first": pair.first_number, "second": pair.second_number, "distance_m": metres(pair.distance_m)}
            for pair in course.close_pairs
        ],
        "awards": [{"award": award.name, **fields_plain(award, but=["name"])} for award in course.awards],
        "obstacles": list(course.obstacles),
    }


def _by_zones(zones: ByZones) -> dict[str, Any]:
    return fields_plain(zones, but=["zones"])


def _seconds(value: float | None) -> float | None:
    return None if value is None else round(value, 1)


def legal_end_plain(rule: LegalEnd, is_set: bool, at: datetime.datetime | None) -> dict[str, Any]:
    """Return the rule by which the flying day ends, where the rule came from, and when that is."""
    return {"rule": rule.value, "rule_from": "contest" if is_set else "default", "at": plain(at)}


def _leg_plain(number: int, leg: LegFlown) -> dict[str, Any]:
    return {
        "from": number,
        "to": number + 1,
        "distance_m": metres(leg.distance_m),
        "time_s": _seconds(leg.time_s),
        "ground_kmh": or_none(speed_kmh, leg.ground_kmh),
        "heading_true_deg": or_none(course_degrees, leg.heading_deg),
        "headwind_kmh": or_none(speed_kmh, leg.headwind_kmh),
        "crosswind_kmh": or_none(speed_kmh, leg.crosswind_kmh),
        "cannot_be_made": leg.reason,
    }


def _flight_plain(sheet: DaySheet, flight: Timetable) -> dict[str, Any]:
    return {
        "extent": flight.extent.value,
        "time_s": _seconds(flight.time_s),
        "legs": [_leg_plain(number, leg) for number, leg in enumerate(flight.legs)],
        "points": [
            {"number": number, "after_start_s": _seconds(after), "at": at}
            for number, (after, at) in enumerate(zip(flight.after_s, sheet.over(flight), strict=True))
        ],
    }


def _finish_plain(finish: LastFinish | None) -> dict[str, Any] | None:
    if finish is None:
        return None
    return {
        "last_start": finish.last_start,
        "time_s": _seconds(finish.flight_s),
        "at": finish.at(),
        "speed_kmh": or_none(speed_kmh, finish.speed_kmh),
        "basis": finish.basis,
    }


def day_sheet_plain(sheet: DaySheet | None) -> dict[str, Any] | None:
    """Return a task's day, or null where nothing is known of it. Times of day are local to `timezone`."""
    if sheet is None:
        return None
    declinations = sheet.declinations
    return {
        "date": sheet.date,
        "timezone": sheet.timezone,
        "start_opens": sheet.start_opens,
        "still_air_kmh": None if sheet.air is None else speed_kmh(sheet.air.speed_kmh),
        "still_air_from": sheet.speed_from,
        "wind": plain(sheet.wind),
        "flights": [_flight_plain(sheet, flight) for flight in sheet.timetables],
        "last_finish": _finish_plain(sheet.last_finish),
        "sun": plain(sheet.sun),
        "legal_end": legal_end_plain(sheet.legal_end, sheet.legal_end_is_set, sheet.legal_end_at),
        "magnetic_model": declinations[0].model if declinations else None,
        "declination_deg": [None if one.degrees is None else round(one.degrees, 4) for one in declinations],
        "notes": list(sheet.notes),
    }
