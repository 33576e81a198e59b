"""What is asked of the search for courses: shape, band of length, where home lies, and what keeps a course out.

Does without numpy, so that the command line can make one without paying for it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from taskdb.core.filters.tasks import Sector
from taskdb.core.kinds import HomeAt, ProposedShape
from taskdb.core.model import Earth, TriangleRules

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Blocked = Callable[[npt.NDArray[np.int32], npt.NDArray[np.int32]], npt.NDArray[np.bool_]]

HOME = -1
"""The number of home where legs are named by the numbers of their ends."""

LEAST_SHARE_PERCENT = 15.0
"""Below it a leg of a quadrilateral is none worth a turn point (common practice, no source)."""

LONGEST_M = 5_000_000.0
"""The longest course that is searched for: the quick lengths were measured up to the legs of these."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a course must be to be found; lengths in metres on `earth`, limits are inside.

    `least_m` to `most_m` bounds the triangle's perimeter of an FAI triangle (Sporting Code Section 3, 1.4.3d), the
    course from home to home of every other shape. `within_m`, with home on a side: how far off the WGS84 geodesic
    between two turn points home may lie, its ends included. `least_share_percent` is what each leg has at least of
    the course, of a triangle each side of its perimeter; None stands for 15 % of a quadrilateral, nothing of others.
    `first_deg` and `last_deg` hold the true courses with which the first leg leaves home and the last one leaves its
    turn point. `farthest_m` bounds the distance of every turn point from home. `blocked` says of legs between places,
    by their numbers or `HOME`, which must not be flown; the direction does not matter to it.

    Raises ValueError where the numbers describe no course.
    """

    shape: ProposedShape
    least_m: float
    most_m: float
    home: HomeAt = HomeAt.CORNER
    within_m: float = 5_000.0
    least_share_percent: float | None = None
    earth: Earth = Earth.WGS84
    triangle: TriangleRules = field(default_factory=TriangleRules)
    first_deg: Sector | None = None
    last_deg: Sector | None = None
    farthest_m: float | None = None
    blocked: Blocked | None = None

    def __post_init__(self) -> None:
        """Refuse what would be searched for in vain or wrongly."""
        if not 0 < self.least_m <= self.most_m <= LONGEST_M:
            raise ValueError(
                f"{_km(self.least_m)} to {_km(self.most_m)} km is no band of length within {_km(LONGEST_M)} km"
            )
        if self.home is HomeAt.SIDE and not self.is_triangle:
            raise ValueError(f"home lies on a side of a triangle only, not of {self.shape}")
        if self.home is HomeAt.SIDE and not 0 <= self.within_m <= self.most_m:
            raise ValueError(
                f"home within {_km(self.within_m)} km of a side is no limit for courses of {_km(self.most_m)} km"
            )
        if not 0 <= (self.least_share_percent or 0.0) <= 50:
            raise ValueError(f"{self.least_share_percent} % is no least share of a leg")

    @property
    def is_triangle(self) -> bool:
        """Whether three sides are searched for."""
        return self.shape in (ProposedShape.FAI_TRIANGLE, ProposedShape.TRIANGLE)

    @property
    def least_share(self) -> float:
        """What each leg has at least of the whole, from 0 to 0.5."""
        if self.least_share_percent is not None:
            return self.least_share_percent / 100
        return LEAST_SHARE_PERCENT / 100 if self.shape is ProposedShape.QUADRILATERAL else 0.0

    @property
    def perimeter_band_m(self) -> tuple[float, float]:
        """The least and greatest perimeter of a triangle that can be one of those wanted."""
        if self.home is HomeAt.SIDE and self.shape is ProposedShape.TRIANGLE:
            # By way of home the course is longer than the perimeter, by at most twice what home lies off the side:
            # three times covers that the one is measured on the sphere and the other on the ellipsoid.
            return max(0.0, self.least_m - 3 * self.within_m), self.most_m
        return self.least_m, self.most_m

    @property
    def side_shares(self) -> tuple[float, float]:
        """The least and greatest share of a triangle's perimeter that a side of those wanted can have."""
        least, longest = self.least_share, min(0.5, 1 - 2 * self.least_share)
        if self.shape is not ProposedShape.FAI_TRIANGLE:
            return least, longest
        rules, kinds = self.triangle, []
        if self.least_m < rules.large_from_m:
            small = rules.small_shortest_percent / 100
            kinds.append((small, 1 - 2 * small))
        if self.most_m >= rules.large_from_m:
            large = rules.large_shortest_percent / 100
            kinds.append((large, min(1 - 2 * large, rules.large_longest_percent / 100)))
        return max(least, min(low for low, _ in kinds)), min(longest, max(high for _, high in kinds))


def _km(metres: float) -> str:
    return f"{metres / 1000:g}"
