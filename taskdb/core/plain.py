"""The one JSON form of waypoints, zones, tasks, findings and row problems: plain dicts, lists, text and numbers.

Nothing is rounded for show: metres to 1 mm, degrees to 1e-7, courses to 1e-4 and always below 360. Every command,
format and report that writes JSON takes it from here, so that a thing looks the same wherever it is printed.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from enum import Enum
from typing import TYPE_CHECKING, Any

from taskdb.core.course.axes import default_orientation
from taskdb.core.model import (
    Finding,
    FreeChoice,
    Place,
    Position,
    Radio,
    RowProblem,
    Runway,
    Suggestion,
    Task,
    TaskPoint,
    Waypoint,
    Zone,
)

if TYPE_CHECKING:
    from taskdb.core.course.measure import Course, CourseShape, Distances, Leg, TaskTime


def metres(value: float) -> float:
    """Return metres to 1 mm, without a negative zero."""
    return round(value, 3) + 0.0


def degrees(value: float) -> float:
    """Return degrees to 1e-7, without a negative zero."""
    return round(value, 7) + 0.0


def course_degrees(value: float) -> float:
    """Return a course or bearing to 1e-4, 0 ≤ x < 360: 359.99996 is 0."""
    return round(value % 360.0, 4) % 360.0


def _maybe_metres(value: float | None) -> float | None:
    return None if value is None else metres(value)


def _maybe_course(value: float | None) -> float | None:
    return None if value is None else course_degrees(value)


def plain(value: Any) -> Any:
    """Return `value` made of dicts, lists, text, numbers and None: mappings, tuples, enums and positions unfolded.

    Numbers stay as they are. Anything that has no JSON form raises TypeError: it is a bug.
    """
    if value is None or isinstance(value, bool | int | float):
        return value
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, str):
        return value
    if isinstance(value, Position):
        return [degrees(value.latitude_deg), degrees(value.longitude_deg)]
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, Sequence | set | frozenset):
        return [plain(item) for item in (sorted(value) if isinstance(value, set | frozenset) else value)]
    raise TypeError(f"{type(value).__name__} has no plain form")


def canonical_json(value: Any) -> str:
    """Return JSON text that is the same for the same value: sorted keys, no blanks, letters as they are."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def radio_plain(radio: Radio) -> dict[str, Any]:
    """Return `{"channel", "purpose"}`."""
    return {"channel": radio.channel, "purpose": radio.purpose}


def runway_plain(runway: Runway) -> dict[str, Any]:
    """Return a runway; metres and a true heading, each null where unknown."""
    return {
        "designator": runway.designator,
        "heading_true_deg": _maybe_course(runway.heading_true_deg),
        "length_m": _maybe_metres(runway.length_m),
        "width_m": _maybe_metres(runway.width_m),
        "surface": runway.surface,
        "one_way": runway.one_way,
    }


def waypoint_plain(
    waypoint: Waypoint, *, set_name: str | None, revision: int | None, distance_m: float | None = None
) -> dict[str, Any]:
    """Return a waypoint as of a set's revision; `distance_m` stands only where it was asked for."""
    result: dict[str, Any] = {
        "set": set_name,
        "revision": revision,
        "identity": waypoint.identity,
        "code": waypoint.code,
        "name": waypoint.name,
        "latitude_deg": degrees(waypoint.position.latitude_deg),
        "longitude_deg": degrees(waypoint.position.longitude_deg),
        "elevation_m": _maybe_metres(waypoint.elevation_m),
        "landable": None if waypoint.landable is None else waypoint.landable.value,
        "feature": None if waypoint.feature is None else waypoint.feature.value,
        "country": waypoint.country,
        "radio": [radio_plain(radio) for radio in waypoint.radio],
        "runways": [runway_plain(runway) for runway in waypoint.runways],
        "description": waypoint.description,
        "source": waypoint.source,
        "inspected_on": waypoint.inspected_on,
    }
    if distance_m is not None:
        result["distance_m"] = metres(distance_m)
    return result


def zone_plain(zone: Zone) -> dict[str, Any]:
    """Return a zone; what does not apply to its shape is null."""
    return {
        "shape": zone.shape.value,
        "radius_m": _maybe_metres(zone.radius_m),
        "inner_radius_m": _maybe_metres(zone.inner_radius_m),
        "length_m": _maybe_metres(zone.length_m),
        "opening_deg": None if zone.opening_deg is None else degrees(zone.opening_deg),
        "core_radius_m": _maybe_metres(zone.core_radius_m),
        "from_radial_deg": _maybe_course(zone.from_radial_deg),
        "to_radial_deg": _maybe_course(zone.to_radial_deg),
        "orientation": None if zone.orientation is None else zone.orientation.value,
        "axis_deg": _maybe_course(zone.axis_deg),
        "text": zone.text,
    }


def problem_plain(problem: RowProblem) -> dict[str, Any]:
    """Return a row problem; `suggestion` stands only where there is one."""
    result: dict[str, Any] = {
        "line": problem.line,
        "field": problem.field,
        "value": problem.value,
        "code": problem.code,
        "message": problem.message,
    }
    if problem.suggestion is not None:
        result["suggestion"] = problem.suggestion
    return result


def suggestion_plain(suggestion: Suggestion) -> dict[str, Any]:
    """Return a mend: both coordinates, or null coordinates with `field` and `value`."""
    position = suggestion.position
    result: dict[str, Any] = {
        "code": suggestion.code,
        "latitude_deg": None if position is None else degrees(position.latitude_deg),
        "longitude_deg": None if position is None else degrees(position.longitude_deg),
        "reason": suggestion.reason,
    }
    if suggestion.field is not None:
        result["field"] = suggestion.field
        result["value"] = plain(suggestion.value)
    return result


def finding_plain(finding: Finding) -> dict[str, Any]:
    """Return a finding of a check or a review, with its evidence as plain values."""
    accepted = finding.accepted
    return {
        "id": finding.id,
        "rule": finding.rule,
        "severity": finding.severity.value,
        "codes": list(finding.codes),
        "message": finding.message,
        "evidence": plain(finding.evidence),
        "suggestion": None if finding.suggestion is None else suggestion_plain(finding.suggestion),
        "alternatives": [suggestion_plain(other) for other in finding.alternatives],
        "accepted": None if accepted is None else {"by": accepted.by, "why": accepted.why},
    }


def place_plain(place: Place | None) -> dict[str, Any] | None:
    """Return a place as a task keeps it, or null."""
    if place is None:
        return None
    return {
        "code": place.code,
        "name": place.name,
        "latitude_deg": degrees(place.position.latitude_deg),
        "longitude_deg": degrees(place.position.longitude_deg),
        "elevation_m": _maybe_metres(place.elevation_m),
    }


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
    return {
        "most_points": free.most_points,
        "from_set": free.from_set,
        "from_codes": list(free.from_codes),
        "no_repeat": free.no_repeat,
        "zone": None if free.zone is None else zone_plain(free.zone),
        "zone_from": None if free.zone_from is None else free.zone_from.value,
    }


def leg_plain(leg: Leg, between_points: Leg) -> dict[str, Any]:
    """Return a leg; the course of a leg without length is null. The magnetic course is filled in by who knows it.

    `between_points` is the same leg from point to point: another one where a ring segment counts through its middle.
    """
    return {
        "from": leg.from_number,
        "to": leg.to_number,
        "distance_m": metres(leg.distance_m),
        "course_true_deg": _maybe_course(leg.course_true_deg),
        "course_magnetic_deg": None,
        "points_m": metres(between_points.distance_m),
        "points_course_true_deg": _maybe_course(between_points.course_true_deg),
    }


def distances_plain(distances: Distances, points_m: float) -> dict[str, Any]:
    """Return the lengths of a course in metres, with the points that attain its extremes.

    `points_m` is the length through the points themselves, `centres_m` that through the middle of ring segments.
    """
    return {
        "centres_m": metres(distances.centres_m),
        "points_m": metres(points_m),
        "task_m": metres(distances.task_m),
        "minimum_m": _maybe_metres(distances.minimum_m),
        "maximum_m": _maybe_metres(distances.maximum_m),
        "shortest_touching_m": _maybe_metres(distances.shortest_touching_m),
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
    return {
        "kind": shape.kind.value,
        "closed": shape.is_closed,
        "gap_m": metres(shape.gap_m),
        "side_percent": [round(side, 7) for side in shape.side_percent],
        "fai_triangle": shape.is_fai_triangle,
        "fai_margin_percent": margin,
        "note": shape.note,
    }


def time_plain(time: TaskTime) -> dict[str, Any]:
    """Return a task's time in seconds and the speeds over its minimum, task and maximum distance."""

    def speed(value: float | None) -> float | None:
        return None if value is None else round(value, 4)

    return {
        "kind": time.kind,
        "time_s": time.time_s,
        "speed_kmh": {
            "minimum": speed(time.minimum_kmh),
            "task": speed(time.task_kmh),
            "maximum": speed(time.maximum_kmh),
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
