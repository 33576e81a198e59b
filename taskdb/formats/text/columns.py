"""A column of values in which few are different: two bytes a row, and each different value once.

A million rows with nine such columns take 18 MB instead of 72 MB; a column with very many different values becomes a
plain list by itself.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any, overload

_MOST = 1 << 16


class _Index(dict[Any, int]):
    """The number of each different value; a new value gets the next one."""

    def __missing__(self, value: Any) -> int:
        number = len(self)
        self[value] = number
        return number


class Column(Sequence[Any]):
    """A sequence that grows at its end. Values are hashable."""

    __slots__ = ("_index", "_numbers", "_plain", "_values")

    def __init__(self) -> None:
        self._index = _Index()
        self._values: list[Any] = []
        self._numbers = array("H")
        self._plain: list[Any] | None = None

    def extend(self, values: Iterable[Any]) -> None:
        """Append values."""
        if self._plain is not None:
            self._plain.extend(values)
            return
        index = self._index
        numbers = list(map(index.__getitem__, values))
        if len(index) > _MOST:
            table = list(index)
            self._plain = [self._values[n] for n in self._numbers] + [table[n] for n in numbers]
            self._index, self._values, self._numbers = _Index(), [], array("H")
            return
        if len(index) > len(self._values):
            self._values = list(index)
        self._numbers.extend(numbers)

    def mapped(self, change: Callable[[Any], Any]) -> Column:
        """Return a column of changed values; each different one is changed once."""
        result = Column()
        if self._plain is not None:
            changed = {value: change(value) for value in set(self._plain)}
            result.extend(changed[value] for value in self._plain)
            return result
        values = [change(value) for value in self._values]
        result.extend(map(values.__getitem__, self._numbers))
        return result

    def at(self, rows: Sequence[int]) -> list[Any]:
        """Return the values of these rows."""
        if isinstance(rows, range) and rows.step == 1:
            return list(self[rows.start : rows.stop])
        if self._plain is not None:
            return [self._plain[i] for i in rows]
        values, numbers = self._values, self._numbers
        return [values[numbers[i]] for i in rows]

    def __len__(self) -> int:
        return len(self._numbers) if self._plain is None else len(self._plain)

    @overload
    def __getitem__(self, index: int) -> Any: ...
    @overload
    def __getitem__(self, index: slice) -> list[Any]: ...
    def __getitem__(self, index: int | slice) -> Any:
        if self._plain is not None:
            return self._plain[index]
        if isinstance(index, slice):
            return [self._values[n] for n in self._numbers[index]]
        return self._values[self._numbers[index]]

    def __iter__(self) -> Iterator[Any]:
        if self._plain is not None:
            return iter(self._plain)
        return map(self._values.__getitem__, self._numbers)
