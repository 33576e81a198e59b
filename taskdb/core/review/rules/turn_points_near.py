"""Review rule `turn-points-near`: turn points of a declared course closer than the Sporting Code lets them be."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.course.declared import TURN_POINTS_APART_M
from taskdb.core.model import Severity
from taskdb.core.quantities import format_short_distance
from taskdb.core.review.rule import Draft, Reviewed, Rule


def check(given: Reviewed) -> Iterator[Draft]:
    """Two turn points of a declared course are nearer than 10 km to each other.

    What: any two turn points of a declared course, not only those that follow each other, are less than 10 km apart
    (Sporting Code Section 3, 1.4.3c, edition of about 2008, for courses of up to three turn points).

    Why it matters: the course may not be accepted.

    How to mend: choose another turn point (`task edit NAME --point N=POINT`).

    Trap: start and finish are no turn points, and may be as near as they like.

    Example: The turn points QRY and CST are 7.3 km apart; 10 km are asked for.
    """
    if given.course.declared is None:
        return
    for pair in given.course.declared.close_pairs:
        ends = given.task.points[pair.first_number], given.task.points[pair.second_number]
        first, second = (point.place for point in ends)
        yield Draft(
            Severity.WARNING,
            (first.code, second.code),
            f"The turn points {first.code} and {second.code} are {format_short_distance(pair.distance_m)} apart; "
            f"{TURN_POINTS_APART_M / 1000:.0f} km are asked for.",
            {"numbers": [pair.first_number, pair.second_number], "distance_m": round(pair.distance_m, 3)},
            (pair.first_number, pair.second_number, first.position, second.position),
        )


RULE = Rule("turn-points-near", "Turn points of a declared course are nearer than 10 km to each other.", check)
