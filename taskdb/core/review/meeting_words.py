"""What rules say of two tasks that meet on a day: parts of a sentence, and evidence, the same from both sides."""

from __future__ import annotations

from typing import Any

from taskdb.core.course.schedule import clock_after
from taskdb.core.judgement.meeting import Meeting, nearest_point
from taskdb.core.quantities import format_distance, format_short_distance
from taskdb.core.review.rule import place_and_zone

NEAR_M = 2000.0
"""So far from a point a place is still near it, in words."""


def clock(minutes: float) -> str:
    """Return the time of day so many minutes after midnight."""
    return clock_after("00:00", minutes * 60)


def on_legs(meeting: Meeting) -> tuple[str, str]:
    """Return whose and which leg it is on both sides: `Open (A2) from QRY to CST`."""
    first, second = (
        f"{one.who} from {one.task.points[n].place.code} to {one.task.points[n + 1].place.code}"
        for one, n in zip(meeting.tasks, meeting.numbers, strict=True)
    )
    return first, second


def apart_words(meeting: Meeting) -> str:
    """Return how far apart they are, and where that is; of areas from the nearest to the furthest of their ways."""
    least, most = format_short_distance(meeting.apart_m), format_short_distance(meeting.apart_most_m)
    if meeting.is_even:
        apart = "on one line" if meeting.apart_m < 1.0 else f"{least} apart all along"
    else:
        code, off_m = nearest_point(meeting.tasks, meeting.place)
        where = f"near {code}" if off_m <= NEAR_M else f"{format_distance(off_m)} from {code}"
        apart = f"{least} apart at the closest, {where}"
    return apart if least == most else f"{apart} (up to {most} on other ways through the areas)"


def when_words(meeting: Meeting) -> str:
    """Return when both can be there, as the end of a sentence."""
    when = meeting.when
    if when is None:
        return "; when is not known: one of them lacks the opening of its start or a speed"
    if when.gap_min and clock(when.from_min) == clock(when.to_min):
        return f"; the ones come as the others go, at {clock(when.from_min)}"
    if when.gap_min:
        return f"; the last of one are gone at {clock(when.to_min)}, the first of the other come {clock(when.from_min)}"
    return f"; both can be there from {clock(when.from_min)} to {clock(when.to_min)}"


def planned_words(meeting: Meeting, separation_m: float) -> str:
    """Return when two flights meet as planned; nothing where they do not come so near to each other."""
    if meeting.planned is None or meeting.planned.apart_m > separation_m:
        return ""
    return f", and two flights as planned meet at {clock(meeting.planned.at_min)}"


def meeting_evidence(meeting: Meeting, what: str) -> dict[str, Any]:
    """Return the evidence that all meetings have; `what` says of what the numbers are: `legs` or `numbers`."""
    when, planned, stretches = meeting.when, meeting.planned, meeting.stretches_m
    code, off_m = nearest_point(meeting.tasks, meeting.place)
    return {
        "kind": meeting.kind.value,
        "tasks": [one.label for one in meeting.tasks],
        "classes": [one.task.class_name for one in meeting.tasks],
        what: list(meeting.numbers),
        "apart_m": meeting.apart_m,
        "apart_most_m": meeting.apart_most_m,
        "latitude_deg": meeting.place.latitude_deg,
        "longitude_deg": meeting.place.longitude_deg,
        "near": {"code": code, "distance_m": off_m},
        "even": meeting.is_even,
        "angle_deg": meeting.angle_deg,
        "from": None if when is None else clock(when.from_min),
        "to": None if when is None else clock(when.to_min),
        "planned": None if planned is None else {"at": clock(planned.at_min), "apart_m": planned.apart_m},
        **({} if stretches is None else {"stretches_m": [list(stretch) for stretch in stretches]}),
    }


def what_is_read(meeting: Meeting, *, legs: bool) -> tuple[Any, ...]:
    """Return what is read of a meeting: the points of both with their zones, how near, and when."""
    read: list[Any] = [meeting.kind.value]
    for one, n in zip(meeting.tasks, meeting.numbers, strict=True):
        points = one.task.points[n : n + 2] if legs else one.task.points[n : n + 1]
        read += [one.label, n, tuple(place_and_zone(point) for point in points)]
    when = meeting.when
    times = None if when is None else (clock(when.from_min), clock(when.to_min))
    return (*read, round(meeting.apart_m / 100), times)


def codes_of(meeting: Meeting, *, legs: bool) -> tuple[str, ...]:
    """Return the codes of the points concerned, each once."""
    codes = [
        point.place.code
        for one, n in zip(meeting.tasks, meeting.numbers, strict=True)
        for point in one.task.points[n : n + 2 if legs else n + 1]
    ]
    return tuple(dict.fromkeys(codes))
