"""Where the zones of a path overlap, and so which of its points can be one place.

The shortest path may touch two zones at once, at a place on the edge of one inside the other: there a point rides on
the sample of another. Made for the search; decides nothing about lengths.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from taskdb.core.course.regions import reach_m
from taskdb.core.course.tracks import Flags, Tracks
from taskdb.core.geodesy import lengths_m
from taskdb.core.model import Earth, Position, Shape, Zone


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


def riders(stops: Sequence[Stop]) -> Flags:
    """Return for each stop (row) on the samples of which others (columns) it may ride: those whose zones touch its own.

    It does so only where every stop between rides on the same sample. A point inside its zone slides back along the
    path to its zone's edge or to the point before it, so riding on an earlier point is enough; only where the path
    begins within a zone may its first points, all of them, ride on a later one. A fixed place and a line, which is all
    edge, never ride.
    """
    count = len(stops)
    latitudes, longitudes = np.array([(s.at.latitude_deg, s.at.longitude_deg) for s in stops]).T
    reaches = np.array([s.reach_m for s in stops])
    rider, host = np.tril_indices(count, -1)
    away = lengths_m(latitudes[rider], longitudes[rider], latitudes[host], longitudes[host], Earth.WGS84)
    touch = np.zeros((count, count), dtype=bool)
    touch[rider, host] = touch[host, rider] = away <= reaches[rider] + reaches[host]
    touch &= np.array([s.zone is not None and s.zone.shape is not Shape.LINE for s in stops])[:, None]
    is_from_first = np.array([touch[:host, host].all() for host in range(count)])
    return np.where(np.tri(count, dtype=bool), touch, touch & is_from_first)
