"""Where the zones of a path overlap, and so which of its points can be one place.

The shortest path may touch two zones at once, at a place on the edge of one inside the other: there a point rides on
the sample of another. Made for the search; decides nothing about lengths.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from taskdb.core.course.regions import reach_m
from taskdb.core.course.tracks import Tracks
from taskdb.core.geodesy import distance_m
from taskdb.core.model import Position, Shape, Zone


@dataclass(frozen=True, slots=True)
class Stop:
    """A point of a path: free along its tracks and, where they are a zone's edge, within the zone; or one fixed place.

    `zone` is None for a fixed place.
    """

    at: Position
    tracks: Tracks
    zone: Zone | None

    @property
    def reach_m(self) -> float:
        return 0.0 if self.zone is None else reach_m(self.zone)


def _touch(a: Stop, b: Stop) -> bool:
    return distance_m(a.at, b.at) <= a.reach_m + b.reach_m


def riders(stops: Sequence[Stop]) -> list[list[int]]:
    """Return for each stop the others on whose samples it may ride: those up to which every stop between touches too.

    A point inside its zone slides back along the path to its zone's edge or to the point before it, so riding on an
    earlier point is enough; only where the path begins within a zone may the first points ride on a later one.
    A fixed place and a line, which is all edge, never ride.
    """
    first_is_free = stops[0].zone is not None
    can_ride = [s.zone is not None and s.zone.shape is not Shape.LINE for s in stops]
    rides: list[list[int]] = [[] for _ in stops]
    for host in range(len(stops)):
        for sense in (1, -1) if first_is_free else (1,):
            rider = host + sense
            while 0 <= rider < len(stops) and can_ride[rider] and _touch(stops[rider], stops[host]):
                rides[rider].append(host)
                rider += sense
    return rides
