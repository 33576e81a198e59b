"""A file as a table before its columns are understood: what every reader of a format hands to `interpret`.

Also points that a format gave one by one, each with its own fields, made such a table.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import overload

from taskdb.core.model import RowProblem
from taskdb.core.names import fold
from taskdb.core.notation import Notation
from taskdb.formats.text.cells import neutralise
from taskdb.formats.text.headers import recognise
from taskdb.formats.text.intake import ReadOptions

BATCH = 4096
"""Rows are read so many at a time; what holds for the whole file is decided from the first batch."""


class RowsInColumns(Sequence[Sequence[str]]):
    """Rows, one or more, that were read as columns: for a million of them no row has to be made."""

    __slots__ = ("columns",)

    def __init__(self, columns: list[Sequence[str]]) -> None:
        self.columns = columns

    def __len__(self) -> int:
        return len(self.columns[0])

    @overload
    def __getitem__(self, index: int) -> Sequence[str]: ...
    @overload
    def __getitem__(self, index: slice) -> list[Sequence[str]]: ...
    def __getitem__(self, index: int | slice) -> Sequence[str] | list[Sequence[str]]:
        if isinstance(index, slice):
            return [*RowsInColumns([column[index] for column in self.columns])]
        return tuple(column[index] for column in self.columns)

    def __iter__(self) -> Iterator[Sequence[str]]:
        return zip(*self.columns, strict=True)


@dataclass(slots=True)
class Batch:
    """Some rows of a table: the physical line on which each begins, its cells, and rows that could not be split.

    `longer` are the rows that had more cells than the header, all empty behind: they may have been moved by commas.
    """

    lines: list[int] = field(default_factory=list)
    rows: list[Sequence[str]] | RowsInColumns = field(default_factory=list)
    broken: list[tuple[RowProblem, tuple[str, ...]]] = field(default_factory=list)
    comments: int = 0
    """Lines that were left out since they begin with #."""
    longer: list[int] = field(default_factory=list)

    def columns(self) -> list[Sequence[str]]:
        """Return the cells of the rows, one or more, column by column."""
        rows = self.rows
        return rows.columns if isinstance(rows, RowsInColumns) else list(zip(*rows, strict=True))


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


EXTRAS = "extras"
_MOST_OTHERS = 40
_FIXED = {"latitude_deg", "longitude_deg", "elevation_m", "identity"}


@dataclass(frozen=True, slots=True)
class Gathered:
    """A point: the line on which it begins, its cells by header, and what is kept of the rest.

    The headers `latitude_deg`, `longitude_deg`, `elevation_m` are ours and mean decimal degrees and metres.
    """

    line: int
    cells: dict[str, str]
    extras: str = ""
    problem: RowProblem | None = None


class ToldHeaders:
    """The headers that a person named with `--column`: what a format would only keep becomes a column under them.

    `others` are those that were asked for in vain, to be told where none was named and one is missing.
    """

    def __init__(self, options: ReadOptions) -> None:
        told = [header.strip() for header in (*options.columns.values(), options.codes or "")]
        self._headers = {header for header in told if header}
        self._folded = {fold(header) for header in told} - {""}
        self.others: dict[str, None] = {}

    def __contains__(self, header: str) -> bool:
        if header in self._headers or (bool(self._folded) and fold(header) in self._folded):
            return True
        if header not in self.others and len(self.others) < _MOST_OTHERS:
            self.others[header] = None
        return False

    def __bool__(self) -> bool:
        return bool(self._headers)


def count_words(found: Counter[str]) -> str:
    """Return e.g. `2 lines, 1 area`, where `line(s)` and `area(s)` were counted, in order of their names."""
    words = ((name.replace("(s)", "" if count == 1 else "s"), count) for name, count in sorted(found.items()) if count)
    return ", ".join(f"{count:,} {name}" for name, count in words)


def gathered_table(
    points: Sequence[Gathered],
    *,
    format: str,
    encoding: str | None,
    notes: tuple[str, ...] = (),
    notation: Notation | None = None,
    named: ToldHeaders | None = None,
) -> RawTable:
    """Return points as a table: a column for every header that any of them has a value under, ours always."""
    headers = ["latitude_deg", "longitude_deg"]
    filled = {name for point in points for name, cell in point.cells.items() if cell}
    own = {name for point in points for name in point.cells} if any("code" in p.cells for p in points) else filled
    for point in points:
        for name in point.cells:
            if name not in headers and (name in filled or (name in own and recognise(name) is not None)):
                headers.append(name)
    fixed = {
        name.removesuffix("_m") if name == "elevation_m" else name: headers.index(name)
        for name in _FIXED & set(headers)
    }
    if any(point.extras for point in points):
        fixed[EXTRAS] = len(headers)
        headers.append(EXTRAS)
    return RawTable(
        format=format,
        encoding=encoding,
        delimiter=None,
        headers=tuple(headers),
        batches=_batches(points, headers, EXTRAS in fixed),
        notes=notes,
        fixed=fixed,
        notation=notation,
        decimal=".",
        names_may_be_codes=True,
        others=() if named is None else tuple(named.others),
    )


def _batches(points: Sequence[Gathered], headers: list[str], has_extras: bool) -> Iterator[Batch]:
    names = headers[:-1] if has_extras else headers
    for start in range(0, len(points), BATCH):
        batch = Batch()
        rows: list[Sequence[str]] = []
        for point in points[start : start + BATCH]:
            # Only a table's cells carry the apostrophe against formulas: what looks so here is the text itself.
            cells = [(name, point.cells.get(name, "")) for name in names]
            row = [cell if name in _FIXED else neutralise(cell) for name, cell in cells]
            if has_extras:
                row.append(point.extras)
            if point.problem is not None:
                batch.broken.append((point.problem, tuple(row)))
            else:
                batch.lines.append(point.line)
                rows.append(row)
        batch.rows = rows
        yield batch
