"""Rows of cells to records: which column is what, in which notation, every cell read, every problem told.

The one place where a table becomes waypoints, whatever the format it came from. Works in batches of columns, which
is what makes a million rows take seconds; nothing is decided row by row.
"""

from __future__ import annotations

import re
from collections.abc import Generator, Sequence
from itertools import chain
from typing import Any

from taskdb.core.collecting import without_collecting
from taskdb.core.model import RowProblem
from taskdb.core.notation import Trouble
from taskdb.core.numbers import counted
from taskdb.errors import InputError, UsageError
from taskdb.formats.limits import require_rows
from taskdb.formats.text.cells import restore_all
from taskdb.formats.text.codes import Codes, Tell, source_of_codes
from taskdb.formats.text.columns import Column
from taskdb.formats.text.headers import assign
from taskdb.formats.text.intake import Decided, ReadOptions, Records, Reject, SetReading
from taskdb.formats.text.left_aside import empty_parts, require_nothing_left
from taskdb.formats.text.parts import label
from taskdb.formats.text.positions import Positions
from taskdb.formats.text.table import Batch, RawTable
from taskdb.formats.text.values import Values

_SAMPLE = 500
"""Rows whose cells are looked at to tell what a column holds."""
_COMMA_DECIMALS = re.compile(r"\d,\d")


def interpret(table: RawTable, options: ReadOptions) -> SetReading:
    """Return the records of a table with the problems of all its rows.

    Raises InputError where no row can be read: no column for code or position, an ambiguous notation, elevations
    without a unit.
    """
    try:
        # What holds for the file is decided from the first rows; those that do not fit are told one by one.
        first = next(table.batches, None)
        if first is None:
            raise InputError("empty-file", "The file holds no waypoints.", hint="Give a file with waypoints.")
        with without_collecting():
            return _Interpreter(table, options, first).run()
    finally:
        # A refusal leaves the rows half read; what reads them lets go of the stream here, not some time later.
        if isinstance(table.batches, Generator):
            table.batches.close()


def _decimal_sign(options: ReadOptions, table: RawTable, coordinates: Sequence[str]) -> str | None:
    told = options.decimal or table.decimal
    if told is not None:
        signs = {",": ",", "comma": ",", ".": ".", "point": "."}
        if told not in signs:
            raise UsageError("bad-decimal", f"{told!r} is no decimal sign.", hint="Use comma or point.")
        return signs[told]
    return "," if any(_COMMA_DECIMALS.search(text) for text in coordinates) else None


class _Interpreter:
    """One reading of one table; a batch at a time, a column at a time."""

    def __init__(self, table: RawTable, options: ReadOptions, first: Batch) -> None:
        self.table, self.first = table, first
        self.headers = table.headers
        sample = first.rows[:_SAMPLE]
        self.assignment = assign(self.headers, options.columns, table.fixed, sample, table.others)
        if not table.fixed and options.profile is None:
            require_nothing_left(self.headers, self.assignment, sample)
        self.empty = () if table.fixed else empty_parts(self.headers, self.assignment)
        self.name_column = self.assignment.columns.get("name")
        names = (
            [row[self.name_column].strip() for row in first.rows]
            if table.names_may_be_codes and self.name_column is not None
            else []
        )
        source = source_of_codes(options.codes, self.assignment, self.headers, names, table.others)
        self.positions = Positions(self.assignment, self.headers, first.rows, options, table.notation)
        coordinates = [row[column] for row in first.rows[:500] for column in self.positions.columns]
        self.values = Values(self.assignment, self.headers, options, _decimal_sign(options, table, coordinates))
        given = {"code", "position"} | self.values.given() | ({"name"} if self.name_column is not None else set())
        self.records = Records(frozenset(given), self.positions.decision.notation.value, self.values.elevation_unit)
        self.codes = Codes(source, self.records)
        self.problems: list[RowProblem] = []
        self.rejects: list[Reject] = []
        self.read = self.comments = self.by_signs = 0

    def run(self) -> SetReading:
        for batch in chain((self.first,), self.table.batches):
            self.read += len(batch.rows) + len(batch.broken)
            self.comments += batch.comments
            for problem, row in batch.broken:
                self.problems.append(problem)
                self.rejects.append(Reject(problem.line, row))
            if batch.rows:
                self._take(batch)
            require_rows(self.read, self.problems)
        self.problems.sort(key=lambda problem: problem.line)
        self.rejects.sort(key=lambda reject: reject.line)
        return SetReading(
            records=self.records,
            problems=tuple(self.problems),
            decided=self._decided(),
            read=self.read,
            header=self.headers,
            rejects=tuple(self.rejects),
            joins=self.assignment.joins,
        )

    def _take(self, batch: Batch) -> None:
        """Read a batch column by column, and keep the rows in which nothing is wrong."""
        columns = batch.columns()
        bad: set[int] = set()
        found: list[RowProblem] = []

        def tell(i: int, field: str | None, value: str | None, trouble: Trouble) -> None:
            bad.add(i)
            line = batch.lines[i]
            found.append(RowProblem(line, field, value, trouble.code, trouble.message, trouble.suggestion))

        names = None
        if self.name_column is not None:
            names = restore_all(columns[self.name_column])
        codes = self.codes.read(columns, names, batch.lines, tell)
        placed = self.positions.read(columns, tell)
        self.by_signs += placed.by_signs
        for at in self.empty:
            if any(columns[at]):
                self._tell_filled(at, columns, tell)
        if batch.longer and self.table.delimiter == "comma":
            self._tell_moved(batch, columns, tell)
        elevations = self.values.elevations(columns, tell)
        values = self.values.read(columns, tell)
        if elevations is not None:
            values["elevation_m"] = elevations[0]
        keep = [i for i in range(len(batch.rows)) if i not in bad] if bad else None

        def kept(column: Sequence[Any]) -> Sequence[Any]:
            return column if keep is None else [column[i] for i in keep]

        records = self.records
        records.lines.extend(kept(batch.lines))
        records.codes.extend(kept(codes))
        records.names.extend(kept(codes if names is None else names))
        records.latitudes_e7.extend(kept(placed.latitudes_e7))
        records.longitudes_e7.extend(kept(placed.longitudes_e7))
        decimals = kept(placed.decimals)
        records.decimals.extend(
            decimals if max(decimals, default=0) <= 255 else [min(count, 255) for count in decimals]
        )
        records.coordinates.extend(kept(placed.coordinates))
        if elevations is not None:
            records.elevations.extend(kept(elevations[1]))
        for name, column in values.items():
            records.values.setdefault(name, Column()).extend(kept(column))
        self.problems += found
        for i in sorted(bad):
            self.rejects.append(Reject(batch.lines[i], tuple(batch.rows[i])))
            self.codes.rejected.setdefault(codes[i], batch.lines[i])

    def _tell_filled(self, at: int, columns: Sequence[Sequence[str]], tell: Tell) -> None:
        """Tell rows that have a part of a coordinate in a column that was empty where the columns were decided."""
        message = f"the column {self.headers[at]!r} was empty in the first rows, and may be part of the coordinate"
        for i, cell in enumerate(columns[at]):
            if cell.strip():
                tell(i, None, cell, Trouble("split-coordinates", message))

    def _tell_moved(self, batch: Batch, columns: Sequence[Sequence[str]], tell: Tell) -> None:
        """Tell rows that have too many cells and whole degrees: their decimal commas may have parted them."""
        behind = max(self.positions.columns) + 1
        for i in batch.longer if behind < len(columns) else ():
            cells = [columns[at][i].strip() for at in (*self.positions.columns, behind)]
            if all(cell.lstrip("+-").isdigit() for cell in cells):
                message = "it has more cells than the header, and whole degrees: a decimal comma needs quotes"
                tell(i, None, None, Trouble("cell-count", message))

    def _decided(self) -> Decided:
        columns = {
            ("elevation_m" if name == "elevation" else name): self.headers[at]
            for name, at in self.assignment.columns.items()
            if name != "extras"
        }
        joined = {
            name: tuple(label(self.headers, at) for at in join.columns) for name, join in self.assignment.joins.items()
        }
        columns |= {name: "+".join(labels) for name, labels in joined.items()}
        notes = [*self.table.notes, *map(self._joined_note, self.assignment.joins)]
        if self.comments:
            notes.append(f"{counted(self.comments, 'comment line')} (#) left aside")
        if self.name_column is None:
            of = f", of {', '.join(self.table.others)}" if self.table.others else ""
            notes.append(
                f"no column for the name: every waypoint bears its code; --column name=HEADER says which it is{of}"
            )
        source = self.codes.source
        if isinstance(source, int):
            columns["code"] = self.headers[source]
        else:
            notes.append("codes made of the names" if source == "name" else "codes are the rows' numbers")
        if self.by_signs:
            rows = "1 row is" if self.by_signs == 1 else f"{self.by_signs} rows are"
            notes.append(f"{rows} in another notation than the others and read by their own signs")
        return Decided(
            format=self.table.format,
            encoding=self.table.encoding,
            delimiter=self.table.delimiter,
            notation=self.positions.decision.notation.value,
            columns=columns,
            ignored=tuple(self.assignment.ignored),
            notes=(*notes, *self.values.notes()),
            joined=joined,
        )

    def _joined_note(self, name: str) -> str:
        """Say which columns were made one coordinate."""
        join = self.assignment.joins[name]
        named = [self.headers[at] or f"#{at + 1}" for at in join.columns]
        if join.side is not None:
            return f"{name}: {join.side} in every row, as the header {named[0]!r} says"
        parts = [f" ({part.value})" for part in join.parts] or [""] * len(named)
        shown = [f"{header!r}{part}" for header, part in zip(named, parts, strict=True)]
        return f"{name} joined from {', '.join(shown[:-1])} and {shown[-1]}"
