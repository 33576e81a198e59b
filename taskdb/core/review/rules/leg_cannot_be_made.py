"""Review rule `leg-cannot-be-made`: against the day's wind a leg cannot be flown at the planned speed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from taskdb.core.course.schedule import Extent
from taskdb.core.course.wind import Air
from taskdb.core.findings import canonical
from taskdb.core.model import Severity
from taskdb.core.review.rule import Draft, Reviewed, Rule


def check(given: Reviewed) -> Iterator[Draft]:
    """A leg cannot be made in the wind of the day at the planned average speed.

    What: the wind's part across the leg is as large as the average cross-country speed in still air, or its part from
    ahead leaves nothing over the ground (or so little that the leg takes more than a day).

    Why it matters: the glider drifts all the time, while circling too. Nobody gets to the next point.

    How to mend: another task, or, if they were typed wrong, wind and speed of the day (`contest day NAME N --wind W
    --speed V`).

    Trap: wind is where it blows from, true, and the speed is the average with the circling in it, not the speed
    between climbs.

    Example: The leg from point 1 (QRY Quarry) to point 2 (CST Castle) cannot be made: 62 km/h from ahead leave no way
    to go with 60 km/h in still air.
    """
    flight = given.day.flight(Extent.TASK) if given.day is not None else None
    if flight is None or given.day is None:
        return
    for number, leg in enumerate(flight.legs):
        if leg.reason is None:
            continue
        ends = given.task.points[number], given.task.points[number + 1]
        yield Draft(
            Severity.ERROR,
            tuple(point.place.code for point in ends),
            f"The leg from {given.point_label(number)} to {given.point_label(number + 1)} cannot be made: "
            f"{leg.reason}.",
            {
                "from": number,
                "to": number + 1,
                "headwind_kmh": None if leg.headwind_kmh is None else round(leg.headwind_kmh, 4),
                "crosswind_kmh": None if leg.crosswind_kmh is None else round(leg.crosswind_kmh, 4),
                "still_air_kmh": None if given.day.air is None else given.day.air.speed_kmh,
            },
            (number, *(point.place.position for point in ends), _values(given.day.air)),
        )


def _values(air: Air | None) -> dict[str, Any] | None:
    """Return what is a value of the air, in the form that ids have had: how a wind was typed is none."""
    if air is None:
        return None
    wind = {"from_deg": air.wind.from_deg, "speed_kmh": air.wind.speed_kmh}
    return {"speed_kmh": canonical(air.speed_kmh), "wind": wind}


RULE = Rule("leg-cannot-be-made", "A leg cannot be made in the day's wind at the planned speed.", check)
