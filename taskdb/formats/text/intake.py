"""What reading a file of waypoints takes and gives: options, records, row problems, and what was decided on the way.

Records are kept in columns (about 300 bytes a row) and made into values only when one is asked for, so that a file
of a million rows can be matched and written without a million objects.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from operator import and_, eq
from types import MappingProxyType
from typing import Any, TypeVar, overload

from taskdb.core.model import RowProblem, Waypoint
from taskdb.core.notation.joined import Join
from taskdb.core.numbers import plain_number
from taskdb.core.waypoint_columns import TypedColumns, WaypointColumns
from taskdb.formats.text.columns import Column

HANDED_OVER = 10_000
"""Rows are made into columns of waypoints so many at a time."""

T = TypeVar("T")

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
    """What was decided about a file; `columns` maps a field's JSON name to the header it was read from.

    `joined` names the columns of a field that several make up, as `--column` takes them.
    """

    format: str
    encoding: str | None
    delimiter: str | None
    notation: str | None
    columns: Mapping[str, str]
    ignored: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    joined: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


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

    @property
    def identities(self) -> Sequence[str | None] | None:
        """The identities that the file gives; None where it has no column of them."""
        return self.values.get("identity")

    def __len__(self) -> int:
        return len(self.codes)

    @overload
    def __getitem__(self, index: int) -> Record: ...
    @overload
    def __getitem__(self, index: slice) -> list[Record]: ...
    def __getitem__(self, index: int | slice) -> Record | list[Record]:
        if isinstance(index, slice):
            return list(self.some(range(*index.indices(len(self)))))
        if not -len(self) <= index < len(self):
            raise IndexError("no such record")
        return next(self.some((index % len(self),)))

    def __iter__(self) -> Iterator[Record]:
        return self.some(range(len(self.codes)))

    def some(self, numbers: Sequence[int]) -> Iterator[Record]:
        """Yield these rows."""
        for start in range(0, len(numbers), HANDED_OVER):
            rows = numbers[start : start + HANDED_OVER]
            columns = self._columns(rows)
            for at, i in enumerate(rows):
                values = ((name, column[i]) for name, column in self.values.items() if name != "extras")
                empty = [name for name, value in values if value is None or value == ()]
                if not self.names[i] and "name" in self.given:
                    empty.append("name")
                given_nothing = frozenset(empty) if empty else NO_STRINGS
                yield Record(self.lines[i], columns.waypoint(at), self.given, given_nothing)

    def columns(self, numbers: Sequence[int]) -> Iterator[WaypointColumns]:
        """Yield the waypoints of these rows as columns, a batch at a time: a million of them need not be held."""
        for start in range(0, len(numbers), HANDED_OVER):
            yield self._columns(numbers[start : start + HANDED_OVER])

    def _columns(self, rows: Sequence[int]) -> WaypointColumns:
        values = {name: column.at(rows) for name, column in self.values.items()}
        identities = values.pop("identity", None)
        elevations = self.elevations.at(rows) if self.elevations else None
        return WaypointColumns(
            codes=_at(self.codes, rows),
            names=_at(self.names, rows),
            latitudes_e7=_at(self.latitudes_e7, rows),
            longitudes_e7=_at(self.longitudes_e7, rows),
            values=values,
            typed=TypedColumns(
                _at(self.coordinates, rows),
                self.notation,
                _at(self.decimals, rows),
                elevations,
                None if elevations is None else self._units(elevations),
            ),
            identities=identities,
        )

    def _units(self, elevations: Sequence[str | None]) -> list[str | None]:
        """Return the unit of each elevation as typed: what stands in it, else the file's; None for none."""
        units = {typed: None if typed is None else unit_in(typed) or self.elevation_unit for typed in set(elevations)}
        return [units[typed] for typed in elevations]

    def give(self, rows: Sequence[int | None], standing: WaypointColumns) -> list[bool]:
        """Say for each of some waypoints whether a row gives exactly its values; what has no row is not given."""
        numbers: Sequence[int]
        if isinstance(rows, range):  # a file in the order of its codes: its columns are cut and not gathered
            numbers, same = rows, [True] * len(rows)
        else:
            same = [i is not None for i in rows]
            if not any(same):
                return same
            numbers = [0 if i is None else i for i in rows]
        pairs: list[tuple[Sequence[Any], Sequence[Any]]] = [
            (_at(self.names, numbers), standing.names),
            (_at(self.latitudes_e7, numbers), standing.latitudes_e7),
            (_at(self.longitudes_e7, numbers), standing.longitudes_e7),
        ]
        pairs += [
            (column.at(numbers), standing.column(name))
            for name, column in self.values.items()
            if name not in ("extras", "identity")
        ]
        for ours, theirs in pairs:
            if list(ours) != list(theirs):
                same = list(map(and_, same, map(eq, ours, theirs)))
        return same


def _at(column: Sequence[T], rows: Sequence[int]) -> Sequence[T]:
    """Return the values of some rows; those of a range at once."""
    if isinstance(rows, range) and rows.step == 1:
        return column[rows.start : rows.stop]
    return [column[i] for i in rows]


@lru_cache(maxsize=1 << 14)  # a list has some thousand heights, and every batch of its rows nearly all of them
def unit_in(elevation: str) -> str | None:
    """Return the unit that stands in an elevation that was read, `m` or `ft`; None for a bare number."""
    letters = plain_number(elevation).lstrip("+-0123456789., ").lower()
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

    `read` counts rows, good and bad. `header`, `rejects` and `joins` serve the file of rejected rows.
    """

    records: Records
    problems: tuple[RowProblem, ...]
    decided: Decided
    read: int
    header: tuple[str, ...] = ()
    rejects: tuple[Reject, ...] = ()
    joins: Mapping[str, Join] = field(default_factory=dict)
