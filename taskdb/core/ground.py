"""The height of the ground as the core asks for it: one value that says where it comes from and answers in arrays.

Who reads files or tiles stands outside; nothing is looked up here. Heights are metres above mean sea level.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.model import Position, Waypoint

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Heights = Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64]]
    """(latitudes, longitudes), degrees and one array as long as the other, to metres; NaN where nothing is known."""

DATUM = "metres above mean sea level"
CAUTION = "Heights of the ground come from files that may be old or wrong, and know no trees, masts or cables."


@dataclass(frozen=True, slots=True)
class GroundHeights:
    """The ground: `name` says whose heights they are, `spacing_m` how far apart they lie (north to south).

    `is_users` holds for terrain that the user gave; without it, a grid of 9 km that no summit or valley stands out of.
    """

    name: str
    spacing_m: float
    is_users: bool
    heights_m: Heights

    @property
    def source(self) -> str:
        """What people read: whose heights were used, how fine they are, above what."""
        spacing = f"{self.spacing_m / 1000:.1f} km" if self.spacing_m >= 1000 else f"{self.spacing_m:.0f} m"
        return f"{self.name}, a height every {spacing}, {DATUM}"

    def at(self, position: Position) -> float | None:
        """Return the height of the ground at one position; None where nothing is known."""
        import numpy as np

        height = self.heights_m(np.array([position.latitude_deg]), np.array([position.longitude_deg]))[0]
        return None if np.isnan(height) else float(height)


_FILLED_BY = " m by "


def filled_text(elevation_m: float, ground: GroundHeights) -> str:
    """Return what is kept, in place of what a person typed, of an elevation that came from the ground."""
    return f"{elevation_m:.0f}{_FILLED_BY}{ground.name}"


def filled_by(waypoint: Waypoint) -> str | None:
    """Return whose heights a waypoint's elevation came from; None where a list or a person stated it."""
    typed = waypoint.typed
    if waypoint.elevation_m is None or typed is None or typed.elevation is None:
        return None
    return typed.elevation.partition(_FILLED_BY)[2] or None
