"""Numbers for people: distances and speeds in the chosen unit, courses, positions, elevations; None stays None."""

from __future__ import annotations

from taskdb.core.model import Position
from taskdb.core.quantities import FOOT_M, Units, format_bearing, format_distance, format_speed


def distance(metres: float | None, units: Units, decimals: int = 1) -> str | None:
    """Return a distance in the unit that the person chose; None stays None."""
    return None if metres is None else format_distance(metres, units, decimals)


def short_distance(metres: float | None, units: Units) -> str | None:
    """Return `134 m` below a kilometre, else one decimal in the chosen unit; None stays None."""
    if metres is None:
        return None
    return f"{metres:.0f} m" if abs(metres) < 999.5 else format_distance(metres, units)


def course(degrees: float | None) -> str | None:
    """Return a true course as `045°`; None stays None."""
    return None if degrees is None else f"{format_bearing(degrees)}°"


def speed(kmh: float | None, units: Units) -> str | None:
    """Return a speed in the unit that goes with the distances: km/h, mph or kt; None stays None."""
    return None if kmh is None else format_speed(kmh, units)


def position(at: Position) -> str:
    """Return a position in degrees and decimal minutes, as instruments and sheets show it."""
    from taskdb.core.notation import Notation, format_position

    return format_position(at, Notation.MINUTES, 3)


def elevation(metres: float | None) -> str | None:
    """Return an elevation above mean sea level in metres and feet; None stays None."""
    return None if metres is None else f"{metres:.0f} m ({metres / FOOT_M:.0f} ft)"
