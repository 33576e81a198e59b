"""Delimited text to rows of cells with their physical lines: delimiter, header line, broken quoting, uneven rows.

A row that cannot be split is a problem of its own and the reading goes on behind it. What the cells mean is decided
in `interpret`.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from typing import BinaryIO

from taskdb.core.model import RowProblem
from taskdb.errors import InputError
from taskdb.formats.decode import decide_encoding, seekable
from taskdb.formats.headers import looks_like_header, recognise
from taskdb.formats.intake import ReadOptions
from taskdb.formats.table import BATCH, Batch, RawTable

LONGEST_RECORD_LINES = 100
"""A record over more lines has lost a closing quote; it is told, and reading goes on behind its first line."""

_NAMED = {"comma": ",", "semicolon": ";", "tab": "\t", "pipe": "|", "\\t": "\t"}
_NAMES = {",": "comma", ";": "semicolon", "\t": "tab", "|": "pipe"}
_HEADER_WITHIN_ROWS = 10


def delimiter_name(delimiter: str) -> str:
    """Return `comma`, `semicolon`, `tab`, `pipe`, or the letter itself."""
    return _NAMES.get(delimiter, delimiter)


def open_table(stream: BinaryIO, options: ReadOptions) -> RawTable:
    """Return the table of a delimited file. Raises InputError where it is empty, no text, or names no known column."""
    stream = seekable(stream)
    codec, encoding = decide_encoding(stream, options.encoding)
    text = io.TextIOWrapper(stream, codec, newline="")
    start = text.read(1 << 16)
    if not start.strip("\ufeff \r\n\t;,"):
        text.detach()
        raise InputError(
            "empty-file", "The file holds no rows.", hint="Check that it was saved, and give another file."
        )
    delimiter, told_in_file = _delimiter(start, options)
    head = _head(start, delimiter, whole=len(start) < 1 << 16)
    at = _header_at(head, told_in_file, options)
    width = max(len(row) for _, row in head)
    notes: tuple[str, ...]
    if at is None:
        headers = tuple(f"#{i + 1}" for i in range(width))
        first_line, notes = (head[1][0] if told_in_file else 1), ("no header line: columns by number",)
    else:
        headers = tuple(cell.strip() for cell in head[at][1])
        first_line = head[at][0]
        skipped = [row for _, row in head[:at] if any(row)][1 if told_in_file else 0 :]
        notes = (f"{len(skipped)} line(s) above the header left aside",) if skipped else ()
    stream.seek(0)
    text.detach()
    return RawTable(
        format={"\t": "tsv"}.get(delimiter, "csv"),
        encoding=encoding,
        delimiter=delimiter_name(delimiter),
        headers=headers,
        batches=_batches(stream, codec, delimiter, headers, skip_to=first_line, skip_header=at is not None),
        notes=notes,
        decimal=options.decimal,
    )


def _delimiter(start: str, options: ReadOptions) -> tuple[str, bool]:
    """Return the delimiter, and whether the file says it itself in a first line `sep=;`."""
    said = re.match(r"\ufeff?sep=(.)\r?\n", start)
    if options.delimiter is not None:
        delimiter = _NAMED.get(options.delimiter, options.delimiter)
        if len(delimiter) != 1 or delimiter in '"\r\n':
            raise InputError(
                "bad-delimiter",
                f"{options.delimiter!r} cannot part columns.",
                hint="Use --delimiter comma, semicolon, tab, pipe, or one letter.",
            )
        return delimiter, said is not None
    if said is not None:
        return said[1], True
    return max(_NAMES, key=lambda d: _score(start, d)), False


def _score(start: str, delimiter: str) -> tuple[int, int, float]:
    """Rate a delimiter: by the known headers that it parts, then by the columns of the rows, then by their evenness."""
    rows = [row for _, row in _head(start, delimiter, whole=False)[:20]] or [[]]
    known = max(len({k.field for c in row if (k := recognise(c)) is not None}) for row in rows[:_HEADER_WITHIN_ROWS])
    widths = [len(row) for row in rows]
    typical = max(set(widths), key=widths.count)
    return known, min(typical, 3), widths.count(typical) / len(widths)


def _head(start: str, delimiter: str, *, whole: bool) -> list[tuple[int, list[str]]]:
    """Return the first rows with the lines on which they begin, the empty ones left out."""
    lines = io.StringIO(start, newline="").readlines()
    if not whole and len(lines) > 1:
        lines.pop()
    reader = csv.reader(lines[:200], delimiter=delimiter)
    rows: list[tuple[int, list[str]]] = []
    line = 1
    try:
        for row in reader:
            if any(cell.strip("\ufeff ") for cell in row):
                rows.append((line, row))
            line = reader.line_num + 1
    except csv.Error:
        pass
    return rows or [(1, [start.partition("\n")[0].strip()])]


def _header_at(head: list[tuple[int, list[str]]], told_in_file: bool, options: ReadOptions) -> int | None:
    """Return which of the first rows is the header, None where columns are told by number and no row names them."""
    first = 1 if told_in_file else 0
    for i in range(first, min(len(head), _HEADER_WITHIN_ROWS)):
        if looks_like_header(head[i][1]):
            return i
    told = [header.strip() for header in options.columns.values()]
    if told and all(re.fullmatch(r"#\d+", header) for header in told):
        return None
    if told and first < len(head):
        return first
    shown = ", ".join(cell.strip() for cell in head[min(first, len(head) - 1)][1])
    raise InputError(
        "no-header",
        f"The first line names no columns that are known: {shown[:200]}.",
        hint="Say which column holds what, by header or by number: "
        "--column code=#1 --column name=#2 --column latitude=#3 --column longitude=#4.",
        details={"first_line": shown[:1000]},
    )


class _Lines:
    """The lines of a text as a csv reader pulls them, with the lines of the running record kept for a second look."""

    def __init__(self, lines: Iterator[str]) -> None:
        self.source = lines
        self.held: list[str] = []
        self.is_cut = False

    def __iter__(self) -> Iterator[str]:
        held = self.held
        for line in self.source:
            held.append(line)
            if len(held) > LONGEST_RECORD_LINES:
                self.is_cut = True
                return
            yield line


def _batches(
    stream: BinaryIO, codec: str, delimiter: str, headers: tuple[str, ...], *, skip_to: int, skip_header: bool
) -> Iterator[Batch]:
    """Yield the rows behind the header; every row has exactly as many cells as the header."""
    text = io.TextIOWrapper(stream, codec, newline="")
    try:
        lines: Iterator[str] = iter(text)
        for _ in range(skip_to - 1):
            next(lines, None)
        yield from _split(lines, delimiter, len(headers), first_line=skip_to, skip_header=skip_header)
    finally:
        text.detach()


def _split(lines: Iterator[str], delimiter: str, width: int, *, first_line: int, skip_header: bool) -> Iterator[Batch]:
    batch, at, skip = Batch(), first_line, skip_header
    while True:
        held = _Lines(lines)
        reader = csv.reader(held, delimiter=delimiter, strict=True)
        offset = at
        trouble: str | None = None
        try:
            for row in reader:
                held.held.clear()
                line, at = at, offset + reader.line_num
                if held.is_cut:
                    break
                if skip:
                    skip = False
                elif len(row) == width:
                    batch.lines.append(line)
                    batch.rows.append(row)
                elif row:
                    _uneven(batch, line, row, width)
                if len(batch.rows) + len(batch.broken) >= BATCH:
                    yield batch
                    batch = Batch()
        except csv.Error as error:
            trouble = str(error)
        if trouble is None and not held.is_cut:
            break
        # A quote that is never closed swallows the file: tell the line it stands on and go on behind that line.
        first, rest = held.held[:1], held.held[1:]
        shown = first[0].rstrip("\r\n") if first else ""
        message = "its quotes do not pair: a quote inside a quoted cell is written twice"
        if trouble is not None and "field limit" in trouble:
            message = "one of its cells is longer than 131,072 letters"
        batch.broken.append((RowProblem(at, None, shown[:500], "bad-quotes", message), (shown,)))
        at += 1
        lines = _chain(rest, lines)
        skip = False
    if batch.rows or batch.broken:
        yield batch


def _chain(first: list[str], rest: Iterator[str]) -> Iterator[str]:
    yield from first
    yield from rest


def _uneven(batch: Batch, line: int, row: list[str], width: int) -> None:
    """Take a row with empty cells too many; tell any other row whose cells are not as many as the headers."""
    filled = len(row)
    while filled and not row[filled - 1].strip():
        filled -= 1
    if not filled:
        return
    if len(row) > width and filled <= width:
        batch.lines.append(line)
        batch.rows.append(row[:width])
        return
    why = "a cell with the delimiter in it needs quotes" if len(row) > width else "empty cells need their delimiter too"
    message = f"the row has {len(row)} cells and the header {width}: {why}"
    batch.broken.append((RowProblem(line, None, None, "cell-count", message), tuple(row)))
