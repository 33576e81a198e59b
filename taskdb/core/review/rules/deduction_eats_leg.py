"""Review rule `deduction-eats-leg`: what comes off a leg is as long as the leg."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from taskdb.core.course.deductions import Due, dues
from taskdb.core.geodesy import length_m
from taskdb.core.model import Severity
from taskdb.core.quantities import format_short_distance
from taskdb.core.review.rule import Draft, Reviewed, Rule


def check(given: Reviewed) -> Iterator[Draft]:
    """What the contest takes off a leg is as long as the leg itself.

    What: the radius of the start's or the finish's cylinder (in a declared course 0.5 km for each crossing of a
    cylinder) is at least as long as the leg that it is taken from. An error on the task distance, a warning on the
    minimum distance of an area task.

    Why it matters: a leg can lose no more than it has, so the distance no longer follows the contest's own rule, and
    two people who compute it get two numbers.

    How to mend: a smaller ring, a line, or a point further away.

    Trap: in an area task the nearest edge of the first area can lie closer to the start than the ring is wide, though
    the area's point is far off.

    Example: 10 km come off the leg from point 0 (HOM Home field) to point 1 (QRY Quarry), which has 8.2 km.
    """
    task = given.task
    owed = dues(task)
    yield from _drafts(given, [leg.distance_m for leg in given.course.legs], owed, Severity.ERROR, "task")
    path = given.course.distances.minimum_at
    if path and given.course.distances.minimum_m != given.course.distances.task_m:
        lengths = [length_m(a, b, task.rules.earth) for a, b in pairwise(path)]
        yield from _drafts(given, lengths, owed, Severity.WARNING, "minimum")


def _drafts(
    given: Reviewed, lengths: Sequence[float], owed: Sequence[Due], severity: Severity, distance: str
) -> Iterator[Draft]:
    for leg, length in enumerate(lengths):
        due = sum(one.metres for one in owed if one.leg == leg)
        if due <= 0 or due < length:
            continue
        ends = given.task.points[leg], given.task.points[leg + 1]
        where = "" if distance == "task" else " on its shortest way"
        yield Draft(
            severity,
            tuple(point.place.code for point in ends),
            f"{format_short_distance(due)} come off the leg from {given.point_label(leg)} to "
            f"{given.point_label(leg + 1)}, which has {format_short_distance(length)}{where}.",
            {"from": leg, "to": leg + 1, "off_m": round(due, 3), "leg_m": round(length, 3), "distance": distance},
            (leg, distance, due, length),
        )


RULE = Rule("deduction-eats-leg", "What comes off a leg is as long as the leg.", check)
