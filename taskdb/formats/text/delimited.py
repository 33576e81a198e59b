"""Delimited text as a table: which encoding, which delimiter, which line is the header. Rows are split in `rows`.

A header over two rows is made one: a group above its parts (Latitude over deg, min, N/S), or a row of units below.
What the cells mean is decided in `interpret`.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from typing import BinaryIO

from taskdb.core.pasted import quoted_words
from taskdb.errors import InputError
from taskdb.formats.limits import require_columns, require_lines
from taskdb.formats.text.coordinate_columns import coordinate_header
from taskdb.formats.text.decode import decide_encoding
from taskdb.formats.text.headers import looks_like_header, recognise
from taskdb.formats.text.intake import ReadOptions
from taskdb.formats.text.parts import guess_ways
from taskdb.formats.text.rows import DELIMITERS, split_rows
from taskdb.formats.text.table import Batch, RawTable

_NAMES = {sign: name for name, sign in DELIMITERS.items()}
_HEADER_WITHIN_ROWS = 10
_UNIT_WORDS = frozenset("""m,ft,km,mhz,khz,-,–,text,%,°,',",[m],[ft],(m),(ft),dd.dddd,decimal""".split(","))  # noqa: SIM905
"""What a row of units below a header holds."""
Row = tuple[int, list[str]]
"""A row's line and its cells."""


def delimiter_name(delimiter: str) -> str:
    """Return `comma`, `semicolon`, `tab`, `pipe`, or the letter itself."""
    return _NAMES.get(delimiter, delimiter)


def open_table(stream: BinaryIO, options: ReadOptions, *, has_header: bool | None = None) -> RawTable:
    """Return the table of a delimited file; whether its first row is a header is told or decided.

    Raises InputError where it is empty, no text, or names no known column.
    """
    codec, encoding = decide_encoding(stream, options.encoding)
    require_lines(stream)
    text = io.TextIOWrapper(stream, codec, newline="")
    start = text.read(1 << 16)
    if not start.strip("\ufeff \r\n\t;,"):
        text.detach()
        raise InputError(
            "empty-file", "The file holds no rows.", hint="Check that it was saved, and give another file."
        )
    delimiter, told_in_file = _delimiter(start, options)
    head = _head(start, delimiter, whole=len(start) < 1 << 16)
    at = _header_at(head, told_in_file, options) if has_header is None else 0 if has_header else None
    width = max(len(row) for _, row in head)
    require_columns(width)
    notes: tuple[str, ...]
    if at is None:
        headers = tuple(f"#{i + 1}" for i in range(width))
        first_line, notes = (head[1][0] if told_in_file else 1), ("no header line: columns by number",)
    else:
        merged, begin, end = merged_header(head, at)
        headers = tuple(cell.strip() for cell in merged)
        first_line = head[end][0]
        skipped = [row for _, row in head[:begin] if any(row)][1 if told_in_file else 0 :]
        notes = (f"{len(skipped)} line(s) above the header left aside",) if skipped else ()
        notes += ("two lines read as one header",) if end > begin else ()
    # Where a person has told the layout, nothing that it does not name is left out.
    lines = start.splitlines() if has_header is None else None
    comments = None if lines is None else _comments_above(lines, first_line if at is not None else 0, delimiter, width)
    stream.seek(0)
    text.detach()
    return RawTable(
        format={"\t": "tsv"}.get(delimiter, "csv"),
        encoding=encoding,
        delimiter=delimiter_name(delimiter),
        headers=headers,
        batches=_batches(
            stream, codec, delimiter, headers, skip_to=first_line, skip_header=at is not None, comments=comments
        ),
        notes=notes,
        decimal=options.decimal,
    )


def _delimiter(start: str, options: ReadOptions) -> tuple[str, bool]:
    """Return the delimiter, and whether the file says it itself in a first line `sep=;`."""
    said = re.match(r"\ufeff?sep=(.)\r?\n", start)
    if options.delimiter is not None:
        delimiter = "\t" if options.delimiter == "\\t" else DELIMITERS.get(options.delimiter, options.delimiter)
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


def _head(start: str, delimiter: str, *, whole: bool) -> list[Row]:
    """Return the first rows with the lines on which they begin, the empty ones left out."""
    lines = io.StringIO(start, newline="").readlines()
    if not whole and len(lines) > 1:
        lines.pop()
    # The line numbers stay. What names the columns may begin with # itself.
    lines = ["\n" if line.startswith("#") and not _names_columns(line, delimiter) else line for line in lines[:200]]
    reader = csv.reader(lines, delimiter=delimiter)
    rows: list[Row] = []
    line = 1
    try:
        for row in reader:
            if any(cell.strip("\ufeff ") for cell in row):
                rows.append((line, row))
            line = reader.line_num + 1
    except csv.Error:
        pass
    return rows or [(1, [start.partition("\n")[0].strip()])]


def _names_columns(line: str, delimiter: str) -> bool:
    cells = line.rstrip("\r\n").split(delimiter)
    return looks_like_header(cells) or cells[:2] == ["#1", "#2"]


def _comments_above(lines: list[str], header_line: int, delimiter: str, width: int) -> int | None:
    """Return how many lines above the header begin with #; None where # begins codes, as in most of the rows."""
    rows = [line for line in lines[header_line:] if line.strip()]
    marked = sum(line.startswith("#") and line.count(delimiter) >= width - 1 for line in rows)
    if marked * 2 > len(rows):
        return None
    return sum(line.startswith("#") for line in lines[: max(header_line - 1, 0)])


def _header_at(head: list[Row], told_in_file: bool, options: ReadOptions) -> int | None:
    """Return which of the first rows is the header, None where columns are told by number and no row names them."""
    first = 1 if told_in_file else 0
    for i in range(first, min(len(head), _HEADER_WITHIN_ROWS)):
        if looks_like_header(head[i][1]) or head[i][1][:2] == ["#1", "#2"]:
            return i
    told = [header.strip() for header in options.columns.values()]
    if told and all(re.fullmatch(r"#\d+(?:\s*\+\s*#\d+)*", header) for header in told):
        return None
    if told and first < len(head):
        return first
    rows = [row for _, row in head[first:]]
    names = [f"#{i + 1}" for i in range(max(map(len, rows), default=0))]
    if len(rows) > 1 and not any(c.isdigit() for cell in rows[0] for c in cell):
        names, rows = [cell.strip() for cell in rows[0]], rows[1:]
    ways = guess_ways(names, rows, with_code=not any((k := recognise(name)) and k.field == "code" for name in names))
    known = " or ".join(map(quoted_words, ways))
    shown = ", ".join(cell.strip() for cell in head[min(first, len(head) - 1)][1])
    raise InputError(
        "no-header",
        f"The first line names no columns that are known: {shown[:200]}.",
        hint="Say which column holds what, by header or by number: "
        f"{known or '--column code=#1 --column name=#2 --column latitude=#3 --column longitude=#4'}.",
        details={"first_line": shown[:1000], "ways": ways},
    )


def _batches(
    stream: BinaryIO,
    codec: str,
    delimiter: str,
    headers: tuple[str, ...],
    *,
    skip_to: int,
    skip_header: bool,
    comments: int | None,
) -> Iterator[Batch]:
    """Yield the rows behind the header; every row has exactly as many cells as the header."""
    text = io.TextIOWrapper(stream, codec, newline="")
    try:
        lines: Iterator[str] = iter(text)
        for _ in range(skip_to - 1):
            next(lines, None)
        yield from split_rows(
            lines, delimiter, len(headers), first_line=skip_to, skip_header=skip_header, comments=comments
        )
    finally:
        # A refused import closes the file before what is left of the rows is thrown away: then nothing is to be let go.
        if not stream.closed:
            text.detach()


# A header over two rows


def merged_header(head: Sequence[Row], at: int) -> tuple[list[str], int, int]:
    """Return the header's cells, and which of the first rows it begins and ends with (`at` for both where it is one).

    `head` are the first rows of a table with their lines, `at` the row that was taken for the header.
    """
    if at + 1 < len(head) and _goes_on(head[at + 1][1]):
        return _merged(head[at][1], head[at + 1][1]), at, at + 1
    own = [said for cell in head[at][1] if (said := coordinate_header(cell)) is not None]
    if at and any(said.axis is None for said in own) and _is_group(head[at - 1][1]):
        return _merged(head[at - 1][1], head[at][1]), at - 1, at
    return head[at][1], at, at


def _is_part(cell: str) -> bool:
    said = coordinate_header(cell)
    return said is not None and (said.axis is None or said.letters is not None)


def _goes_on(row: Sequence[str]) -> bool:
    """Say whether a row below a header is more of it: units and headers, no digit, a coordinate's part among them."""
    cells = [cell.strip() for cell in row if cell.strip()]
    if any(c.isdigit() for cell in cells for c in cell):
        return False
    known = all(_is_part(c) or c.lower() in _UNIT_WORDS or recognise(c) is not None for c in cells)
    return known and any(_is_part(cell) for cell in cells)


def _is_group(row: Sequence[str]) -> bool:
    """Say whether a row above a header names both axes."""
    said = [coordinate_header(cell) for cell in row if cell.strip()]
    return len({one.axis for one in said if one is not None and one.axis is not None}) == 2


def _merged(top: Sequence[str], bottom: Sequence[str]) -> list[str]:
    """Return two rows as one; a group's cell holds for the parts below the empty cells behind it."""
    merged, group = [], ""
    for i in range(max(len(top), len(bottom))):
        above, below = (row[i].strip() if i < len(row) else "" for row in (top, bottom))
        below = "" if below in ("-", "–") else below
        group = above or group
        said = coordinate_header(below)
        if said is not None and said.axis is None and not above:
            above = group
        merged.append(f"{above} {below}".strip())
    return merged
