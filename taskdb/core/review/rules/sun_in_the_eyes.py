"""Review rule `sun-in-the-eyes`: the last leg leads towards a low sun at the time at which it is flown."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.course.schedule import clock_after
from taskdb.core.judgement.glare import glare
from taskdb.core.judgement.presence import arrival_courses, on_leg, presences
from taskdb.core.model import Severity
from taskdb.core.review.rule import Draft, Reviewed, Rule


def check(given: Reviewed) -> Iterator[Draft]:
    """The last leg leads towards a low sun at the time at which it is flown.

    What: the angle between the course with which the last leg arrives and the sun, as it is seen on the sky from the
    finish, from when the first can turn into that leg until the last are home. It is told where it is within the
    limit, 20° unless the contest sets another (`contest limits NAME --glare 25deg`). In a task with areas the courses
    over its minimum, task and maximum distance are looked at.

    Why it matters: many gliders come home on one line in one quarter of an hour, low and fast, and into the sun nobody
    sees the other or the cable.

    How to mend: another last turn point or another direction round the task, an earlier start, a control point before
    the finish that brings them in from elsewhere; or accept the finding and say so in the briefing.

    Trap: nothing is known of clouds and hills, and the times are a plan. The limit is common practice, without a
    source: a dirty canopy dazzles at a wider angle. Without a date, a time zone, an opening of the start and a speed
    nothing is told.

    Example: The last leg arrives on 262° with the sun in the eyes from 18:35 to 19:40, 6° off the course at the worst:
    19:10, azimuth 266°, 4° high (limit 20°).
    """
    if given.sun_at is None or len(given.task.points) < 2:
        return
    ways = presences(given.task, given.course, given.day, given.speeds)
    bands = [on_leg(way.times, len(way.path) - 2) for way in ways if way.times is not None]
    courses = arrival_courses(ways)
    if not bands or not courses:
        return
    begin, end = min(first for first, _ in bands), max(last for _, last in bands)
    found = glare(courses, begin, end, given.sun_at, given.limits.glare_deg)
    if found is None:
        return
    first, last, worst = (clock_after("00:00", 60 * at) for at in (found.from_min, found.to_min, found.worst_min))
    when = f"at {first}" if first == last else f"from {first} to {last}"
    told = (
        f"The last leg arrives on {found.course_true_deg:03.0f}° with the sun in the eyes {when}, {found.off_deg:.0f}° "
        f"off the course at the worst: {worst}, azimuth {found.sun.azimuth_deg:03.0f}°, "
        f"{found.sun.elevation_deg:.0f}° high (limit {given.limits.glare_deg:g}°)."
    )
    evidence = {
        "leg": len(given.task.points) - 2,
        "course_true_deg": found.course_true_deg,
        "from": first,
        "to": last,
        "worst": worst,
        "off_deg": found.off_deg,
        "sun_azimuth_deg": found.sun.azimuth_deg,
        "sun_elevation_deg": found.sun.elevation_deg,
        "limit_deg": given.limits.glare_deg,
    }
    date = given.day.date if given.day is not None else None
    ends = tuple(point.place.code for point in given.task.points[-2:])
    read = (tuple(point.place.position for point in given.task.points[-2:]), date, first, last, round(found.off_deg))
    yield Draft(Severity.WARNING, ends, told, evidence, (*read, given.limits.glare_deg))


RULE = Rule("sun-in-the-eyes", "The last leg leads towards a low sun at the time at which it is flown.", check)
