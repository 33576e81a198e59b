"""A flat map of the neighbourhood of one place: the oblique stereographic projection of the WGS84 ellipsoid.

Conformal: angles and the shapes of small zones are true, and the scale at any place is known. Within 400 km of the
centre the scale grows by 0.1 %. For maps, and for what lies about a course: distances and courses that are told come
from the geodesics, never from here.
Formulas: J. P. Snyder, Map Projections: A Working Manual (USGS Professional Paper 1395, 1987), chapter 21.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from taskdb.core.geodesy import ECCENTRICITY_2, EQUATOR_RADIUS_M
from taskdb.core.model import Position

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_E = math.sqrt(ECCENTRICITY_2)
# At a pole itself the aspect is another formula; a centre 11 m beside it draws the same map.
_NEAREST_POLE_DEG = 89.9999


def _conformal_rad(latitude_rad: float) -> float:
    e_sin = _E * math.sin(latitude_rad)
    ratio = ((1 - e_sin) / (1 + e_sin)) ** (_E / 2)
    return 2 * math.atan(math.tan(math.pi / 4 + latitude_rad / 2) * ratio) - math.pi / 2


def _parallel_radius(latitude_rad: float) -> float:
    return math.cos(latitude_rad) / math.sqrt(1 - (_E * math.sin(latitude_rad)) ** 2)


class Projection:
    """The plane that touches the earth at `centre`: x to the east, y to true north there, metres, scale 1 at it."""

    def __init__(self, centre: Position) -> None:
        self.centre = centre
        latitude = math.radians(max(-_NEAREST_POLE_DEG, min(_NEAREST_POLE_DEG, centre.latitude_deg)))
        self._longitude_rad = math.radians(centre.longitude_deg)
        chi = _conformal_rad(latitude)
        self._sin, self._cos = math.sin(chi), math.cos(chi)
        self._factor_m = 2 * EQUATOR_RADIUS_M * _parallel_radius(latitude) / self._cos

    def _stretch_m(self, chi: float, longitude_rad: float) -> float:
        nearness = 1 + self._sin * math.sin(chi) + self._cos * math.cos(chi) * math.cos(longitude_rad)
        return self._factor_m / max(nearness, 1e-9)  # the antipode is infinitely far away

    def project(self, position: Position) -> tuple[float, float]:
        """Return (x_m, y_m) of a position on the plane; the antipode of the centre lies absurdly far away."""
        chi = _conformal_rad(math.radians(position.latitude_deg))
        longitude = math.radians(position.longitude_deg) - self._longitude_rad
        stretch = self._stretch_m(chi, longitude)
        x_m = stretch * math.cos(chi) * math.sin(longitude)
        y_m = stretch * (self._cos * math.sin(chi) - self._sin * math.cos(chi) * math.cos(longitude))
        return x_m, y_m

    def places_deg(
        self, x_m: NDArray[np.float64], y_m: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return latitudes and longitudes (not wrapped) of many points of the plane: the inverse of `project`."""
        import numpy as np

        rho = np.maximum(np.hypot(x_m, y_m), 1e-9)
        angle = 2 * np.arctan(rho / self._factor_m)
        sine, cosine = np.sin(angle), np.cos(angle)
        chi = np.arcsin(np.clip(cosine * self._sin + y_m * sine * self._cos / rho, -1.0, 1.0))
        east = np.arctan2(x_m * sine, rho * self._cos * cosine - y_m * self._sin * sine)
        tangent, latitude = np.tan(np.pi / 4 + chi / 2), chi
        for _ in range(5):  # each step is a hundred times as near
            e_sin = _E * np.sin(latitude)
            latitude = 2 * np.arctan(tangent * ((1 + e_sin) / (1 - e_sin)) ** (_E / 2)) - np.pi / 2
        return np.degrees(latitude), np.degrees(self._longitude_rad + east)


def centre_of(positions: Iterable[Position]) -> Position:
    """Return the place in the middle of positions, also across the antimeridian; 0, 0 where there is none."""
    x = y = z = 0.0
    for position in positions:
        latitude, longitude = math.radians(position.latitude_deg), math.radians(position.longitude_deg)
        x += math.cos(latitude) * math.cos(longitude)
        y += math.cos(latitude) * math.sin(longitude)
        z += math.sin(latitude)
    if math.hypot(x, y, z) < 1e-9:
        return Position(0.0, 0.0)
    return Position.at(math.degrees(math.atan2(z, math.hypot(x, y))), math.degrees(math.atan2(y, x)))
