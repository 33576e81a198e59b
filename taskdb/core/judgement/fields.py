"""The places to land at that cover reckons with, as columns in order of code; which waypoints they are."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.geodesy import earth_vectors
from taskdb.core.model import Landable, Waypoint

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Fields:
    """Landable points in order of code (code points): positions in degrees, elevations in metres above sea.

    `places` are earth-centred, metres, with a leading axis of 3. `left_out` are the codes of those that would have
    counted and have no elevation.
    """

    codes: tuple[str, ...]
    latitudes_deg: Floats
    longitudes_deg: Floats
    elevations_m: Floats
    places: Floats
    left_out: tuple[str, ...] = ()

    @staticmethod
    def of(waypoints: Iterable[Waypoint], landable: Collection[Landable], inspected_since: str | None = None) -> Fields:
        """Return the waypoints that are landable in one of these ways and, where asked, inspected since an ISO date."""
        import numpy as np

        wanted = sorted(
            (point for point in waypoints if counts_as_field(point, landable, inspected_since)),
            key=lambda point: point.code,
        )
        kept = [point for point in wanted if point.elevation_m is not None]
        latitudes = np.array([point.position.latitude_deg for point in kept], dtype=np.float64)
        longitudes = np.array([point.position.longitude_deg for point in kept], dtype=np.float64)
        return Fields(
            codes=tuple(point.code for point in kept),
            latitudes_deg=latitudes,
            longitudes_deg=longitudes,
            elevations_m=np.array([point.elevation_m for point in kept], dtype=np.float64),
            places=earth_vectors(latitudes, longitudes)[0],
            left_out=tuple(point.code for point in wanted if point.elevation_m is None),
        )

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.codes)


def counts_as_field(point: Waypoint, landable: Collection[Landable], inspected_since: str | None = None) -> bool:
    """Say whether a waypoint is a place to land at as asked for; one without a date was inspected at no time."""
    if point.landable is None or point.landable not in landable:
        return False
    return inspected_since is None or (point.inspected_on or "") >= inspected_since
