"""A straight glide in a constant wind: the height that it takes, by the plane triangle of velocities.

No sink, no lift, no circuit before landing: a figure to compare places by, never a promise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from taskdb.core.course.wind import CALM
from taskdb.core.quantities import Wind

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SAID = "Straight glide, constant wind, no sink, no circuit, fields as last inspected."
"""What stands with every figure of cover."""


@dataclass(frozen=True, slots=True)
class Glide:
    """How a glider glides: metres along for one down through still air, its airspeed, and the wind (from, true).

    Ratio and airspeed are positive (ValueError); in calm air the airspeed makes no difference.
    """

    ratio: float
    airspeed_kmh: float
    wind: Wind = CALM

    def __post_init__(self) -> None:
        """Refuse what glides nowhere."""
        if not (0 < self.ratio < math.inf and 0 < self.airspeed_kmh < math.inf):
            raise ValueError(f"a glide of 1 in {self.ratio} at {self.airspeed_kmh} km/h leads nowhere")


def height_used_m(glide: Glide, distance_m: Floats, courses_deg: Floats) -> Floats:
    """Return the height that gliding so far on these true courses takes, metres; inf where the course cannot be held.

    With airspeed V, ratio E and ground speed g it is (V/E)·(d/g); g is the greater root of
    g² − 2 g w∥ + w² − V² = 0, w∥ the wind along the course (plane triangle of velocities). No distance takes none.
    """
    import numpy as np

    along = -glide.wind.speed_kmh * np.cos(np.radians(courses_deg - glide.wind.from_deg))
    return height_along_m(glide, distance_m, along)


def height_along_m(glide: Glide, distance_m: Floats, along_kmh: Floats) -> Floats:
    """Return the same as `height_used_m` from the wind along the course, km/h, positive from behind."""
    import numpy as np

    speed, wind = glide.airspeed_kmh, glide.wind.speed_kmh
    # V² − w² + w∥² is V² less the wind across, squared: below zero no heading holds the course.
    left = speed * speed - wind * wind + along_kmh * along_kmh
    ground = along_kmh + np.sqrt(np.maximum(left, 0.0))
    is_held = (left >= 0) & (ground > 0)
    used: Floats = np.where(is_held, speed / glide.ratio * distance_m / np.where(is_held, ground, 1.0), np.inf)
    return np.where(distance_m > 0, used, 0.0)
