"""Many waypoints as columns of one length, so that a million can be read, compared and written without as many objects.

What a file hands over and what a store keeps and gives back, a batch at a time. Holds values and makes waypoints of
single rows; knows neither formats nor tables.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from taskdb.core.asked_for import AskedFor
from taskdb.core.model import Position, Typed, Waypoint

VALUE_COLUMNS = (
    "elevation_m", "landable", "feature", "country", "radio", "runways", "description", "source", "inspected_on",
    "extras",
)  # fmt: skip
"""The fields of a waypoint that may be empty in all rows, and then have no column."""

EMPTY: Mapping[str, Any] = MappingProxyType({"radio": (), "runways": ()})
"""What stands in a column of VALUE_COLUMNS where it is empty, if not None."""

_NO_COLUMNS: Mapping[str, Sequence[Any]] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class TypedColumns(AskedFor[Typed | None]):
    """What was typed for each row of a file read in one notation: a `Typed` is made only when one is asked for.

    `coordinates` are latitude and longitude parted by a tab; `elevations` and their `units` are None where the file
    has none.
    """

    coordinates: Sequence[str]
    notation: str | None
    decimals: Sequence[int]
    elevations: Sequence[str | None] | None = None
    units: Sequence[str | None] | None = None

    def __len__(self) -> int:
        return len(self.coordinates)

    def _item(self, index: int) -> Typed:
        latitude, _, longitude = self.coordinates[index].partition("\t")
        return Typed(
            latitude,
            longitude or None,
            self.notation,
            self.decimals[index],
            None if self.elevations is None else self.elevations[index],
            None if self.units is None else self.units[index],
        )


@dataclass(frozen=True, slots=True)
class WaypointColumns:
    """Waypoints in columns. A field of VALUE_COLUMNS without a column in `values` is empty in every row.

    Positions are canonical: whole multiples of 1e-7 degree, longitudes −180° ≤ x < 180°. `typed` and `identities`
    are None where no row has any. Where only some columns were read, `whole` gives all of them, for single rows.
    """

    codes: Sequence[str]
    names: Sequence[str]
    latitudes_e7: Sequence[int]
    longitudes_e7: Sequence[int]
    values: Mapping[str, Sequence[Any]] = field(default_factory=lambda: _NO_COLUMNS)
    typed: Sequence[Typed | None] | None = None
    identities: Sequence[str | None] | None = None
    whole: Callable[[], WaypointColumns] | None = None

    @staticmethod
    def of(waypoints: Sequence[Waypoint]) -> WaypointColumns:
        """Return waypoints as columns."""
        positions = [waypoint.position for waypoint in waypoints]
        return WaypointColumns(
            codes=[waypoint.code for waypoint in waypoints],
            names=[waypoint.name for waypoint in waypoints],
            latitudes_e7=[position.latitude_e7 for position in positions],
            longitudes_e7=[position.longitude_e7 for position in positions],
            values={name: [getattr(waypoint, name) for waypoint in waypoints] for name in VALUE_COLUMNS},
            typed=[waypoint.typed for waypoint in waypoints],
            identities=[waypoint.identity for waypoint in waypoints],
        )

    def __len__(self) -> int:
        return len(self.codes)

    def column(self, name: str) -> Sequence[Any]:
        """Return the values of a field of VALUE_COLUMNS, a value a row: None, or () for a list, where it is empty."""
        values = self.values.get(name)
        return [EMPTY.get(name)] * len(self) if values is None else values

    def waypoint(self, row: int) -> Waypoint:
        """Return the waypoint of one row."""
        if self.whole is not None:
            return self.whole().waypoint(row)
        return Waypoint(
            self.codes[row],
            self.names[row],
            Position.from_e7(self.latitudes_e7[row], self.longitudes_e7[row]),
            identity=None if self.identities is None else self.identities[row],
            typed=None if self.typed is None else self.typed[row],
            **{name: column[row] for name, column in self.values.items()},
        )

    def some(self, rows: Sequence[int]) -> WaypointColumns:
        """Return these rows, whole."""
        if self.whole is not None:
            return self.whole().some(rows)
        if len(rows) == len(self):
            return self
        return WaypointColumns(
            codes=[self.codes[row] for row in rows],
            names=[self.names[row] for row in rows],
            latitudes_e7=[self.latitudes_e7[row] for row in rows],
            longitudes_e7=[self.longitudes_e7[row] for row in rows],
            values={name: [column[row] for row in rows] for name, column in self.values.items()},
            typed=None if self.typed is None else [self.typed[row] for row in rows],
            identities=None if self.identities is None else [self.identities[row] for row in rows],
        )

    def waypoints(self) -> Iterator[Waypoint]:
        """Yield the waypoints of all rows."""
        return map(self.waypoint, range(len(self)))
