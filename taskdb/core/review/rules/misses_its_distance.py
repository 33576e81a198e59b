"""Review rule `misses-its-distance`: a declared course is a little too short for an award."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.course.declared import (
    DIAMOND_DISTANCE_M,
    DIPLOMA_STEP_M,
    FIRST_DIPLOMA_M,
    GOLD_M,
    SILVER_M,
)
from taskdb.core.model import Severity
from taskdb.core.quantities import format_distance, format_short_distance
from taskdb.core.review.rule import Draft, Reviewed, Rule


def check(given: Reviewed) -> Iterator[Draft]:
    """A declared course falls short of an award's distance by little.

    What: the declared distance is below 50, 300, 500, 750 km or a further step of 250 km, by less than
    `declared_short_percent` of it (3 % where nothing is set: common practice, no source). Distances of awards: the FAI
    page "IGC badges and diplomas".

    Why it matters: the flight is flown, and the award is missed by a few hundred metres at the desk.

    How to mend: a turn point a little further out. Where cylinders at the turns take the metres, sectors do not: 0.5 km
    comes off each time a leg crosses a cylinder (Sporting Code Section 3, 1.2.11, edition of about 2008).

    Trap: Silver counts the straight distance between start and finish and not the course. More than 1000 m loss of
    height costs a hundred times the excess.

    Example: 299.2 km are 800 m short of 300.0 km; with sectors at its turn points it would have 300.2 km.
    """
    ways = given.course.declared
    if ways is None:
        return
    distance = given.course.distances.task_m
    wanted = next((one for one in _awards(distance) if one > distance), None)
    if wanted is None or wanted - distance > wanted * given.limits.declared_short_percent / 100:
        return
    told = (
        f"{format_distance(distance)} are {format_short_distance(wanted - distance)} short of {format_distance(wanted)}"
    )
    if ways.sectors.distance_m >= wanted:
        told += f"; with sectors at its turn points it would have {format_distance(ways.sectors.distance_m)}"
    yield Draft(
        Severity.WARNING,
        (),
        told + ".",
        {
            "distance_m": round(distance, 3),
            "award_m": wanted,
            "short_by_m": round(wanted - distance, 3),
            "by_sectors_m": round(ways.sectors.distance_m, 3),
            "by_cylinders_m": round(ways.cylinders.distance_m, 3),
        },
        (distance, wanted),
    )


def _awards(distance_m: float) -> Iterator[float]:
    yield from (SILVER_M, GOLD_M, DIAMOND_DISTANCE_M)
    step = FIRST_DIPLOMA_M
    while step <= distance_m + DIPLOMA_STEP_M:
        yield step
        step += DIPLOMA_STEP_M


RULE = Rule("misses-its-distance", "A declared course falls short of an award's distance by little.", check)
