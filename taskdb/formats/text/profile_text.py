"""What layouts of the user's own have in common, for sets and for tasks: options, cells and rows by a profile."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import BinaryIO, Literal

from taskdb.core.model import Position
from taskdb.core.notation import Axis, Notation, format_angle, format_position
from taskdb.errors import InputError
from taskdb.formats.text.cells import neutralise
from taskdb.formats.text.intake import ReadOptions
from taskdb.formats.text.profiles import UNITS_M, Profile, ProfileColumn
from taskdb.formats.text.table import Batch, RawTable

_QUOTING: dict[str, Literal[0, 1, 2, 3]] = {"needed": csv.QUOTE_MINIMAL, "all": csv.QUOTE_ALL, "none": csv.QUOTE_NONE}
_STANDARD_DECIMALS = {
    Notation.DECIMAL: 7,
    Notation.MINUTES: 3,
    Notation.PACKED_MINUTES: 3,
    Notation.SECONDS: 1,
    Notation.PACKED_SECONDS: 0,
}


def other_rows(profile: Profile, has: str, wanted: str) -> InputError:
    return InputError(
        "bad-profile", f"{profile.name} describes rows of {has}.", hint=f'Use a profile with rows = "{wanted}".'
    )


def told_by(profile: Profile, options: ReadOptions, fields: tuple[str, ...]) -> ReadOptions:
    """Return the options that a profile stands for, of its columns those of the fields named."""
    notations = {c.notation for c in profile.columns if c.says_notation}
    if len(notations) > 1:
        raise InputError(
            "bad-profile",
            f"{profile.name} has latitude and longitude in different notations, which is written and not read.",
            hint="Give both the same notation.",
        )
    columns = {_told_name(c): f"#{i + 1}" for i, c in enumerate(profile.columns) if c.field in fields}
    elevation = next((c.unit for c in profile.columns if c.field == "elevation"), None)
    return replace(
        options,
        columns={**columns, **options.columns},
        delimiter=options.delimiter or profile.separator,
        encoding=options.encoding or profile.encoding,
        decimal=options.decimal or profile.decimal,
        notation=options.notation or next(iter(notations), None),
        elevation_unit=options.elevation_unit or elevation,
        heading=options.heading or "true",
    )


def _told_name(column: ProfileColumn) -> str:
    name = column.field or ""
    return f"{name}_{column.unit}" if column.unit is not None and name.startswith("runway_") else name


def unworded(table: RawTable, profile: Profile) -> Iterator[Batch]:
    """Yield a table's rows with the profile's own words put back into ours."""
    back = {i: {text: word for word, text in c.words.items()} for i, c in enumerate(profile.columns) if c.words}
    for batch in table.batches:
        if back:
            batch.rows = [
                [back[at].get(cell.strip(), cell) if at in back else cell for at, cell in enumerate(row)]
                for row in batch.rows
            ]
        yield batch


# Writing


def write_rows(stream: BinaryIO, rows: Iterable[list[str]], profile: Profile) -> tuple[str, ...]:
    """Write rows and return what the encoding or the lack of quotes took from them."""
    lost: set[str] = set()
    buffer = io.StringIO(newline="")
    writer = csv.writer(
        buffer,
        delimiter=profile.separator,
        lineterminator=profile.line_end,
        quoting=_QUOTING[profile.quoting],
        quotechar=None if profile.quoting == "none" else '"',
    )
    if profile.has_header:
        rows = _with_header(rows, profile)
    for row in rows:
        if profile.quoting == "none":
            row = [_unquoted(cell, profile.separator, lost) for cell in row]
        writer.writerow(row)
    text = buffer.getvalue()
    try:
        stream.write(text.encode(profile.encoding))
    except UnicodeEncodeError:
        lost.add(f"letters that {profile.encoding} does not have became ?")
        stream.write(text.encode(profile.encoding, "replace"))
    return tuple(sorted(lost))


def _with_header(rows: Iterable[list[str]], profile: Profile) -> Iterator[list[str]]:
    yield [column.header or column.field or "" for column in profile.columns]
    yield from rows


def _unquoted(cell: str, separator: str, lost: set[str]) -> str:
    if separator in cell or '"' in cell:
        lost.add("the separator and quotes within texts became blanks")
        return cell.replace(separator, " ").replace('"', " ")
    return cell


# One cell


def number_cell(value: float | None, column: ProfileColumn, profile: Profile, standard: int) -> str:
    if value is None:
        return ""
    text = f"{value:.{standard if column.decimals is None else column.decimals}f}"
    if column.decimals is None and "." in text:
        text = text.rstrip("0").rstrip(".")
    text = text.removeprefix("-") if not text.strip("-0.") else text
    return text.replace(".", profile.decimal)


def length_cell(metres: float | None, column: ProfileColumn, profile: Profile) -> str:
    return "" if metres is None else number_cell(metres / UNITS_M[column.unit or "m"], column, profile, 3)


def elevation_cell(metres: float | None, column: ProfileColumn, profile: Profile) -> str:
    """Return an elevation in the column's unit, to 0.1 of it unless the column says otherwise."""
    return "" if metres is None else number_cell(metres / UNITS_M[column.unit or "m"], column, profile, 1)


def place_cell(position: Position, column: ProfileColumn, profile: Profile) -> str | None:
    """Return a coordinate or both in the column's notation; None for a column that is neither."""
    decimals = _STANDARD_DECIMALS.get(column.notation) if column.decimals is None else column.decimals
    if column.field == "position":
        try:
            text = format_position(position, column.notation, decimals)
        except ValueError as error:
            raise InputError("bad-profile", f"{profile.name}, line {column.line}: {error}.") from None
        # Two decimal numbers parted by a comma cannot also have decimal commas.
        return text if column.notation is Notation.DECIMAL else _with_decimal(text, column, profile)
    if column.field not in ("latitude_deg", "longitude_deg"):
        return None
    axis = Axis.LATITUDE if column.field == "latitude_deg" else Axis.LONGITUDE
    e7 = position.latitude_e7 if axis is Axis.LATITUDE else position.longitude_e7
    return _with_decimal(format_angle(e7, axis, column.notation, decimals or 0), column, profile)


def _with_decimal(text: str, column: ProfileColumn, profile: Profile) -> str:
    return text if column.notation in (Notation.GEO_URI, Notation.ISO6709) else text.replace(".", profile.decimal)


def worded(column: ProfileColumn, text: str) -> str:
    return neutralise(column.words.get(text, text))
