"""What a search asks for, as values that decide on an object; the store turns the same values into SQL."""

from __future__ import annotations

from taskdb.core.filters.tasks import Range, Sector, TaskFacts, TaskFilter
from taskdb.core.filters.waypoints import WaypointFilter, rank

__all__ = ["Range", "Sector", "TaskFacts", "TaskFilter", "WaypointFilter", "rank"]
