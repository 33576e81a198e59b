"""Magnetic declination from the World Magnetic Model 2025, shipped with pygeomag.

A number only where the model holds: dates from 2025 to 2030 (exclusive) and away from the magnetic poles. Elsewhere
a sentence says why there is none. Nothing is extrapolated.
"""

from __future__ import annotations

import datetime
from functools import cache
from typing import TYPE_CHECKING, Any

from taskdb.core.course.day import Declination
from taskdb.core.model import Position

if TYPE_CHECKING:
    from pygeomag import GeoMag

MODEL = "WMM2025"
FIRST_YEAR, END_YEAR = 2025, 2030
WEAK_NT = 2000.0
"""Below this horizontal field a compass points nowhere: the model's blackout zone."""


@cache
def _model() -> GeoMag:
    from pygeomag import GeoMag

    return GeoMag()


def decimal_year(date: str) -> float:
    """Return an ISO date as a year with its part gone by, e.g. 2027.5 for 2027-07-02."""
    day = datetime.date.fromisoformat(date)
    first = datetime.date(day.year, 1, 1)
    return day.year + (day - first).days / ((datetime.date(day.year + 1, 1, 1) - first).days)


def declination(position: Position, date: str, *, elevation_m: float = 0.0) -> Declination:
    """Return the declination at a place (degrees, east positive) on an ISO date.

    `degrees` is None, and `note` says why, outside the model's years and where the horizontal field is too weak. The
    elevation is taken as height above the ellipsoid: the difference, below 100 m, changes nothing that shows.
    """
    year = decimal_year(date)
    if not FIRST_YEAR <= year < END_YEAR:
        return Declination(
            MODEL, None, f"no magnetic course: {MODEL} holds from {FIRST_YEAR} to {END_YEAR - 1}, not on {date}"
        )
    field = field_at(position.latitude_deg, position.longitude_deg, elevation_m / 1000.0, year)
    if field.h < WEAK_NT:
        return Declination(
            MODEL, None, f"no magnetic course: the horizontal field here ({field.h:.0f} nT) is too weak to steer by"
        )
    return Declination(MODEL, float(field.d))


def field_at(latitude_deg: float, longitude_deg: float, height_km: float, year: float) -> Any:
    """Return the model's field (`d`, `i` in degrees; `h`, `x`, `y`, `z`, `f` in nT), height above the ellipsoid."""
    return _model().calculate(glat=latitude_deg, glon=longitude_deg, alt=height_km, time=year)
