"""What has moved on under a saved task: used points that changed or were retired, defaults that were taken and changed.

Sentences for people, computed from values; which revisions they are held against is the caller's choice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from taskdb.core.course.zones import same_geometry
from taskdb.core.geodesy import bearing_deg, distance_m
from taskdb.core.model import FreeChoice, Place, Role, Task, Waypoint, Zone, ZoneFrom
from taskdb.core.quantities import format_bearing, format_short_distance


def stale_reasons(
    task: Task,
    *,
    standing: Mapping[str, Waypoint] | None,
    standing_at: str,
    defaults: Mapping[Role, tuple[Zone, ZoneFrom]] | None,
    contest_at: str | None,
    free: Sequence[Place] = (),
) -> tuple[str, ...]:
    """Return what makes `task` stale, one sentence a reason, in order of points; empty where nothing does.

    `standing` holds the waypoints of the revision `standing_at` by identity, None where that is a revision of another
    set than the task's: identities of one say nothing about the other. `defaults` the zone defaults that count now for
    the task's class and day (`contest_at` names them), or None where no contest is behind the task. `free` are the
    places that the pilot may choose, as the task's set revision has them.
    """
    reasons: list[str] = []
    if standing is None:
        reasons.append(f"it stands on {task.set_name}@{task.set_revision}, its contest on {standing_at}")
    else:
        ends = (("the take-off", task.take_off), ("the landing", task.landing))
        places = [(f"point {number}", point.place) for number, point in enumerate(task.points)]
        choices = [("the free point", place) for place in free]
        for label, place in (*places, *choices, *((label, place) for label, place in ends if place is not None)):
            reasons.extend(_point_reasons(label, place, standing, standing_at))
    if defaults is not None:
        reasons.extend(_default_reasons(task, defaults, contest_at or "its contest"))
        reasons.extend(_free_reasons(task.free, defaults, contest_at or "its contest"))
    return tuple(reasons)


def _point_reasons(label: str, place: Place, standing: Mapping[str, Waypoint], at: str) -> list[str]:
    if place.identity is None:
        return []
    now = standing.get(place.identity)
    if now is None:
        return [f"{label} ({place.code} {place.name}) is retired in {at}"]
    changes = []
    if now.position != place.position:
        off = distance_m(place.position, now.position)
        towards = bearing_deg(place.position, now.position)
        changes.append(f"moved {format_short_distance(off)} towards {format_bearing(towards or 0.0)}°")
    if now.code != place.code:
        changes.append(f"has the code {now.code}")
    if now.name != place.name:
        changes.append(f"is called {now.name}")
    if now.elevation_m != place.elevation_m:
        changes.append("has another elevation")
    return [f"{label} ({place.code} {place.name}) {', '.join(changes)} in {at}"] if changes else []


def _default_reasons(task: Task, defaults: Mapping[Role, tuple[Zone, ZoneFrom]], contest_at: str) -> list[str]:
    reasons = []
    whose = {ZoneFrom.CLASS: f" for class {task.class_name}", ZoneFrom.DAY: f" for day {task.day}"}
    for number, point in enumerate(task.points):
        if point.zone_from is ZoneFrom.OWN:
            continue
        zone, origin = defaults[point.role]
        if not same_geometry(zone, point.zone):
            reasons.append(
                f"point {number} ({point.place.code}) took the default {point.zone.text!r}; "
                f"{contest_at} now has {zone.text!r}{whose.get(origin, '')}"
            )
    return reasons


def _free_reasons(
    free: FreeChoice | None, defaults: Mapping[Role, tuple[Zone, ZoneFrom]], contest_at: str
) -> list[str]:
    if free is None or free.zone is None or free.zone_from is ZoneFrom.OWN:
        return []
    zone, _ = defaults[Role.TURN]
    if same_geometry(zone, free.zone):
        return []
    return [f"its free points took the default {free.zone.text!r}; {contest_at} now has {zone.text!r}"]
