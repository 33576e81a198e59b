"""The checked set as the rules see it: what several rules need is computed once, when the first asks for it.

Holds no rule of its own. Arrays are in the order of `waypoints`; coordinates are whole multiples of 1e-7 degree.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from itertools import islice
from typing import TYPE_CHECKING

from taskdb.core.checks.counterparts import Counterparts, find_counterparts
from taskdb.core.checks.disagreements import Disagreement, find_disagreements
from taskdb.core.checks.elevations import Ground, Grounds, is_on_island
from taskdb.core.checks.forms import Oddity, find_oddities
from taskdb.core.checks.given import CheckInput
from taskdb.core.checks.ground_bands import are_off_fields
from taskdb.core.checks.outlines import countries_around
from taskdb.core.checks.region import Region, find_region
from taskdb.core.checks.row_groups import like_codes
from taskdb.core.checks.terrain_fit import COARSE_M, TerrainFit, terrain_fits
from taskdb.core.ground import GroundHeights
from taskdb.core.matching.points import NearPairs, Neighbourhood, Points, near_pairs
from taskdb.core.model import Severity
from taskdb.core.names import fold_all
from taskdb.core.packed_waypoints import CodedValues, PackedTexts, PackedWaypoints

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_NULL_E7 = 10_000
"""0.001 degree, 111 m: rounded conversions of an empty cell come out a little off zero."""
_AT_ONCE = 10_000


class Survey:
    """One set under examination; immutable but for what it remembers having computed."""

    def __init__(self, given: CheckInput) -> None:
        self.given = given
        self.waypoints = PackedWaypoints.of(given.waypoints).in_code_order()
        self._families: dict[str, NDArray[np.int64]] = {}

    @cached_property
    def spreads_e7(self) -> tuple[float, float]:
        """Over how much latitude and longitude most points spread, in 1e-7 degree: 5th to 95th percentile."""
        import numpy as np

        both = (self.points.latitude_e7, self.points.longitude_e7)
        south_north, west_east = (np.percentile(values, (5, 95)) for values in both)
        return float(south_north[1] - south_north[0]), float(west_east[1] - west_east[0])

    @cached_property
    def folded_names(self) -> PackedTexts[str]:
        folded: PackedTexts[str] = PackedTexts()
        names = iter(self.waypoints.names)
        while some := list(islice(names, _AT_ONCE)):
            folded.extend(fold_all(some))
        return folded

    @cached_property
    def near_pairs(self) -> NearPairs:
        """All pairs of points nearer than the distance asked for."""
        return near_pairs(self.points, self.given.within_m)

    @cached_property
    def same_spots(self) -> dict[int, tuple[int, ...]]:
        """The points that share one position, by the first of them."""
        return {group[0]: group for group in self.near_pairs.groups}

    @cached_property
    def counterparts(self) -> tuple[Counterparts, ...]:
        """What each reference says about the points, in the order in which the references were given."""
        checked = list(self.waypoints) if self.given.references else []
        return tuple(find_counterparts(one, checked) for one in self.given.references)

    @cached_property
    def disagreements(self) -> tuple[Disagreement, ...]:
        """The points that a reference has elsewhere."""
        return find_disagreements(self.waypoints, self.counterparts, self.given.outlines)

    @cached_property
    def points(self) -> Points:
        return Points.at(self.waypoints.latitudes_e7, self.waypoints.longitudes_e7)

    @cached_property
    def is_at_zero(self) -> NDArray[np.bool_]:
        """Which points stand at 0° N 0° E."""
        import numpy as np

        is_at_zero: NDArray[np.bool_] = np.abs(self.points.latitude_e7) <= _NULL_E7
        return is_at_zero & (np.abs(self.points.longitude_e7) <= _NULL_E7)

    @cached_property
    def elevation_m(self) -> NDArray[np.float64]:
        """The elevations that the points state; 0 where they state none or 0, which is no evidence."""
        import numpy as np

        elevations = self.waypoints.column("elevation_m")
        return np.array([*(metres or 0.0 for metres in elevations.values), 0.0])[elevations.numbers]

    def family(self, index: int) -> NDArray[np.int64]:
        """Return the points with codes like that of a point that lie in their country."""
        like = like_codes(self.waypoints.codes[index])
        if like not in self._families:
            self._families[like] = self._at_home_like(like)
        return self._families[like]

    def _at_home_like(self, like: str) -> NDArray[np.int64]:
        import numpy as np

        is_like = self.like_codes.where(one == like for one in self.like_codes.values)
        return np.flatnonzero(is_like & (self.region.outside_m == 0.0))

    @cached_property
    def like_codes(self) -> CodedValues[str]:
        """What the codes of points have in common with like codes."""
        return CodedValues(map(like_codes, self.waypoints.codes))

    @cached_property
    def countries(self) -> CodedValues[frozenset[str]] | None:
        """The codes of the countries in which the points lie; None without outlines."""
        if self.given.outlines is None:
            return None
        return countries_around(self.given.outlines, self.points.latitude_e7 / 1e7, self.points.longitude_e7 / 1e7)

    @cached_property
    def grounds(self) -> Grounds | None:
        """The ground around the points by the coarse grid; None without one."""
        if self.given.elevation is None:
            return None
        return Grounds(self.given.elevation, self.points.latitude_e7 / 1e7, self.points.longitude_e7 / 1e7)

    def ground(self, index: int) -> Ground | None:
        """Return the ground around a point by the coarse grid; None where nothing is known."""
        return None if self.grounds is None else self.grounds[index]

    @cached_property
    def _off_ground(self) -> NDArray[np.int64]:
        import numpy as np

        if self.grounds is None:
            return np.empty(0, dtype=np.int64)
        return np.flatnonzero(are_off_fields(self.elevation_m, self.grounds))

    def off_ground(self) -> Iterator[tuple[int, Ground]]:
        """Yield the points with an elevation that is not plainly that of the ground there, and that ground."""
        for index in self._off_ground.tolist():
            ground = self.ground(index)
            if ground is not None:
                yield index, ground

    @property
    def terrain(self) -> GroundHeights | None:
        """The user's terrain where it is fine enough to say something of one point."""
        terrain = self.given.terrain
        return terrain if terrain is not None and terrain.spacing_m <= COARSE_M else None

    @cached_property
    def terrain_fits(self) -> list[TerrainFit | None]:
        """How the terrain lies around the points; None for a point where it says nothing."""
        if self.terrain is None:
            return [None] * len(self.waypoints)
        return terrain_fits(self.terrain, self.waypoints)

    def is_on_island(self, index: int) -> bool:
        """Say whether the point stands on an island or a cape; False without a grid."""
        grid = self.given.elevation
        return grid is not None and is_on_island(grid, self.waypoints[index].position)

    @cached_property
    def neighbourhood(self) -> Neighbourhood:
        """All points, to be asked how near they are."""
        return Neighbourhood(self.points)

    def has_company(self, index: int, within_m: float) -> bool:
        """Say whether another point, at another position, lies within a distance (straight, metres)."""
        return self.neighbourhood.has_within(self.points.centred_m[index], within_m)

    @cached_property
    def region(self) -> Region:
        """Where the set is at home."""
        return find_region(self.waypoints.column("country"), self.points, self.countries, self.given.outlines)

    @cached_property
    def oddities(self) -> tuple[Oddity, ...]:
        """The coordinates that were typed with a digit less or more than all others of their source."""
        return find_oddities(self.waypoints)

    def is_confirmed(self, index: int) -> bool:
        """Say whether a reference that is no older state of the set has the point at the same place."""
        return any(index in said.settled for said in self.counterparts if said.reference.kind != "revision")

    def weighed(self, index: int, severity: Severity) -> Severity:
        """Return the severity of a doubt about a position: a warning is but a note where a reference confirms it."""
        return Severity.NOTE if severity is Severity.WARNING and self.is_confirmed(index) else severity
