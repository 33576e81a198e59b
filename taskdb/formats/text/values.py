"""The other fields of a file's rows, column by column: elevations with their unit, words, radio, runways, dates, text.

What decides a whole column (a unit, what a heading refers to) is refused for the file; what is wrong in one cell is
told for its row.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from typing import Any

from taskdb.core.model import Feature, Landable, Runway
from taskdb.core.notation import Trouble
from taskdb.core.numbers import counted
from taskdb.core.pasted import quoted_words
from taskdb.errors import InputError, UsageError
from taskdb.formats.text import cells
from taskdb.formats.text.codes import Tell
from taskdb.formats.text.headers import Assignment
from taskdb.formats.text.intake import ReadOptions

_FINER = re.compile(r"[.,]\d+?[1-9](?!\d*\s*f)", re.IGNORECASE)
"""More than one decimal, and not of feet, which are no round metres anyway."""
_MOST_WORDS_TOLD = 8
_CACHE = 20_000
"""Cells read before are not read again, up to this many different ones a column."""

_READERS: dict[str, Callable[[str], Any]] = {
    "landable": cells.read_landable,
    "feature": cells.read_feature,
    "kind": lambda text: cells.read_landable(text) or cells.read_feature(text),
    "country": cells.read_text,
    "radio": cells.read_radio,
    "runways": cells.read_runways,
    "runway_designator": cells.read_designator,
    "runway_heading": cells.read_heading,
    "runway_surface": cells.read_text,
    "description": cells.read_remark,
    "source": cells.read_text,
    "inspected_on": cells.read_date,
    "identity": cells.read_text,
    "extras": lambda text: text if text.startswith("{") and text.endswith("}") else None,
}
_WORDS = ("landable", "feature", "kind")
_PARTS = ("runway_designator", "runway_heading", "runway_length", "runway_width", "runway_surface")
_LISTS = ("radio", "runways")


class _ReadCells(dict[str, Any]):
    """The cells of a column that were read, so that the many equal ones are read once; `nothing` for empty ones."""

    def __init__(self, read: Callable[[str], Any], nothing: Any) -> None:
        super().__init__()
        self.read, self.nothing, self.has_trouble = read, nothing, False

    def learn(self, column: Sequence[str]) -> None:
        """Read the cells of a column of plain text that were not read yet, all at once: they may all be different."""
        new = list(set(column).difference(self))
        if len(self) + len(new) > _CACHE:
            self.clear()
            new = list(set(column))
        self.update(zip(new, (text or self.nothing for text in cells.restore_all(new)), strict=True))

    def __missing__(self, cell: str) -> Any:
        text = cells.restore(cell).strip()
        value = self.read(text) if text else self.nothing
        if isinstance(value, Trouble):
            self.has_trouble = True
        if len(self) < _CACHE:
            self[cell] = value
        return value


class Values:
    """How the other fields are read in one file."""

    def __init__(
        self, assignment: Assignment, headers: Sequence[str], options: ReadOptions, decimal: str | None
    ) -> None:
        self.columns = {name: at for name, at in assignment.columns.items() if name in _READERS or name in _PARTS}
        self.headers = headers
        self.decimal = decimal
        self.elevation_column = assignment.columns.get("elevation")
        self.elevation_unit = _told_unit(options.elevation_unit) or assignment.units.get("elevation")
        self.units = assignment.units
        self.unknown_words: Counter[tuple[str, str]] = Counter()
        self.finer: set[str] = set()
        """Elevations with more than the one decimal that is kept."""
        self.rounded = self.folded_lines = 0
        self._caches: dict[str, _ReadCells] = {}
        if "runways" in self.columns:
            for part in _PARTS:
                self.columns.pop(part, None)
        self.has_parts = any(part in self.columns for part in _PARTS)
        self.heading = options.heading or self.units.get("runway_heading")
        if "runway_heading" in self.columns and self.heading not in ("true", "magnetic"):
            raise InputError(
                "heading-reference",
                f"The headings in the column {headers[self.columns['runway_heading']]!r} may be true or magnetic.",
                hint="Say which: --heading true or --heading magnetic.",
                details={"ways": [["--heading", "true"], ["--heading", "magnetic"]]},
            )

    def given(self) -> set[str]:
        """Return the model's fields that the file has a column for, among those read here."""
        names = {name for name in self.columns if name not in (*_PARTS, "kind", "extras")}
        if self.has_parts:
            names.add("runways")
        if "kind" in self.columns:
            names |= {"landable", "feature"}
        if self.elevation_column is not None:
            names.add("elevation_m")
        return names

    def elevations(
        self, columns: Sequence[Sequence[str]], tell: Tell
    ) -> tuple[list[float | None], list[str | None]] | None:
        """Return elevations in metres and as typed; None where the file has none.

        Raises InputError for a number without a unit where neither header nor option says one.
        """
        at = self.elevation_column
        if at is None:
            return None
        read = self._cells("elevation_m", columns[at], self._read_elevation, tell)
        if self.finer:
            self.rounded += sum(cell.strip() in self.finer for cell in columns[at])
        metres, typed = zip(*read, strict=True)
        return list(metres), list(typed)

    def _read_elevation(self, text: str) -> tuple[float | None, str | None] | Trouble:
        if not text:
            return None, None
        result = cells.read_elevation(text, self.elevation_unit, self.decimal)
        if isinstance(result, Trouble):
            if result.code == "missing-unit":
                assert self.elevation_column is not None
                raise self._no_unit("elevation", self.elevation_column, "--elevation-unit", "{unit}")
            return result
        if self.elevation_unit != "ft" and _FINER.search(text):
            self.finer.add(text)
        return result[0], text

    def _no_unit(self, what: str, at: int, *option: str) -> InputError:
        header = self.headers[at]
        ways = [[word.format(unit=unit, header=header) for word in option] for unit in ("m", "ft")]
        told = " or ".join(map(quoted_words, ways))
        return InputError(
            "missing-unit",
            f"The column {header!r} ({what.replace('_', ' ')}) has no unit: metres or feet?",
            hint=f"Say which: {told}.",
            details={"column": header, "ways": ways},
        )

    def _cells(self, name: str, column: Sequence[str], read: Callable[[str], Any], tell: Tell) -> list[Any]:
        """Return the values of one column's cells; the same cell is read once."""
        known = self._caches.get(name)
        if known is None:
            nothing: Any = () if name in _LISTS else (None, None) if name == "elevation_m" else None
            known = self._caches[name] = _ReadCells(read, nothing)
        if not any(column):
            return [known.nothing] * len(column)
        if read is cells.read_text:
            known.learn(column)
        values = list(map(known.__getitem__, column))
        if known.has_trouble:
            for i, value in enumerate(values):
                if isinstance(value, Trouble):
                    tell(i, name, column[i], value)
                    values[i] = known.nothing
        return values

    def read(self, columns: Sequence[Sequence[str]], tell: Tell) -> dict[str, list[Any]]:
        """Return the fields of a batch by the model's name, a value a row; None or () for an empty cell."""
        result: dict[str, list[Any]] = {}
        for name, at in self.columns.items():
            read = _READERS.get(name) or self._measured(name, at)
            result[name] = self._cells(name, columns[at], read, tell)
            if name == "description" and "\n" in "".join(columns[at]):
                self.folded_lines += sum("\n" in cell.strip() for cell in columns[at])
        for name in _WORDS:
            if name in result:
                self._unknown(name, columns[self.columns[name]], result)
        if "kind" in result:
            _unfold_kinds(result)
        if self.has_parts:
            result["runways"] = self._runways([result.pop(part, None) for part in _PARTS])
        return result

    def _measured(self, name: str, at: int) -> Callable[[str], Any]:
        unit = self.units.get(name)

        def read(text: str) -> float | Trouble:
            value = cells.read_measure(text, unit, self.decimal)
            if isinstance(value, Trouble):
                if value.code == "missing-unit":
                    raise self._no_unit(name, at, "--column", f"{name}_{{unit}}={{header}}")
                return value
            return round(value[0], 3)

        return read

    def _unknown(self, name: str, column: Sequence[str], result: dict[str, list[Any]]) -> None:
        """Keep words that are not known: in the description where the file has one, and counted for the report."""
        described = result.get("description")
        for i, (cell, value) in enumerate(zip(column, result[name], strict=True)):
            if value is None and cell and (word := cell.strip()):
                self.unknown_words[name, word] += 1
                if described is not None:
                    kept = f"{name}: {word}"
                    described[i] = kept if described[i] is None else f"{described[i]} ({kept})"

    def _runways(self, parts: Sequence[list[Any] | None]) -> list[tuple[Runway, ...]]:
        """Return one runway a row from its parts. A magnetic heading is kept as the designator that it rounds to."""
        rows = max(len(part) for part in parts if part is not None)
        columns = [[None] * rows if part is None else part for part in parts]
        result: list[tuple[Runway, ...]] = []
        for designator, heading, length, width, surface in zip(*columns, strict=True):
            true = heading if self.heading == "true" else None
            if heading is not None and true is None and designator is None:
                designator = f"{round(heading / 10) % 36 or 36:02d}"
            known = any(value is not None for value in (designator, true, length, width, surface))
            result.append((Runway(designator, true, length, width, surface),) if known else ())
        return result

    def notes(self) -> list[str]:
        """Return what was decided or left out, in sentences."""
        kept = "kept in the description" if "description" in self.columns else "left out"
        told = []
        for field in dict.fromkeys(name for name, _ in sorted(self.unknown_words)):
            words = {word: count for (name, word), count in sorted(self.unknown_words.items()) if name == field}
            if len(words) <= _MOST_WORDS_TOLD:
                told += [
                    f"{field}: the word {word!r} is not known and was {kept} ({count} row{'s' if count > 1 else ''})"
                    for word, count in words.items()
                ]
                continue
            common = sorted(words, key=lambda word: -words[word])[:_MOST_WORDS_TOLD]
            told.append(
                f"{field}: {len(words):,} words are not known and were {kept} ({sum(words.values()):,} rows), "
                f"most often {', '.join(map(repr, common))}"
            )
        if self.rounded:
            told.append(f"elevations of {counted(self.rounded, 'row')} rounded to 0.1 m")
        if self.folded_lines:
            told.append(f"line breaks in the descriptions of {counted(self.folded_lines, 'row')} became blanks")
        if self.has_parts and self.heading == "magnetic":
            told.append("magnetic runway headings were kept as designators; no true heading was made of them")
        return told


def _told_unit(text: str | None) -> str | None:
    if text is not None and text not in ("m", "ft"):
        raise UsageError("bad-unit", f"{text!r} is no unit of elevation.", hint="Use m or ft.")
    return text


def _unfold_kinds(result: dict[str, list[Any]]) -> None:
    """Make landability and feature of words that may be either; a column of its own goes before."""
    kinds = result.pop("kind")
    if "landable" not in result:
        result["landable"] = [kind if isinstance(kind, Landable) else None for kind in kinds]
    if "feature" not in result:
        result["feature"] = [kind if isinstance(kind, Feature) else None for kind in kinds]
