"""Review rule `short-leg`: a leg that is shorter than a leg should be, or has no length."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.model import Severity
from taskdb.core.quantities import format_short_distance
from taskdb.core.review.rule import Draft, Reviewed, Rule


def check(given: Reviewed) -> Iterator[Draft]:
    """A leg is shorter than the contest's shortest leg, or has no length at all.

    What: a leg between two points as the course counts them is below `shortest_leg_m` (5 km where the contest has set
    nothing: common practice, no source). A leg without length, one point twice in a row, is an error.

    Why it matters: a short leg turns the whole field round in one place, and with zones of some size there may be
    hardly any way left to fly between them. A leg without length is a slip of the hand.

    How to mend: choose another point (`task edit NAME --point N=POINT`) or drop one (`--drop N`).

    Trap: a last turn point close to the field, that brings everybody in from one side, is short on purpose. Lower the
    contest's limit if you set such points every day.

    Example: The leg from point 2 (QRY Quarry) to point 3 (HOM Home field) has 3.1 km; at least 5.0 km are asked for.
    """
    least = given.limits.shortest_leg_m
    for leg in given.course.legs:
        if leg.distance_m >= least > 0 or (leg.distance_m > 0 and least <= 0):
            continue
        ends = given.task.points[leg.from_number], given.task.points[leg.to_number]
        between = f"from {given.point_label(leg.from_number)} to {given.point_label(leg.to_number)}"
        is_nothing = leg.distance_m <= 0
        told = (
            f"The leg {between} has no length."
            if is_nothing
            else f"The leg {between} has {format_short_distance(leg.distance_m)}; "
            f"at least {format_short_distance(least)} are asked for."
        )
        yield Draft(
            Severity.ERROR if is_nothing else Severity.WARNING,
            tuple(point.place.code for point in ends),
            told,
            {
                "from": leg.from_number,
                "to": leg.to_number,
                "distance_m": round(leg.distance_m, 3),
                "shortest_leg_m": least,
            },
            (leg.from_number, *(point.place.position for point in ends), leg.distance_m, least),
        )


RULE = Rule("short-leg", "A leg is too short, or has no length.", check)
