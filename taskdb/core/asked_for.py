"""Sequences whose items are made only when one is asked for: a million of them are kept as columns."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Sequence
from typing import TypeVar, overload

T_co = TypeVar("T_co", covariant=True)


class AskedFor(Sequence[T_co]):
    """A sequence of which a subclass says how long it is, and makes the item of a number."""

    __slots__ = ()

    @abstractmethod
    def _item(self, index: int) -> T_co:
        """Return the item of a number, counted from the end where it is negative. IndexError beyond the ends."""

    @overload
    def __getitem__(self, index: int) -> T_co: ...
    @overload
    def __getitem__(self, index: slice) -> list[T_co]: ...
    def __getitem__(self, index: int | slice) -> T_co | list[T_co]:
        if isinstance(index, slice):
            return [self._item(i) for i in range(*index.indices(len(self)))]
        return self._item(index)
