"""What reading a file of waypoints takes and gives: options, records, row problems, and what was decided on the way.

Records are kept in columns (about 300 bytes a row) and made into values only when one is asked for, so that a file
of a million rows can be matched and written without a million objects.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, overload

from taskdb.core.model import Position, RowProblem, Typed, Waypoint
from taskdb.formats.columns import Column

NO_TEXT = MappingProxyType[str, str]({})


@dataclass(frozen=True, slots=True)
class ReadOptions:
    """What a person told about a file; None leaves it to be decided from the file, or refused where it is open.

    `columns` maps a field to a header or to `#N`, the column's number from 1. `codes`: where codes come from in a
    format without them (`name`, `number` or a header). `letter_o`: what a lone O means, `east` or `west`.
    `heading`: whether a bare runway heading is `true` or `magnetic`. `profile`: the text of a text profile.
    """

    format: str | None = None
    notation: str | None = None
    columns: Mapping[str, str] = field(default_factory=lambda: NO_TEXT)
    encoding: str | None = None
    delimiter: str | None = None
    decimal: str | None = None
    elevation_unit: str | None = None
    codes: str | None = None
    letter_o: str | None = None
    heading: str | None = None
    profile: str | None = None


@dataclass(frozen=True, slots=True)
class Record:
    """One row as read. `given`: the model's fields that the file has a column for; `empty`: those empty here."""

    line: int
    waypoint: Waypoint
    given: frozenset[str]
    empty: frozenset[str]


@dataclass(frozen=True, slots=True)
class Decided:
    """What was decided about a file; `columns` maps a field's JSON name to the header it was read from."""

    format: str
    encoding: str | None
    delimiter: str | None
    notation: str | None
    columns: Mapping[str, str]
    ignored: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    def plain(self) -> dict[str, Any]:
        """Return the JSON form."""
        return {
            "format": self.format,
            "encoding": self.encoding,
            "delimiter": self.delimiter,
            "notation": self.notation,
            "columns": dict(self.columns),
            "ignored": list(self.ignored),
            "notes": list(self.notes),
        }


NO_STRINGS: frozenset[str] = frozenset()


class Records(Sequence[Record]):
    """The rows of a file that can be taken in, in its order: a sequence of `Record` kept in columns.

    The columns may be read directly (`codes`, `latitudes_e7`, `values["country"]` …), all of the same length.
    """

    __slots__ = (
        "codes", "coordinates", "decimals", "elevation_unit", "elevations", "given", "latitudes_e7", "lines",
        "longitudes_e7", "names", "notation", "values",
    )  # fmt: skip

    def __init__(self, given: frozenset[str], notation: str | None, elevation_unit: str | None = None) -> None:
        self.given = given
        self.notation = notation
        self.elevation_unit = elevation_unit
        self.lines = array("q")
        self.codes: list[str] = []
        self.names: list[str] = []
        self.latitudes_e7 = array("i")
        self.longitudes_e7 = array("i")
        self.coordinates: list[str] = []
        """The coordinates as typed, latitude and longitude parted by a tab: one text a row is a third smaller."""
        self.decimals = bytearray()
        self.elevations = Column()
        """The elevations as typed; empty where the file has none."""
        self.values: dict[str, Column] = {}
        """The other given fields by the model's name: a value per row, None or () where the cell is empty."""

    def __len__(self) -> int:
        return len(self.codes)

    @overload
    def __getitem__(self, index: int) -> Record: ...
    @overload
    def __getitem__(self, index: slice) -> list[Record]: ...
    def __getitem__(self, index: int | slice) -> Record | list[Record]:
        if isinstance(index, slice):
            return [self._record(i) for i in range(*index.indices(len(self)))]
        if not -len(self) <= index < len(self):
            raise IndexError("no such record")
        return self._record(index % len(self))

    def __iter__(self) -> Iterator[Record]:
        for i in range(len(self.codes)):
            yield self._record(i)

    def _record(self, i: int) -> Record:
        values = {name: column[i] for name, column in self.values.items()}
        empty = [name for name, value in values.items() if (value is None or value == ()) and name != "extras"]
        if not self.names[i] and "name" in self.given:
            empty.append("name")
        waypoint = self._waypoint(i, values)
        return Record(self.lines[i], waypoint, self.given, frozenset(empty) if empty else NO_STRINGS)

    def _waypoint(self, i: int, values: Mapping[str, Any]) -> Waypoint:
        position = Position.from_e7(self.latitudes_e7[i], self.longitudes_e7[i])
        return Waypoint(self.codes[i], self.names[i], position, typed=self.typed(i), **values)

    def waypoints(self, numbers: Iterable[int]) -> Iterator[Waypoint]:
        """Yield the waypoints of these rows, made one by one: a million of them need not be held."""
        columns = tuple(self.values.items())
        for i in numbers:
            yield self._waypoint(i, {name: column[i] for name, column in columns})

    def is_as(self, i: int, waypoint: Waypoint) -> bool:
        """Say whether row `i` gives exactly the values that a waypoint has."""
        position = waypoint.position
        return (
            self.names[i] == waypoint.name
            and self.latitudes_e7[i] == position.latitude_e7
            and self.longitudes_e7[i] == position.longitude_e7
            and all(column[i] == getattr(waypoint, name) for name, column in self.values.items() if name != "extras")
        )

    def typed(self, i: int) -> Typed:
        """Return what was typed for position and elevation in row `i`."""
        latitude, _, longitude = self.coordinates[i].partition("\t")
        elevation = self.elevations[i] if self.elevations else None
        return Typed(
            latitude,
            longitude or None,
            self.notation,
            self.decimals[i],
            elevation,
            None if elevation is None else unit_in(elevation) or self.elevation_unit,
        )


def unit_in(elevation: str) -> str | None:
    """Return the unit that stands in an elevation that was read, `m` or `ft`; None for a bare number."""
    letters = elevation.lstrip("+-0123456789., ").lower()
    if not letters or letters.startswith(("msl", "amsl", "asl")):
        return None
    return "m" if letters.startswith("m") else "ft"


@dataclass(frozen=True, slots=True)
class Reject:
    """A row that was not taken in, cell by cell as it stands in the file."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SetReading:
    """A file as read: the rows that can be taken in, all problems of the others, and what was decided.

    `read` counts rows, good and bad. `header` and `rejects` serve the file of rejected rows.
    """

    records: Records
    problems: tuple[RowProblem, ...]
    decided: Decided
    read: int
    header: tuple[str, ...] = ()
    rejects: tuple[Reject, ...] = ()
