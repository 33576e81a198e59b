"""Review rule `airspace-in-zone`: airspace stands over part of an area."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from taskdb.core.model import Position, Role, Severity
from taskdb.core.review.airspace import in_the_way, undecided_words, volume_words
from taskdb.core.review.rule import Draft, Reviewed, Rule, place_and_zone

_LEAST_USABLE = 0.5
"""Common practice, no source."""


def check(given: Reviewed) -> Iterator[Draft]:
    """Airspace, or a keep-out area, stands over part of an assigned area.

    What: volumes whose floor is not above the working altitude cover a share of the area's ground. Ground under several
    of them counts once. A warning where less than half of the area is left, or where the point at which the minimum or
    the maximum distance is attained lies inside.

    Why it matters: pilots have less room than the zone shows, and distances that can only be flown inside airspace are
    none: the maximum, or the minimum, and the time made from them do not hold.

    How to mend: another radius or another radial (`task edit NAME --zone N="area 5km..20km 040..110"`), or another
    point.

    Trap: the share is that of the ground, whatever the height of the volumes above it; a volume that can be flown under
    still counts as soon as the working altitude reaches its floor.

    Example: 38 % of the area of point 2 (CST Castle) lies under Moor (restricted, GND to FL095): 62 % is left.
    """
    way = in_the_way(given)
    numbers = [n for n, point in enumerate(given.task.points) if point.role is Role.AREA]
    if not way.volumes or not numbers:
        return
    from taskdb.core.airspace.ground import volumes_at
    from taskdb.core.airspace.sharing import share_of_zone

    for number in numbers:
        point = given.task.points[number]
        found = share_of_zone(point.zone, point.place.position, way.volumes)
        if found is None or found.share == 0:
            continue
        attained = [what for what, at in _attained(given, number) if at is not None and volumes_at(way.volumes, at)]
        names = ", ".join(volume_words(way.volumes[n]) for n in found.volumes)
        inside = f" The {' and the '.join(attained)} distance is attained inside." if attained else ""
        yield Draft(
            Severity.WARNING if attained or found.usable < _LEAST_USABLE else Severity.NOTE,
            (point.place.code,),
            f"{_percent(found.share)} of the area of {given.point_label(number)} lies under {names}: "
            f"{_percent(found.usable)} is left.{inside}{undecided_words(way, found.volumes, given.flown)}",
            {
                "number": number,
                "volumes": sorted(way.volumes[n].name for n in found.volumes),
                "share": round(found.share, 4),
                "attained_inside": attained,
                **way.evidence(found.volumes),
            },
            (number, place_and_zone(point), attained, *way.read(found.volumes)),
        )


def _attained(given: Reviewed, number: int) -> Sequence[tuple[str, Position | None]]:
    distances = given.course.distances
    return [
        (what, None if path is None else path[number])
        for what, path in (("minimum", distances.minimum_at), ("maximum", distances.maximum_at))
    ]


def _percent(share: float) -> str:
    """Return a share for people, never as none or all where it is neither."""
    share = round(share, 4)
    return "under 1 %" if 0 < share < 0.01 else "over 99 %" if 0.99 < share < 1 else f"{100 * share:.0f} %"


RULE = Rule("airspace-in-zone", "Airspace stands over part of an area.", check)
