"""Review rule `airspace-on-leg`: a leg passes through a volume of airspace."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from taskdb.core.course.regions import counted_position
from taskdb.core.model import Severity
from taskdb.core.plain import metres
from taskdb.core.review.airspace import in_the_way, undecided_words, volume_words
from taskdb.core.review.rule import Draft, Reviewed, Rule


def check(given: Reviewed) -> Iterator[Draft]:
    """A leg passes through airspace, or a keep-out area, that the task is held against.

    What: the geodesic from one point to the next runs through a volume whose floor is not above the working altitude.
    Each stretch is given in kilometres from the leg's first point. Where heights cannot be compared (a flight level
    without the pressure of the day, a height above ground without the ground) the volume is told as undecided.

    Why it matters: whoever flies the leg straight needs a clearance, or breaks a rule, or flies where the setter wants
    nobody.

    How to mend: another point, or a zone that leads round it; where the volume is not active that day, accept the
    finding and say so in the briefing.

    Trap: nobody flies straight. That a leg clears a volume by a kilometre says little, and an area zone has a rule of
    its own. Airspace comes from the user's files and may be old: current charts and NOTAM decide.

    Example: The leg from point 1 (QRY Quarry) to point 2 (CST Castle) passes through Moor (restricted, GND to FL095):
    from 12.3 km to 18.4 km.
    """
    way = in_the_way(given)
    if not way.volumes:
        return
    # The search along legs brings numpy, which lists of rules and their pages do without.
    from taskdb.core.airspace.crossing import passages

    points = given.task.points
    legs = list(pairwise(counted_position(point) for point in points))
    for number, passed in enumerate(passages(legs, way.volumes)):
        ends = points[number], points[number + 1]
        for passage in passed:
            volume, stretches = way.volumes[passage.volume], passage.stretches_m
            words = ", ".join(f"from {a / 1000:.1f} km to {b / 1000:.1f} km" for a, b in stretches)
            yield Draft(
                Severity.WARNING,
                tuple(point.place.code for point in ends),
                f"The leg from {given.point_label(number)} to {given.point_label(number + 1)} passes through "
                f"{volume_words(volume)}: {words}.{undecided_words(way, [passage.volume], given.flown)}",
                {
                    "leg": number,
                    "volume": volume.name,
                    "stretches_m": [[metres(a), metres(b)] for a, b in stretches],
                    **way.evidence([passage.volume]),
                },
                (number, *legs[number], *way.read([passage.volume])),
            )


RULE = Rule("airspace-on-leg", "A leg passes through airspace or a keep-out area.", check)
