"""Review rule `ring-holds-turn`: the start's zone holds the first turn, or the finish's the last."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.course.contains import contains
from taskdb.core.course.regions import counted_position
from taskdb.core.geodesy import distance_m
from taskdb.core.model import Severity, Shape
from taskdb.core.quantities import format_short_distance
from taskdb.core.review.rule import Draft, Reviewed, Rule, place_and_zone


def check(given: Reviewed) -> Iterator[Draft]:
    """The start's zone holds the first turn, or the finish's zone the last one.

    What: the first point after the start lies within the start's zone, or the last point before the finish within the
    finish's (a ring segment counts at its middle).

    Why it matters: a pilot turns the first point before he has started, or is at the finish when he turns the last.
    The contest's deduction takes the whole leg, and what an instrument shows depends on its maker.

    How to mend: make the ring smaller (`task edit NAME --zone start="cylinder 3km"`), use a line, or choose another
    turn point.

    Trap: a large start ring set as the contest's default for long tasks shows here on the first short task.

    Example: The start's zone (cylinder 10km) holds point 1 (QRY Quarry), 6.4 km from its point.
    """
    points = given.task.points
    if len(points) < 3:
        return
    for end, turn, name in ((0, 1, "start"), (len(points) - 1, len(points) - 2, "finish")):
        holder, held = points[end], points[turn]
        if holder.zone.shape is Shape.LINE:
            continue
        at, place = holder.place.position, counted_position(held)
        away = distance_m(at, place)
        if away == 0 or not contains(holder.zone, at, place):
            continue
        yield Draft(
            Severity.ERROR,
            (held.place.code, holder.place.code),
            f"The {name}'s zone ({holder.zone.text}) holds {given.point_label(turn)}, "
            f"{format_short_distance(away)} from its point.",
            {"number": turn, "ring": end, "distance_m": round(away, 3), "zone": holder.zone.text},
            (turn, place, place_and_zone(holder)),
        )


RULE = Rule("ring-holds-turn", "The start's zone holds the first turn, or the finish's the last.", check)
