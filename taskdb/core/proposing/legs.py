"""Figures of legs between places, computed when they are first asked for: thousands of courses share their legs."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]
AnyInts = Ints | npt.NDArray[np.int32]
Measure = Callable[[Ints, Ints], Floats]
"""The figures of many legs, from the numbers of their ends."""


class LegTable:
    """A figure of every leg between `count` places, kept once computed, four bytes each; place -1 is home.

    `measure` returns the figures of many legs from their beginnings and ends; it is asked once for each leg, and
    where `both_ways` once for either direction. Of a leg of which nothing is known it returns inf, never NaN.
    """

    def __init__(self, count: int, measure: Measure, *, both_ways: bool) -> None:
        self._size = count + 1
        self._measure = measure
        self._both_ways = both_ways
        self._kept: npt.NDArray[np.float32] | None = None

    def of(self, begin: AnyInts, end: AnyInts) -> Floats:
        """Return the figures of legs, of the shape of `begin` and `end`."""
        if self._kept is None:
            self._kept = np.full(self._size * self._size, np.nan, dtype=np.float32)
        keys = self._keys(begin, end)
        found = self._kept[keys]
        missing = np.unique(keys[np.isnan(found)])
        if len(missing):
            self._kept[missing] = self._measure(*self._places(missing))
            found = self._kept[keys]
        return found.astype(np.float64)

    def _keys(self, begin: AnyInts, end: AnyInts) -> Ints:
        a, b = begin % self._size, end % self._size  # -1 becomes the last
        if self._both_ways:
            a, b = np.minimum(a, b), np.maximum(a, b)
        keys: Ints = a * self._size + b
        return keys

    def _places(self, keys: Ints) -> tuple[Ints, Ints]:
        begin, end = np.divmod(keys, self._size)
        last = self._size - 1
        return np.where(begin == last, -1, begin), np.where(end == last, -1, end)
