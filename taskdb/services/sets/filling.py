"""Elevations that a file lacks, filled in from the user's own terrain, and marked as such, before a plan is written.

Never from the shipped grid: its cells are 9 km wide. What a list or a person stated is left as it is.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from taskdb.core.ground import GroundHeights, filled_by, filled_text
from taskdb.core.history.import_plan import Plan
from taskdb.core.model import E7, Typed, Waypoint
from taskdb.core.waypoint_columns import WaypointColumns


@dataclass(frozen=True)
class Filled:
    """What was filled in: how many waypoints, from which ground, and the codes where it knows no height."""

    count: int
    source: str
    unknown: tuple[str, ...] = ()


@dataclass(slots=True)
class Filling:
    """Fills elevations in and counts them."""

    ground: GroundHeights
    count: int = 0
    unknown: list[str] | None = None

    def plan(self, plan: Plan, standing: Iterable[WaypointColumns], in_file: Collection[str]) -> Plan:
        """Return the plan with elevations for the changed waypoints, and for those of the file that would stay as
        they are, that have none."""
        pairs = list(plan.changes.changed)
        done = {before.identity for before, _ in pairs} | {before.identity for before in plan.changes.retired}
        new = self._waypoints([_without_stale(before, after) for before, after in pairs])
        pairs = [(before, after) for (before, _), after in zip(pairs, new, strict=True)]
        left = [
            waypoint
            for batch in standing
            for waypoint in batch.waypoints()
            if waypoint.elevation_m is None and waypoint.code in in_file and waypoint.identity not in done
        ]
        more = [
            (before, after)
            for before, after in zip(left, self._waypoints(left), strict=True)
            if after.elevation_m is not None
        ]
        changes = replace(plan.changes, changed=[*pairs, *more])
        return replace(
            plan, changes=changes, changed=plan.changed + len(more), unchanged=plan.unchanged - len(more)
        )  # fmt: skip

    def columns(self, batches: Iterable[WaypointColumns]) -> Iterator[WaypointColumns]:
        """Yield added waypoints with their elevations filled in."""
        for batch in batches:
            yield self._columns(batch)

    def filled(self) -> Filled:
        """Return what was done."""
        return Filled(self.count, self.ground.source, tuple(sorted(self.unknown or ())))

    def _columns(self, batch: WaypointColumns) -> WaypointColumns:
        elevations = list(batch.column("elevation_m"))
        typed: list[Typed | None] = [None] * len(batch) if batch.typed is None else list(batch.typed)
        lacking = [row for row, elevation in enumerate(elevations) if elevation is None]
        places = [(batch.latitudes_e7[row] / E7, batch.longitudes_e7[row] / E7) for row in lacking]
        for row, height in zip(lacking, self._heights(places, [batch.codes[row] for row in lacking]), strict=True):
            if height is not None:
                elevations[row], typed[row] = height, self._marked(typed[row], height)
        return replace(batch, values={**batch.values, "elevation_m": elevations}, typed=typed)

    def _waypoints(self, waypoints: Sequence[Waypoint]) -> list[Waypoint]:
        lacking = [waypoint for waypoint in waypoints if waypoint.elevation_m is None]
        places = [(waypoint.position.latitude_deg, waypoint.position.longitude_deg) for waypoint in lacking]
        heights = iter(self._heights(places, [waypoint.code for waypoint in lacking]))
        return [
            waypoint
            if waypoint.elevation_m is not None or (height := next(heights)) is None
            else replace(waypoint, elevation_m=height, typed=self._marked(waypoint.typed, height))
            for waypoint in waypoints
        ]

    def _heights(self, places: Sequence[tuple[float, float]], codes: Sequence[str]) -> list[float | None]:
        """Return whole metres: no model is good to tenths."""
        import numpy as np

        if not places:
            return []
        latitude, longitude = np.array(places).T
        heights = self.ground.heights_m(latitude, longitude)
        found = [None if np.isnan(height) else float(round(height)) for height in heights.tolist()]
        self.count += sum(height is not None for height in found)
        unknown = [code for code, height in zip(codes, found, strict=True) if height is None]
        self.unknown = [*(self.unknown or ()), *unknown]
        return found

    def _marked(self, typed: Typed | None, height: float) -> Typed:
        return replace(typed or Typed(), elevation=filled_text(height, self.ground), elevation_unit="m")


def _without_stale(before: Waypoint, after: Waypoint) -> Waypoint:
    """Return a changed waypoint without an elevation that was filled in where it stood before it moved."""
    is_stale = filled_by(after) is not None and before.position != after.position
    return replace(after, elevation_m=None) if is_stale else after
