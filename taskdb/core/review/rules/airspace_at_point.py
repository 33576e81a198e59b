"""Review rule `airspace-at-point`: a start, turn or finish point lies inside a volume of airspace."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.model import Role, Severity, Shape
from taskdb.core.review.airspace import in_the_way, undecided_words, volume_words
from taskdb.core.review.rule import Draft, Reviewed, Rule, place_and_zone


def check(given: Reviewed) -> Iterator[Draft]:
    """A start, turn or finish point lies inside airspace or a keep-out area, or any part of its line does.

    What: a volume whose floor is not above the working altitude stands over the point; of a line, over any part of it.

    Why it matters: everybody has to go there. A start line that reaches into a control zone makes infringements of a
    whole class.

    How to mend: another point, or a shorter line.

    Trap: a cylinder may reach into airspace although its point does not, and may be touched from outside: that is for
    the briefing. An airfield in its own control zone is told each time: accept it once.

    Example: The line of point 0 (HOME Ormsau) reaches into Moor (restricted, GND to FL095).
    """
    way = in_the_way(given)
    if not way.volumes:
        return
    from taskdb.core.airspace.sharing import volumes_over_point

    for number, point in enumerate(given.task.points):
        over = () if point.role is Role.AREA else volumes_over_point(point.zone, point.place.position, way.volumes)
        if not over:
            continue
        names = ", ".join(volume_words(way.volumes[n]) for n in over)
        label = given.point_label(number)
        is_line = point.zone.shape is Shape.LINE
        where = f"The line of {label} reaches into" if is_line else f"{label[0].upper()}{label[1:]} lies inside"
        yield Draft(
            Severity.WARNING,
            (point.place.code,),
            f"{where} {names}.{undecided_words(way, over, given.flown)}",
            {"number": number, "volumes": sorted(way.volumes[n].name for n in over), **way.evidence(over)},
            (number, place_and_zone(point), *way.read(over)),
        )


RULE = Rule("airspace-at-point", "A start, turn or finish point lies inside airspace.", check)
