"""The rows that were not taken in, as a file of their own: cell by cell as they stood, reasons in a last column.

Once mended it is imported as it is: the reason's column is known and left aside.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import BinaryIO

from taskdb.core.model import RowProblem
from taskdb.core.notation.joined import cells_of
from taskdb.formats.text.cells import neutralise_as_typed
from taskdb.formats.text.intake import Record, SetReading
from taskdb.formats.text.rows import DELIMITERS, row_writer
from taskdb.formats.waypoints.csv import HEADER, row_of

REASON = "reason"


def write_rejects(stream: BinaryIO, reading: SetReading, further: Sequence[RowProblem] = ()) -> int:
    """Write the rejected rows as delimited text with the file's own header and delimiter (UTF-8), return their number.

    `further` are problems that showed only when a readable row met what stands in a set. A row of several problems
    has them all, parted by `; `. A row that could not be split stands whole in its first cell. What came from another
    format than a table is written as CSV under the names of our fields.
    """
    delimiter = DELIMITERS.get(reading.decided.delimiter or "comma", reading.decided.delimiter or ",")
    reasons: dict[int, list[str]] = {}
    for problem in (*reading.problems, *further):
        told = problem.message if problem.field is None else f"{problem.field}: {problem.message}"
        if problem.suggestion is not None:
            told += f" (perhaps {problem.suggestion})"
        reasons.setdefault(problem.line, []).append(told)
    rows = {reject.line: reject.cells for reject in reading.rejects}
    lines = {problem.line for problem in further} - rows.keys()
    if lines:
        rows |= {r.line: _cells(r, reading) for r in reading.records if r.line in lines}
    text = io.TextIOWrapper(stream, "utf-8", errors="replace", newline="")
    write = row_writer(text, delimiter)
    width = len(reading.header)
    write([*map(neutralise_as_typed, reading.header), REASON])
    for line, cells in sorted(rows.items()):
        padded = [*map(neutralise_as_typed, cells[:width]), *([""] * (width - len(cells)))]
        over = [f"further cells: {', '.join(cells[width:])}"] if len(cells) > width else []
        write([*padded, "; ".join([f"line {line}", *reasons.get(line, []), *over])])
    text.flush()
    text.detach()
    return len(rows)


def _cells(record: Record, reading: SetReading) -> tuple[str, ...]:
    """Return a row that was read, under the file's own headers: coordinates and elevation as they were typed."""
    texts = dict(zip(HEADER, row_of(record.waypoint), strict=True))
    typed = record.waypoint.typed
    if typed is not None:
        texts["latitude_deg"] = typed.latitude or texts["latitude_deg"]
        texts["longitude_deg"] = typed.longitude or texts["longitude_deg"]
        texts["elevation_m"] = typed.elevation or texts["elevation_m"]
        texts["position"] = " ".join(part for part in (typed.latitude, typed.longitude) if part)
    texts["identity"] = record.waypoint.identity or ""
    fields = {header: field for field, header in reading.decided.columns.items()}
    cells = [texts.get(fields.get(header, ""), "") for header in reading.header]
    for name, join in reading.joins.items():
        parts = cells_of(texts[name], join.parts) if join.parts else (texts[name], *[""] * (len(join.columns) - 1))
        for at, part in zip(join.columns, parts, strict=True):
            cells[at] = part
    return tuple(cells)
