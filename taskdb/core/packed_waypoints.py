"""Many waypoints kept small: a million in some hundred megabytes. A waypoint is made only when its row is asked for.

Texts lie in one run of bytes, values that repeat are kept once with a number a row, coordinates are plain integers.
Whole columns can be looked through without waypoints. Knows neither the tables of a store nor formats.
"""

from __future__ import annotations

from array import array
from bisect import bisect_left
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from itertools import accumulate, islice, pairwise
from operator import le
from typing import TYPE_CHECKING, Any, Generic, TypeVar, cast, overload

from taskdb.core.asked_for import AskedFor
from taskdb.core.model import Position, Typed, Waypoint
from taskdb.core.waypoint_columns import EMPTY, VALUE_COLUMNS, WaypointColumns

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

T = TypeVar("T", bound="str | None")
V = TypeVar("V", bound=Hashable)

_FREE_TEXTS = frozenset(("description", "extras"))
"""Columns in which nearly every value is another: of these nothing is kept once."""
_NO_TEXT = b"\xff"
"""Stands for None among texts: no UTF-8 text has this byte."""
_AT_ONCE = 10_000
_WIDE = 1 << 32
"""From here on the end of a text does not fit into four bytes."""


class PackedTexts(Sequence[T], Generic[T]):
    """Texts, or None, as one run of bytes."""

    __slots__ = ("_bytes", "_ends")

    def __init__(self, texts: Sequence[T] = ()) -> None:
        self._bytes = bytearray()
        self._ends = array("I", (0,))
        self.extend(texts)

    def extend(self, texts: Sequence[T]) -> None:
        """Add texts at the end."""
        parts = [_NO_TEXT if text is None else text.encode("utf-8", "surrogatepass") for text in texts]
        self._bytes += b"".join(parts)
        if len(self._bytes) >= _WIDE and self._ends.typecode == "I":
            self._ends = array("Q", self._ends)
        self._ends.extend(islice(accumulate(map(len, parts), initial=self._ends[-1]), 1, None))

    def repeated(self) -> dict[T, list[int]]:
        """Return every text that several rows have, with those rows, in the order in which they first stand."""
        import numpy as np

        # Sorted as numbers, a million texts need no room; few are looked at as texts.
        hashes = np.fromiter(map(hash, self), dtype=np.int64, count=len(self))
        order = np.argsort(hashes)
        is_same = hashes[order][1:] == hashes[order][:-1]
        is_repeated = np.zeros(len(self), dtype=bool)
        is_repeated[order[1:][is_same]] = is_repeated[order[:-1][is_same]] = True
        found: dict[T, list[int]] = {}
        for row in np.flatnonzero(is_repeated).tolist():
            found.setdefault(self[row], []).append(row)
        return {text: rows for text, rows in found.items() if len(rows) > 1}

    def __len__(self) -> int:
        return len(self._ends) - 1

    @overload
    def __getitem__(self, index: int) -> T: ...
    @overload
    def __getitem__(self, index: slice) -> list[T]: ...
    def __getitem__(self, index: int | slice) -> T | list[T]:
        if isinstance(index, slice):
            rows = range(*index.indices(len(self)))
            return self._run(rows.start, rows.stop) if rows and rows.step == 1 else [self[i] for i in rows]
        if not 0 <= index < len(self._ends) - 1:
            index = range(len(self))[index]
        return self._text(self._ends[index], self._ends[index + 1])

    def __iter__(self) -> Iterator[T]:
        for begin in range(0, len(self), _AT_ONCE):
            yield from self._run(begin, begin + _AT_ONCE)

    def _run(self, begin: int, end: int) -> list[T]:
        ends = self._ends[begin : end + 1]
        first = ends[0]
        block = self._bytes[first : ends[-1]]
        if block.isascii():  # so of no text are the bytes other than its letters
            text, places = block.decode("ascii"), [place - first for place in ends]
            return [cast(T, text[start:stop]) for start, stop in pairwise(places)]
        return [self._text(start, stop) for start, stop in pairwise(ends)]

    def _text(self, start: int, end: int) -> T:
        part = self._bytes[start:end]
        return cast(T, None if part == _NO_TEXT else part.decode("utf-8", "surrogatepass"))


class CodedValues(Sequence[V], Generic[V]):
    """Values of which many are equal: each different one once in `values`, and a row's place there in `numbers`."""

    __slots__ = ("_numbers", "_place", "values")

    def __init__(self, values: Iterable[V] = ()) -> None:
        self.values: list[V] = []
        self._place = _Places(self.values)
        self._numbers = array("i")
        self.extend(values)

    @staticmethod
    def numbered(values: Sequence[V], numbers: NDArray[np.int32]) -> CodedValues[V]:
        """Return the rows of which each has the value at this place among `values`."""
        import numpy as np

        made: CodedValues[V] = CodedValues()
        places = np.array([made._place[value] for value in values] or [0], dtype=np.int32)
        made._numbers.frombytes(places[numbers].tobytes())
        return made

    def extend(self, values: Iterable[V]) -> None:
        """Add values at the end."""
        self._numbers.extend(map(self._place.__getitem__, values))

    def repeat(self, value: V, times: int) -> None:
        """Add one value so many times."""
        self._numbers.extend(array("i", (self._place[value],)) * times)

    @property
    def numbers(self) -> NDArray[np.int32]:
        """The place of each row's value in `values`."""
        import numpy as np

        return np.frombuffer(self._numbers, dtype=np.int32) if self._numbers else np.empty(0, dtype=np.int32)

    def where(self, holds: Iterable[bool]) -> NDArray[np.bool_]:
        """Return for each row whether something holds that was found out once for each of `values`, in their order."""
        import numpy as np

        return np.array([*holds, False], dtype=bool)[self.numbers]

    def __len__(self) -> int:
        return len(self._numbers)

    @overload
    def __getitem__(self, index: int) -> V: ...
    @overload
    def __getitem__(self, index: slice) -> list[V]: ...
    def __getitem__(self, index: int | slice) -> V | list[V]:
        if isinstance(index, slice):
            return [self.values[number] for number in self._numbers[index]]
        return self.values[self._numbers[index]]

    def __iter__(self) -> Iterator[V]:
        return map(self.values.__getitem__, self._numbers)


class _Places(dict[Any, int]):
    """The place of each value in a list, put at its end when it is first asked for."""

    def __init__(self, values: list[Any]) -> None:
        super().__init__()
        self._values = values

    def __missing__(self, value: Any) -> int:
        place = self[value] = len(self._values)
        self._values.append(value)
        return place


Form = tuple["str | None", "int | None", "str | None"]


class PackedTyped(Sequence["Typed | None"]):
    """What was typed for each row. `forms` are notation, decimals and unit of the elevation; None: nothing was."""

    def __init__(self) -> None:
        self.forms: CodedValues[Form | None] = CodedValues()
        self._latitudes: PackedTexts[str | None] = PackedTexts()
        self._longitudes: PackedTexts[str | None] = PackedTexts()
        self._elevations: CodedValues[str | None] = CodedValues()

    def extend(self, typed: Sequence[Typed | None]) -> None:
        """Add what was typed in further rows."""
        self._fill()
        rows = [one or _NOTHING for one in typed]
        self.forms.extend(None if one is _NOTHING else (one.notation, one.decimals, one.elevation_unit) for one in rows)
        self._latitudes.extend([one.latitude for one in rows])
        self._longitudes.extend([one.longitude for one in rows])
        self._elevations.extend(one.elevation for one in rows)

    def skip(self, rows: int) -> None:
        """Add rows in which nothing was typed."""
        self.forms.repeat(None, rows)

    def coordinates(self) -> tuple[PackedTexts[str | None], PackedTexts[str | None]]:
        """Return the texts of the latitudes and of the longitudes."""
        self._fill()
        return self._latitudes, self._longitudes

    def _fill(self) -> None:
        skipped = len(self.forms) - len(self._latitudes)
        if skipped:
            self._latitudes.extend([None] * skipped)
            self._longitudes.extend([None] * skipped)
            self._elevations.repeat(None, skipped)

    def __len__(self) -> int:
        return len(self.forms)

    @overload
    def __getitem__(self, index: int) -> Typed | None: ...
    @overload
    def __getitem__(self, index: slice) -> list[Typed | None]: ...
    def __getitem__(self, index: int | slice) -> Typed | list[Typed | None] | None:
        if isinstance(index, slice):
            return self._some(index)
        form = self.forms[index]
        if form is None:
            return None
        notation, decimals, unit = form
        return Typed(
            self._latitudes[index], self._longitudes[index], notation, decimals, self._elevations[index], unit
        )  # fmt: skip

    def _some(self, rows: slice) -> list[Typed | None]:
        forms = self.forms[rows]
        if not any(forms):
            return [None] * len(forms)
        self._fill()
        texts = zip(forms, self._latitudes[rows], self._longitudes[rows], self._elevations[rows], strict=True)
        return [
            None if form is None else Typed(latitude, longitude, form[0], form[1], elevation, form[2])
            for form, latitude, longitude, elevation in texts
        ]


_NOTHING = Typed()


class PackedWaypoints(AskedFor[Waypoint]):
    """Waypoints by row, and their columns. Rows can be added at the end, not changed."""

    def __init__(self) -> None:
        self.codes: PackedTexts[str] = PackedTexts()
        self.names: PackedTexts[str] = PackedTexts()
        self._latitudes_e7, self._longitudes_e7 = array("i"), array("i")
        self.identities: PackedTexts[str | None] = PackedTexts()
        self._values: dict[str, CodedValues[Any] | PackedTexts[str | None]] = {}
        self.typed = PackedTyped()
        self._given: Sequence[Waypoint] | None = None

    @staticmethod
    def of(waypoints: Sequence[Waypoint]) -> PackedWaypoints:
        """Return waypoints packed; those that were given are handed out again as they are."""
        if isinstance(waypoints, PackedWaypoints):
            return waypoints
        made = PackedWaypoints()
        for begin in range(0, len(waypoints), _AT_ONCE):
            made.extend(WaypointColumns.of(waypoints[begin : begin + _AT_ONCE]))
        made._given = waypoints
        return made

    def extend(self, columns: WaypointColumns) -> None:
        """Add rows at the end."""
        before, count = len(self), len(columns)
        self.codes.extend(columns.codes)
        self.names.extend(columns.names)
        self._latitudes_e7.extend(columns.latitudes_e7)
        self._longitudes_e7.extend(columns.longitudes_e7)
        self.identities.extend([None] * count if columns.identities is None else columns.identities)
        for name in VALUE_COLUMNS:
            values = columns.values.get(name)
            if values is None:
                if name in self._values:
                    _repeat(self._values[name], EMPTY.get(name), count)
            else:
                if name not in self._values:
                    self._values[name] = PackedTexts() if name in _FREE_TEXTS else CodedValues()
                    _repeat(self._values[name], EMPTY.get(name), before)
                self._values[name].extend(values)
        if columns.typed is None:
            self.typed.skip(count)
        else:
            self.typed.extend(columns.typed)

    def column(self, name: str) -> CodedValues[Any]:
        """Return the values of a field of VALUE_COLUMNS, not a free text: None, or () for a list, where it is empty."""
        values = self._values.get(name)
        if values is None:
            values = self._values[name] = CodedValues()
            values.repeat(EMPTY.get(name), len(self))
        assert isinstance(values, CodedValues)
        return values

    def stating(self, name: str) -> NDArray[np.int64]:
        """Return the rows that state a field of VALUE_COLUMNS (but free texts): neither None nor empty."""
        import numpy as np

        column = self.column(name)
        return np.flatnonzero(column.where(map(bool, column.values)))

    @property
    def latitudes_e7(self) -> NDArray[np.int64]:
        return _wide(self._latitudes_e7)

    @property
    def longitudes_e7(self) -> NDArray[np.int64]:
        return _wide(self._longitudes_e7)

    def position(self, row: int) -> Position:
        """Return where the waypoint of a row is."""
        return Position.from_e7(self._latitudes_e7[row], self._longitudes_e7[row])

    def columns(self, begin: int, end: int) -> WaypointColumns:
        """Return the rows from one up to another as columns."""
        return WaypointColumns(
            codes=self.codes[begin:end],
            names=self.names[begin:end],
            latitudes_e7=self._latitudes_e7[begin:end],
            longitudes_e7=self._longitudes_e7[begin:end],
            values={name: column[begin:end] for name, column in self._values.items()},
            typed=self.typed[begin:end],
            identities=self.identities[begin:end],
        )

    def some(self, rows: Sequence[int]) -> Iterator[Waypoint]:
        """Yield the waypoints of these rows, which rise; where they lie close together much faster than one by one."""
        for begin in range(0, len(rows), _AT_ONCE):
            block = rows[begin : begin + _AT_ONCE]
            first, end = block[0], block[-1] + 1
            if end - first > 2 * len(block):
                yield from map(self.__getitem__, block)
            else:
                columns = self.columns(first, end)
                yield from (columns.waypoint(row - first) for row in block)

    def in_code_order(self) -> PackedWaypoints:
        """Return the waypoints sorted by code, as the store hands them out."""
        if all(map(le, self.codes, islice(self.codes, 1, None))):
            return self
        return PackedWaypoints.of([self[row] for row in sorted(range(len(self)), key=self.codes.__getitem__)])

    def __len__(self) -> int:
        return len(self.codes)

    def _item(self, index: int) -> Waypoint:
        if self._given is not None:
            return self._given[index]
        values: dict[str, Any] = {name: column[index] for name, column in self._values.items()}
        return Waypoint(
            self.codes[index],
            self.names[index],
            self.position(index),
            identity=self.identities[index],
            typed=self.typed[index],
            **values,
        )


class ByCode(Mapping[str, Waypoint]):
    """Waypoints that stand in order of code, by their codes, without a table of its own."""

    def __init__(self, waypoints: PackedWaypoints) -> None:
        self._waypoints = waypoints

    def __getitem__(self, code: str) -> Waypoint:
        codes = self._waypoints.codes
        row = bisect_left(codes, code)
        if row == len(codes) or codes[row] != code:
            raise KeyError(code)
        return self._waypoints[row]

    def __iter__(self) -> Iterator[str]:
        return iter(self._waypoints.codes)

    def __len__(self) -> int:
        return len(self._waypoints)


def _repeat(column: CodedValues[Any] | PackedTexts[str | None], value: Any, times: int) -> None:
    if isinstance(column, CodedValues):
        column.repeat(value, times)
    else:
        column.extend([None] * times)


def _wide(numbers: array[int]) -> NDArray[np.int64]:
    import numpy as np

    return np.array(numbers, dtype=np.int64)
