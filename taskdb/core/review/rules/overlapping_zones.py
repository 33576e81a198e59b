"""Review rule `overlapping-zones`: one fix could count in two zones."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from taskdb.core.course.contains import contains
from taskdb.core.course.outline import DISPLAY_RADIUS_M
from taskdb.core.geodesy import distance_m
from taskdb.core.model import Role, Severity, Shape, Task
from taskdb.core.quantities import format_short_distance
from taskdb.core.review.rule import Draft, Reviewed, Rule, place_and_zone
from taskdb.core.review.sameness import is_same_place


def check(given: Reviewed) -> Iterator[Draft]:
    """Two zones share ground, so one fix could count in both.

    What: the zones of two points overlap. A warning for points that follow each other, a note for others. Start and
    finish may share ground, a place that is turned twice may too; a sector without a radius counts up to 20 km.

    Why it matters: a pilot in the shared part has reached both points at once. The leg between them need not be
    flown, and the minimum distance of an area task shrinks to less than it looks.

    How to mend: make one of the zones smaller (`task edit NAME --zone N="cylinder 2km"`), or choose a point further
    away.

    Trap: two large areas that only touch at their edges share a place too; whether that matters depends on the minimum
    distance that `task show` gives.

    Example: The zones of point 1 (QRY Quarry) and point 2 (CST Castle) overlap: their points are 18.2 km apart.
    """
    # The search along edges brings numpy, which lists of rules and their pages do without.
    from taskdb.core.review.shared_ground import shared_place

    task = given.task
    for first, second in combinations(range(len(task.points)), 2):
        a, b = task.points[first], task.points[second]
        if _may_share(task, first, second):
            continue
        place = shared_place(a.zone, a.place.position, b.zone, b.place.position)
        if place is None:
            continue
        is_next = second == first + 1
        apart = distance_m(a.place.position, b.place.position)
        evidence = {
            "numbers": [first, second],
            "points_apart_m": round(apart, 3),
            "shared_at": [round(place.latitude_deg, 7), round(place.longitude_deg, 7)],
        }
        if any(point.zone.shape is Shape.SECTOR and point.zone.radius_m is None for point in (a, b)):
            evidence["looked_at_up_to_m"] = DISPLAY_RADIUS_M
        yield Draft(
            Severity.WARNING if is_next else Severity.NOTE,
            (a.place.code, b.place.code),
            f"The zones of {given.point_label(first)} and {given.point_label(second)} overlap: "
            f"their points are {format_short_distance(apart)} apart.",
            evidence,
            (first, second, place_and_zone(a), place_and_zone(b)),
        )


def _may_share(task: Task, first: int, second: int) -> bool:
    """Return whether sharing ground is as it should be, or another rule's to say."""
    a, b = task.points[first], task.points[second]
    if is_same_place(a.place, b.place) or {a.role, b.role} == {Role.START, Role.FINISH}:
        return True
    # A ring that holds the turn itself is told by its own rule.
    ends = [(a, b)] if second == first + 1 and first == 0 else []
    ends += [(b, a)] if second == first + 1 and second == len(task.points) - 1 else []
    return any(
        end.zone.shape is not Shape.LINE and contains(end.zone, end.place.position, turn.place.position)
        for end, turn in ends
    )


RULE = Rule("overlapping-zones", "Two zones share ground, so one fix could count in both.", check)
