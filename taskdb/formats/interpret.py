"""Rows of cells to records: which column is what, in which notation, every cell read, every problem told.

The one place where a table becomes waypoints, whatever the format it came from. Works in batches of columns, which
is what makes a million rows take seconds; nothing is decided row by row.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Generator, Iterator, Sequence
from itertools import chain
from typing import Any

from taskdb.core.model import E7, RowProblem
from taskdb.core.names import clean_text, code_problem
from taskdb.core.notation import Axis, Decision, Notation, Trouble, decide, read_column
from taskdb.errors import InputError, UsageError
from taskdb.formats import cells
from taskdb.formats.delimited import Batch, RawTable
from taskdb.formats.headers import Assignment, assign
from taskdb.formats.intake import Decided, ReadOptions, Records, Reject, SetReading

_SAMPLE_BATCHES = 1
_CACHE = 20_000
"""Cells read before are not read again, up to this many different ones a column."""
_PLAIN_CODE = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_./-]{0,99}").fullmatch
_NO_CODE = re.compile(r"[\s:,@=]+")
_MODEL_FIELD = {"latitude_deg": "position", "longitude_deg": "position", "elevation": "elevation_m", "kind": "landable"}


def interpret(table: RawTable, options: ReadOptions) -> SetReading:
    """Return the records of a table with the problems of all its rows.

    Raises InputError where no row can be read: no column for code or position, an ambiguous notation, elevations
    without a unit.
    """
    try:
        first = list(_take(table.batches, _SAMPLE_BATCHES))
        return _Interpreter(table, options, first).run()
    finally:
        # A refusal leaves the rows half read; what reads them lets go of the stream here, not some time later.
        if isinstance(table.batches, Generator):
            table.batches.close()


def _take(batches: Iterator[Batch], count: int) -> Iterator[Batch]:
    for _, batch in zip(range(count), batches, strict=False):
        yield batch


def _notation(text: str | None) -> Notation | None:
    if text is None:
        return None
    try:
        return Notation(text)
    except ValueError:
        raise UsageError(
            "unknown-notation", f"{text!r} is no notation.", hint=f"Notations: {', '.join(Notation)}."
        ) from None


def _code_of_name(name: str) -> str:
    """Return a code made of a name: what a code cannot hold becomes an underscore."""
    return _NO_CODE.sub("_", name.strip()).lstrip("-")


class _Interpreter:
    """One reading of one table; a batch at a time, a column at a time."""

    def __init__(self, table: RawTable, options: ReadOptions, first: list[Batch]) -> None:
        self.table, self.options, self.first = table, options, first
        self.headers = table.headers
        self.assignment = self._assign()
        self.has_names = "name" in self.assignment.columns
        self.codes_from = self._codes_from()
        self.decision = self._decide()
        self.elevation_unit = options.elevation_unit or self.assignment.units.get("elevation")
        self.columns = self._value_columns()
        self.records = Records(self._given(), self.decision.notation.value, self.elevation_unit)
        self.problems: list[RowProblem] = []
        self.rejects: list[Reject] = []
        self.read = 0
        self.seen: set[str] = set()
        self.line_of: dict[str, int] | None = None
        self.rejected_codes: dict[str, int] = {}
        self.unknown_words: Counter[tuple[str, str]] = Counter()
        self._elevation_cache: dict[str, tuple[float | None, str | None] | Trouble] = {}
        self._caches: dict[str, dict[str, Any]] = {}

    # What is decided before the first row

    def _assign(self) -> Assignment:
        if self.table.fixed and not self.options.columns:
            return Assignment(dict(self.table.fixed), {"elevation": "m"})
        return assign(self.headers, self.options.columns)

    def _sample(self, column: int) -> list[str]:
        return [row[column].strip() for batch in self.first for row in batch.rows]

    def _decide(self) -> Decision:
        columns = self.assignment.columns
        for name in ("latitude_deg", "longitude_deg"):
            if name not in columns:
                raise InputError(
                    "no-position",
                    f"The file has no column for the {name.removesuffix('_deg')}: its columns are "
                    f"{', '.join(self.headers)}.",
                    hint="Say which: --column latitude=HEADER --column longitude=HEADER.",
                    details={"columns": list(self.headers)},
                )
        letter = self.options.letter_o
        return decide(
            self._sample(columns["latitude_deg"]),
            self._sample(columns["longitude_deg"]),
            wanted=_notation(self.options.notation),
            letter_o=None if letter is None else {"east": "E", "west": "W"}.get(letter, letter),
        )

    def _codes_from(self) -> int | str:
        """Return the column of the codes, or `name` or `number`."""
        told = self.options.codes
        columns = self.assignment.columns
        if told is None:
            if "code" in columns:
                return columns["code"]
            raise InputError(
                "no-codes",
                "The file has no column for the code of a waypoint.",
                hint="Say where codes come from: --column code=HEADER, --codes name or --codes number.",
                details={"columns": list(self.headers)},
            )
        if told == "number":
            return told
        if told == "name":
            if not self.has_names:
                raise InputError("no-names", "The file has no names to make codes of.", hint="Use --codes number.")
            return told
        return assign(self.headers, {"code": told}).columns["code"]

    def _given(self) -> frozenset[str]:
        names = {_MODEL_FIELD.get(name, name) for name in ("code", "latitude_deg")} | set(self.columns)
        if self.has_names:
            names.add("name")
        if "elevation" in self.assignment.columns:
            names.add("elevation_m")
        return frozenset(names - {"extras"})

    def _value_columns(self) -> dict[str, tuple[int, Callable[[str], Any]]]:
        """Return the columns that are read cell by cell: where each stands and what reads it."""
        readers: dict[str, Callable[[str], Any]] = {
            "landable": cells.read_landable,
            "feature": cells.read_feature,
            "country": cells.read_text,
            "radio": cells.read_radio,
            "runways": cells.read_runways,
            "description": cells.read_text,
            "source": cells.read_text,
            "inspected_on": cells.read_date,
            "identity": cells.read_text,
            "extras": lambda text: text or None,
        }
        columns = self.assignment.columns
        return {name: (columns[name], read) for name, read in readers.items() if name in columns}

    # A batch of rows

    def run(self) -> SetReading:
        for batch in chain(self.first, self.table.batches):
            self.first = []
            for problem, row in batch.broken:
                self.problems.append(problem)
                self.rejects.append(Reject(problem.line, row))
            self.read += len(batch.rows) + len(batch.broken)
            if batch.rows:
                self._take(batch)
        if not self.read:
            raise InputError("empty-file", "The file has a header and no rows.", hint="Give a file with waypoints.")
        self.problems.sort(key=lambda problem: problem.line)
        self.rejects.sort(key=lambda reject: reject.line)
        return SetReading(
            records=self.records,
            problems=tuple(self.problems),
            decided=self._decided(),
            read=self.read,
            header=self.headers,
            rejects=tuple(self.rejects),
        )

    def _take(self, batch: Batch) -> None:
        columns = list(zip(*batch.rows, strict=True))
        at = self.assignment.columns
        bad: set[int] = set()
        found: list[RowProblem] = []

        def tell(i: int, field: str, value: str, trouble: Trouble) -> None:
            bad.add(i)
            found.append(RowProblem(batch.lines[i], field, value, trouble.code, trouble.message, trouble.suggestion))

        names = [clean_text(cells.restore(text)) for text in columns[at["name"]]] if self.has_names else None
        codes = self._codes(columns, names, batch, tell)
        texts = [[text.strip() for text in columns[at[name]]] for name in ("latitude_deg", "longitude_deg")]
        latitudes = read_column(texts[0], Axis.LATITUDE, self.decision)
        longitudes = read_column(texts[1], Axis.LONGITUDE, self.decision)
        for name, own, reading in zip(("latitude_deg", "longitude_deg"), texts, (latitudes, longitudes), strict=True):
            for i, trouble in reading.troubles:
                tell(i, name, own[i], trouble)
        elevations, typed = self._elevations(columns, tell)
        values = self._values(columns, tell)
        east = [x - 360 * E7 if x >= 180 * E7 else x for x in longitudes.values_e7]
        decimals = list(map(max, latitudes.decimals, longitudes.decimals))
        coordinates = list(map("\t".join, zip(*texts, strict=True)))
        keep = range(len(batch.rows)) if not bad else [i for i in range(len(batch.rows)) if i not in bad]
        records = self.records

        def kept(column: Sequence[Any]) -> Sequence[Any]:
            return [column[i] for i in keep] if bad else column

        records.lines.extend(kept(batch.lines))
        records.codes.extend(kept(codes))
        records.names.extend(kept(codes if names is None else names))
        records.latitudes_e7.extend(kept(latitudes.values_e7))
        records.longitudes_e7.extend(kept(east))
        records.decimals.extend(min(d, 255) for d in kept(decimals))
        records.coordinates.extend(kept(coordinates))
        if typed is not None:
            records.elevations.extend(kept(typed))
            records.values.setdefault("elevation_m", []).extend(kept(elevations))
        for name, column in values.items():
            records.values.setdefault(name, []).extend(kept(column))
        self.problems += found
        for i in sorted(bad):
            self.rejects.append(Reject(batch.lines[i], tuple(batch.rows[i])))
            self.rejected_codes.setdefault(codes[i], batch.lines[i])

    def _codes(
        self, columns: Sequence[Sequence[str]], names: list[str] | None, batch: Batch, tell: Callable[..., None]
    ) -> list[str]:
        """Return the codes of a batch; what is no code, and a code that stands already, is told."""
        source = self.codes_from
        if isinstance(source, int):
            texts: Sequence[str] = columns[source]
            codes = [text if _PLAIN_CODE(text) else clean_text(cells.restore(text)) for text in texts]
        elif source == "name":
            texts = names or []
            codes = [_code_of_name(name) for name in texts]
        else:
            first = len(self.records) + len(self.rejected_codes)
            texts = codes = [f"{first + i + 1:03d}" for i in range(len(batch.rows))]
        for i, code in enumerate(codes):
            if not _PLAIN_CODE(code):
                problem = code_problem(code)
                if problem is not None:
                    tell(i, "code", texts[i], Trouble("bad-code", problem, _code_of_name(code) or None))
        if len(set(codes)) < len(codes) or not self.seen.isdisjoint(codes):
            self._repeated(codes, batch.lines, tell)
        self.seen.update(codes)
        if self.line_of is not None:
            for code, line in zip(codes, batch.lines, strict=True):
                self.line_of.setdefault(code, line)
        return codes

    def _repeated(self, codes: list[str], lines: list[int], tell: Callable[..., None]) -> None:
        """Tell each code that stands on an earlier line, on its later line."""
        if self.line_of is None:
            self.line_of = dict(self.rejected_codes)
            for code, line in zip(self.records.codes, self.records.lines, strict=True):
                self.line_of.setdefault(code, line)
        here: dict[str, int] = {}
        for i, code in enumerate(codes):
            earlier = self.line_of.get(code) or here.get(code)
            if earlier is None:
                here[code] = lines[i]
            elif code:
                message = f"the code {code} stands already on line {earlier}"
                tell(i, "code", code, Trouble("repeated-code", message))

    def _elevations(
        self, columns: Sequence[Sequence[str]], tell: Callable[..., None]
    ) -> tuple[list[float | None], list[str | None] | None]:
        """Return elevations in metres and as typed, or nothing where the file has none."""
        at = self.assignment.columns.get("elevation")
        if at is None:
            return [], None
        unit, decimal = self.elevation_unit, self._decimal_sign()
        known: dict[str, tuple[float | None, str | None] | Trouble] = self._elevation_cache
        values: list[float | None] = []
        typed: list[str | None] = []
        for i, cell in enumerate(columns[at]):
            read = known.get(cell)
            if read is None:
                text = cell.strip()
                result = cells.read_elevation(text, unit, decimal) if text else (None, None)
                read = result if isinstance(result, Trouble) else (result[0], text or None)
                if len(known) < _CACHE:
                    known[cell] = read
            if isinstance(read, Trouble):
                if read.code == "missing-unit":
                    raise self._no_unit(at)
                tell(i, "elevation_m", cell, read)
                values.append(None)
                typed.append(None)
            else:
                values.append(read[0])
                typed.append(read[1])
        return values, typed

    def _no_unit(self, at: int) -> InputError:
        return InputError(
            "missing-unit",
            f"The elevations in the column {self.headers[at]!r} have no unit: metres or feet?",
            hint="Say which: --elevation-unit m or --elevation-unit ft.",
            details={"column": self.headers[at]},
        )

    def _values(self, columns: Sequence[Sequence[str]], tell: Callable[..., None]) -> dict[str, list[Any]]:
        """Return the other fields of a batch by the model's name."""
        result: dict[str, list[Any]] = {}
        for name, (at, read) in self.columns.items():
            known = self._caches.setdefault(name, {"": () if name in ("radio", "runways") else None})
            values: list[Any] = []
            for i, cell in enumerate(columns[at]):
                if cell in known:
                    value = known[cell]
                else:
                    value = read(cell.strip()) if cell.strip() else known[""]
                    if len(known) < _CACHE:
                        known[cell] = value
                if isinstance(value, Trouble):
                    tell(i, name, cell, value)
                    value = known[""]
                elif value is None and cell and cell.strip() and name in ("landable", "feature"):
                    self.unknown_words[name, cell.strip()] += 1
                values.append(value)
            result[name] = values
        return result

    # What is told at the end

    def _decimal_sign(self) -> str | None:
        return self.table.decimal

    def _decided(self) -> Decided:
        columns = {
            ("elevation_m" if name == "elevation" else name): self.headers[at]
            for name, at in self.assignment.columns.items()
            if name != "extras"
        }
        notes = list(self.table.notes)
        if self.codes_from in ("name", "number"):
            notes.append(f"codes made of the row's {self.codes_from}")
        for (name, word), count in sorted(self.unknown_words.items()):
            notes.append(f"{name}: the word {word!r} is not known and was left out ({count} rows)")
        return Decided(
            format=self.table.format,
            encoding=self.table.encoding,
            delimiter=self.table.delimiter,
            notation=self.decision.notation.value,
            columns=columns,
            ignored=tuple(self.assignment.ignored),
            notes=tuple(notes),
        )
