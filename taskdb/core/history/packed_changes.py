"""Changes of very many waypoints kept small: values are made only when one is asked for.

Columns go from here to the store as they are. Knows neither rows of a file nor tables.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Sequence

from taskdb.core.asked_for import AskedFor
from taskdb.core.history.changes import Change
from taskdb.core.model import Waypoint
from taskdb.core.packed_waypoints import PackedWaypoints
from taskdb.core.waypoint_columns import WaypointColumns

_AT_ONCE = 10_000


class SomeWaypoints(AskedFor[Waypoint]):
    """Some of many waypoints, by their numbers among them."""

    __slots__ = ("_of", "_rows")

    def __init__(self, of: PackedWaypoints, rows: Sequence[int]) -> None:
        self._of, self._rows = of, rows

    def __len__(self) -> int:
        return len(self._rows)

    def _item(self, index: int) -> Waypoint:
        return self._of[self._rows[index]]


class PackedChanges(AskedFor[Change]):
    """Changes of waypoints that stand: the number of each among them, and what it becomes."""

    __slots__ = ("_old", "_packed", "_standing", "_waiting")

    def __init__(self, standing: PackedWaypoints) -> None:
        self._standing = standing
        self._old = array("i")
        self._packed = PackedWaypoints()
        self._waiting: list[Waypoint] = []

    def add(self, old: int, new: Waypoint) -> None:
        """Add what the waypoint of a number becomes; it keeps its identity."""
        self._old.append(old)
        self._waiting.append(new)
        if len(self._waiting) == _AT_ONCE:
            self._new()

    def _new(self) -> PackedWaypoints:
        if self._waiting:
            self._packed.extend(WaypointColumns.of(self._waiting))
            self._waiting.clear()
        return self._packed

    def identities(self) -> Iterator[str]:
        """Yield the identities of what changes. ValueError where one has none."""
        for number, identity in enumerate(self._new().identities):
            if identity is None:
                raise ValueError(f"the waypoint {self._packed.codes[number]} has no identity")
            yield identity

    def columns(self) -> Iterator[WaypointColumns]:
        """Yield what all become as columns, a batch at a time."""
        new = self._new()
        for begin in range(0, len(new), _AT_ONCE):
            yield new.columns(begin, begin + _AT_ONCE)

    def codes(self) -> Iterator[tuple[str, str]]:
        """Yield the codes before and after."""
        return zip(map(self._standing.codes.__getitem__, self._old), self._new().codes, strict=True)

    def __len__(self) -> int:
        return len(self._old)

    def _item(self, index: int) -> Change:
        return self._standing[self._old[index]], self._new()[index]
