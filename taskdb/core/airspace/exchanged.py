"""Whether a file's volumes lie with exchanged axes: far from where the club flies, and there once they are turned.

A latitude beyond 90° tells it alone (`rings.are_exchanged`); in much of the world both are below, and only a region
to hold them against can tell.
"""

from __future__ import annotations

from collections.abc import Sequence

from taskdb.core.model import Position

FAR_KM, NEAR_KM = 500.0, 250.0
"""All of a file lies further than the one from every waypoint, and all of it within the other once turned round;
common practice, no source."""


def lie_exchanged(places: Sequence[tuple[float, float]], region: Sequence[Position]) -> bool:
    """Return whether places (longitude_deg, latitude_deg as read) lie far from all of a region and near it exchanged.

    False where either is empty.
    """
    turned = [(y, x) for x, y in places]
    if not places or not region or not _are_on_earth(turned):
        return False
    if _are_on_earth(places) and _nearest_km(places, region, furthest=False) <= FAR_KM:
        return False
    return _nearest_km(turned, region, furthest=True) <= NEAR_KM


def _are_on_earth(places: Sequence[tuple[float, float]]) -> bool:
    return all(abs(x) <= 180 and abs(y) <= 90 for x, y in places)


def _nearest_km(places: Sequence[tuple[float, float]], region: Sequence[Position], *, furthest: bool) -> float:
    """Return how far the nearest (or the furthest) of the places lies from its nearest waypoint, as the chord."""
    import numpy as np

    from taskdb.core.geodesy import earth_vectors

    longitudes, latitudes = np.array(places, dtype=np.float64).T
    vectors, _ = earth_vectors(latitudes, longitudes)
    points, _ = earth_vectors(np.array([p.latitude_deg for p in region]), np.array([p.longitude_deg for p in region]))
    nearest = [float(np.min(np.linalg.norm(points - vectors[:, n : n + 1], axis=0))) for n in range(vectors.shape[1])]
    return (max(nearest) if furthest else min(nearest)) / 1000.0
