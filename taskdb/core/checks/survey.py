"""The checked set as the rules see it: what several rules need is computed once, when the first asks for it.

Holds no rule of its own. Arrays are in the order of `waypoints`; coordinates are whole multiples of 1e-7 degree.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from taskdb.core.checks.counterparts import Counterparts, find_counterparts
from taskdb.core.checks.disagreements import Disagreement, find_disagreements
from taskdb.core.checks.elevations import Ground, ground_at, is_on_island
from taskdb.core.checks.forms import Oddity, find_oddities
from taskdb.core.checks.given import CheckInput
from taskdb.core.checks.outlines import countries_at
from taskdb.core.checks.region import Region, find_region
from taskdb.core.checks.terrain_fit import COARSE_M, TerrainFit, terrain_fits
from taskdb.core.ground import GroundHeights
from taskdb.core.matching.points import NearPairs, Points, near_pairs
from taskdb.core.model import Severity, Waypoint
from taskdb.core.names import fold

if TYPE_CHECKING:
    pass


class Survey:
    """One set under examination; immutable but for what it remembers having computed."""

    def __init__(self, given: CheckInput) -> None:
        self.given = given
        order = sorted(range(len(given.waypoints)), key=lambda index: given.waypoints[index].code)
        self.waypoints: tuple[Waypoint, ...] = tuple(given.waypoints[index] for index in order)
        self._order = order

    @cached_property
    def spreads_e7(self) -> tuple[float, float]:
        """Over how much latitude and longitude most points spread, in 1e-7 degree: 5th to 95th percentile."""
        import numpy as np

        both = (self.points.latitude_e7, self.points.longitude_e7)
        south_north, west_east = (np.percentile(values, (5, 95)) for values in both)
        return float(south_north[1] - south_north[0]), float(west_east[1] - west_east[0])

    @cached_property
    def folded_names(self) -> tuple[str, ...]:
        return tuple(fold(point.name) for point in self.waypoints)

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
        place = {given: mine for mine, given in enumerate(self._order)}
        order = [place[given] for given in range(len(self.waypoints))]
        return tuple(find_counterparts(one, self.waypoints, order) for one in self.given.references)

    @cached_property
    def disagreements(self) -> tuple[Disagreement, ...]:
        """The points that a reference has elsewhere."""
        return find_disagreements(self.waypoints, self.counterparts, self.given.outlines)

    @cached_property
    def points(self) -> Points:
        return Points.of([point.position for point in self.waypoints])

    @cached_property
    def countries(self) -> list[frozenset[str]] | None:
        """The codes of the countries in which the points lie; None without outlines."""
        if self.given.outlines is None:
            return None
        return countries_at(self.given.outlines, [point.position for point in self.waypoints])

    @cached_property
    def grounds(self) -> list[Ground | None]:
        """The ground around the points by the coarse grid; None for a point where nothing is known."""
        if self.given.elevation is None:
            return [None] * len(self.waypoints)
        return ground_at(self.given.elevation, [point.position for point in self.waypoints])

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
        return terrain_fits(self.terrain, self.waypoints, [point.position for point in self.waypoints])

    def is_on_island(self, index: int) -> bool:
        """Say whether the point stands on an island or a cape; False without a grid."""
        grid = self.given.elevation
        return grid is not None and is_on_island(grid, self.waypoints[index].position)

    def has_company(self, index: int, within_m: float) -> bool:
        """Say whether another point, at another position, lies within a distance (straight, metres)."""
        import numpy as np

        apart = np.sqrt(((self.points.centred_m - self.points.centred_m[index]) ** 2).sum(axis=1))
        return bool(((apart > 0.0) & (apart <= within_m)).any())

    @cached_property
    def region(self) -> Region:
        """Where the set is at home."""
        return find_region(self.waypoints, self.points, self.countries, self.given.outlines)

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
