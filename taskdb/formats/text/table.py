"""A file as a table before its columns are understood: what every reader of a format hands to `interpret`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from taskdb.core.model import RowProblem
from taskdb.core.notation import Notation

BATCH = 4096
"""Rows are read so many at a time; what holds for the whole file is decided from the first batch."""


@dataclass(slots=True)
class Batch:
    """Some rows of a table: the physical line on which each begins, its cells, and rows that could not be split.

    `longer` are the rows that had more cells than the header, all empty behind: they may have been moved by commas.
    """

    lines: list[int] = field(default_factory=list)
    rows: list[Sequence[str]] = field(default_factory=list)
    broken: list[tuple[RowProblem, tuple[str, ...]]] = field(default_factory=list)
    comments: int = 0
    """Lines that were left out since they begin with #."""
    longer: list[int] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class RawTable:
    """A table before its columns are understood.

    `fixed` gives the columns that the format itself names, `notation` the one that it prescribes. In a format where
    people put short codes into the name, `names_may_be_codes`. `others`: what is only kept, and can be named as a
    column.
    """

    format: str
    encoding: str | None
    delimiter: str | None
    headers: tuple[str, ...]
    batches: Iterator[Batch]
    notes: tuple[str, ...] = ()
    fixed: Mapping[str, int] = field(default_factory=dict)
    notation: Notation | None = None
    decimal: str | None = None
    names_may_be_codes: bool = False
    others: tuple[str, ...] = ()
