"""Review rule `narrow-areas`: the minimum and the maximum distance differ too little."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.model import Role, Severity
from taskdb.core.quantities import format_distance
from taskdb.core.review.rule import Draft, Reviewed, Rule


def check(given: Reviewed) -> Iterator[Draft]:
    """The areas leave little between the minimum and the maximum distance.

    What: the maximum distance is less than `least_area_ratio` times the minimum (1.3 where the contest has set nothing:
    common practice, no source).

    Why it matters: areas are there so that slow and fast gliders fill the same time. Where the distances hardly differ
    it is a racing task with large turn points, and the fast are home long before the minimum time. The Sporting Code
    asks for areas large enough to let faster pilots lengthen the flight (Annex A, 6.3.2a, edition of about 2008).

    How to mend: larger areas (`task edit NAME --zone areas="area 25km"`), or more of them.

    Trap: one large area on the way out and home adds little to the length: width across the course counts less than
    depth along it.

    Example: Minimum 212.4 km and maximum 251.0 km: the maximum is 1.18 times the minimum, 1.30 are asked for.
    """
    distances, least = given.course.distances, given.limits.least_area_ratio
    areas = [point for point in given.task.points if point.role is Role.AREA]
    minimum, maximum = distances.minimum_m, distances.maximum_m
    if not areas or minimum is None or maximum is None or minimum <= 0:
        return
    ratio = maximum / minimum
    if ratio >= least:
        return
    yield Draft(
        Severity.WARNING,
        tuple(point.place.code for point in areas),
        f"Minimum {format_distance(minimum)} and maximum {format_distance(maximum)}: the maximum is {ratio:.2f} times "
        f"the minimum, {least:.2f} are asked for.",
        {
            "minimum_m": round(minimum, 3),
            "maximum_m": round(maximum, 3),
            "ratio": round(ratio, 4),
            "least_area_ratio": least,
        },
        (minimum, maximum, str(least)),
    )


RULE = Rule("narrow-areas", "The areas leave little between minimum and maximum distance.", check)
