"""The rows of a file of waypoints as a plan of their import sees them; readers keep them in columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Protocol

from taskdb.core.model import Waypoint
from taskdb.core.waypoint_columns import WaypointColumns


class Row(Protocol):
    """A row that can be taken in: its line, its waypoint, the fields that the file has, and those empty in this row."""

    @property
    def line(self) -> int: ...

    @property
    def waypoint(self) -> Waypoint: ...

    @property
    def given(self) -> frozenset[str]: ...

    @property
    def empty(self) -> frozenset[str]: ...


class Rows(Protocol):
    """All rows of a file in its order, by number from 0; the columns are all of the same length."""

    @property
    def given(self) -> frozenset[str]: ...

    @property
    def lines(self) -> Sequence[int]: ...

    @property
    def codes(self) -> Sequence[str]: ...

    @property
    def names(self) -> Sequence[str]: ...

    @property
    def identities(self) -> Sequence[str | None] | None: ...

    @property
    def latitudes_e7(self) -> Sequence[int]: ...

    @property
    def longitudes_e7(self) -> Sequence[int]: ...

    def __len__(self) -> int: ...

    def __getitem__(self, number: int, /) -> Row: ...

    def some(self, numbers: Sequence[int]) -> Iterator[Row]:
        """Yield these rows."""
        ...

    def give(self, rows: Sequence[int | None], standing: WaypointColumns) -> Sequence[bool]:
        """Say for each of some waypoints whether a row gives exactly its values; what has no row is not given."""
        ...
