"""The checked set as the rules see it: what several rules need is computed once, when the first asks for it.

Holds no rule of its own. Arrays are in the order of `waypoints`; coordinates are whole multiples of 1e-7 degree.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from taskdb.core.checks.pairs import NearPairs, find_near_pairs
from taskdb.core.checks.rule import CheckInput
from taskdb.core.model import Waypoint
from taskdb.core.names import fold

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


class Survey:
    """One set under examination; immutable but for what it remembers having computed."""

    def __init__(self, given: CheckInput) -> None:
        self.given = given
        self.waypoints: tuple[Waypoint, ...] = tuple(sorted(given.waypoints, key=lambda point: point.code))

    @cached_property
    def latitude_e7(self) -> NDArray[np.int64]:
        import numpy as np

        return np.array([point.position.latitude_e7 for point in self.waypoints], dtype=np.int64)

    @cached_property
    def longitude_e7(self) -> NDArray[np.int64]:
        import numpy as np

        return np.array([point.position.longitude_e7 for point in self.waypoints], dtype=np.int64)

    @cached_property
    def folded_names(self) -> tuple[str, ...]:
        return tuple(fold(point.name) for point in self.waypoints)

    @cached_property
    def near_pairs(self) -> NearPairs:
        """All pairs of points nearer than the distance asked for."""
        return find_near_pairs(self.latitude_e7, self.longitude_e7, self.given.within_m)
