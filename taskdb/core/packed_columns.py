"""Waypoints in columns that take little room: a million of them in some hundred megabytes, in order of code.

Texts lie in one run of bytes, values that repeat are kept once, coordinates are plain integers. A waypoint is made
only when a row is asked for. Knows neither tables of a store nor formats.
"""

from __future__ import annotations

from array import array
from collections.abc import Hashable, Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, TypeVar, overload

from taskdb.core.model import Typed

if TYPE_CHECKING:
    pass

T = TypeVar("T")
V = TypeVar("V", bound=Hashable)

_FREE_TEXTS = frozenset(("description", "extras"))
"""Columns of which nearly every value is another: of these nothing is kept once."""
_AT_ONCE = 4_096


class PackedTexts(Sequence[str]):
    """Texts as UTF-8 in one run of bytes; one that is asked for is made anew."""

    __slots__ = ("_bytes", "_ends")

    def __init__(self, batches: Iterable[Sequence[str]] = ()) -> None:
        self._bytes = bytearray()
        self._ends = array("q", (0,))
        for batch in batches:
            self.extend(batch)

    def extend(self, texts: Sequence[str]) -> None:
        """Add texts at the end."""
        end = self._ends[-1]
        for part in [text.encode("utf-8", "surrogatepass") for text in texts]:
            self._bytes += part
            end += len(part)
            self._ends.append(end)

    def __len__(self) -> int:
        return len(self._ends) - 1

    @overload
    def __getitem__(self, index: int) -> str: ...
    @overload
    def __getitem__(self, index: slice) -> list[str]: ...
    def __getitem__(self, index: int | slice) -> str | list[str]:
        if isinstance(index, slice):
            return [self[i] for i in range(*index.indices(len(self)))]
        if not 0 <= index < len(self):
            raise IndexError(index)
        return self._bytes[self._ends[index] : self._ends[index + 1]].decode("utf-8", "surrogatepass")

    def __iter__(self) -> Iterator[str]:
        start, kept = 0, self._bytes
        for end in memoryview(self._ends)[1:]:
            yield kept[start:end].decode("utf-8", "surrogatepass")
            start = end


class PackedTyped(Sequence["Typed | None"]):
    """What was typed, as texts from which it is made when asked for; "" stands for nothing."""
