"""Lines of delimited text to rows of cells, with their physical lines: broken quoting, uneven rows, cells over lines.

Blocks of lines without quotes are cut into columns at once; those in which every line is one row are split at the
speed of the csv module, the others row by row. A row that cannot be split is told, and reading goes on behind its
first line.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Sequence
from itertools import islice, repeat
from typing import TextIO

from taskdb.core.model import RowProblem
from taskdb.formats.text.table import BATCH, Batch, RowsInColumns

DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t", "pipe": "|"}
LONGEST_RECORD_LINES = 100
"""A record over more lines has lost a closing quote."""


_LONGEST_CELL = 1 << 17
"""Letters that the csv module takes in one cell."""
_AT_ONCE = 64
_BLOCK_LETTERS = 1 << 22


def row_writer(text: TextIO, delimiter: str = ",") -> Callable[[Sequence[str]], object]:
    """Return what writes a row (CRLF, quotes where needed); one that begins with # is quoted, and so no comment."""
    plain = csv.writer(text, delimiter=delimiter, lineterminator="\r\n", quoting=csv.QUOTE_MINIMAL)
    quoted = csv.writer(text, delimiter=delimiter, lineterminator="\r\n", quoting=csv.QUOTE_ALL)
    return lambda row: (quoted if row[0][:1] == "#" else plain).writerow(row)


class _Source:
    """Lines that can be given back."""

    def __init__(self, lines: Iterator[str]) -> None:
        self.lines = lines
        self.ahead: list[str] = []

    def take(self, count: int) -> list[str]:
        """Return up to `count` lines; none at the end."""
        taken, self.ahead = self.ahead[:count], self.ahead[count:]
        size = 0
        # Some at a time: a block of lines as long as they may be would fill the memory.
        while len(taken) < count and size < _BLOCK_LETTERS:
            more = list(islice(self.lines, min(_AT_ONCE, count - len(taken))))
            if not more:
                break
            size += sum(map(len, more))
            taken += more
        return taken


def split_rows(
    lines: Iterator[str],
    delimiter: str,
    width: int,
    *,
    first_line: int,
    skip_header: bool,
    comments: int | None = None,
) -> Iterator[Batch]:
    """Yield the rows of text whose first line has the number `first_line`; each has exactly `width` cells.

    With `comments`, the number of those above, lines that begin with # are left out and counted.
    """
    source, at = _Source(lines), first_line
    if skip_header:
        block = source.take(BATCH)
        _, used = _record(block, 0, source, delimiter)
        source.ahead = block[used:] + source.ahead
        at += used
    seen, is_begun = comments or 0, False
    while block := source.take(BATCH):
        batch = Batch()
        columns = _cut(block, delimiter, width, has_comments=comments is not None)
        if columns is not None:
            batch.lines, batch.rows = list(range(at, at + len(block))), RowsInColumns(columns)
        else:
            marks = comments is not None and any(line[:1] == "#" for line in block)
            seen += _take_block(batch, block, source, at, delimiter, width, marks=marks)
        at += len(block)
        if batch.rows or batch.broken:
            batch.comments, seen, is_begun = seen, 0, True
            yield batch
    if seen and is_begun:
        yield Batch(comments=seen)


def _cut(block: Sequence[str], delimiter: str, width: int, *, has_comments: bool) -> list[Sequence[str]] | None:
    """Return the columns of lines that have no quotes and `width` cells each; None where there is more to look at.

    What the csv module would give, in half the time: without a quote it cuts at each delimiter and line end.
    """
    text = "".join(block)
    if width < 2 or '"' in text or "\0" in text or max(map(len, block)) > _LONGEST_CELL:
        return None
    text = text.replace("\r", "")  # of line ends: where one stands alone, there are more lines than \n
    text = text if text[-1:] == "\n" else f"{text}\n"
    if text.count("\n") != len(block) or set(map(str.count, block, repeat(delimiter))) != {width - 1}:
        return None
    if has_comments and (text[0] == "#" or "\n#" in text):
        return None
    cells = text.replace("\n", delimiter).split(delimiter)
    cells.pop()
    # A row without its first cell may be empty altogether.
    return [cells[i::width] for i in range(width)] if all(cells[::width]) else None


def _take_block(
    batch: Batch, block: list[str], source: _Source, at: int, delimiter: str, width: int, *, marks: bool
) -> int:
    """Take the rows of a block as the csv module splits them; with `marks` leave comments out, and return how many."""
    try:
        rows = [] if marks else list(csv.reader(block, delimiter=delimiter, strict=True))
    except csv.Error:
        rows = []
    if len(rows) != len(block):
        return _take_one_by_one(batch, block, source, at, delimiter, width, marks=marks)
    if set(map(len, rows)) == {width} and all(row[0] for row in rows):
        batch.lines, batch.rows = list(range(at, at + len(rows))), RowsInColumns(list(zip(*rows, strict=True)))
        return 0
    for line, row in enumerate(rows, start=at):
        _take(batch, line, row, width)
    return 0


def _record(block: list[str], start: int, source: _Source, delimiter: str) -> tuple[list[str] | str, int]:
    """Return the row that begins on a line of a block, and how many lines it takes; a reason where it has none.

    The block is made longer where the row goes on behind it.
    """

    def pull() -> Iterator[str]:
        for i in range(start, start + LONGEST_RECORD_LINES):
            if i == len(block):
                block.extend(source.take(1))
            if i == len(block):
                return
            yield block[i]

    reader = csv.reader(pull(), delimiter=delimiter, strict=True)
    try:
        return next(reader, []), max(reader.line_num, 1)
    except csv.Error as error:
        if "field limit" in str(error) or "field larger" in str(error):
            return "one of its cells is longer than 131,072 letters", 1
        return "its quotes do not pair: a quote inside a quoted cell is written twice", 1


def _take_one_by_one(
    batch: Batch, block: list[str], source: _Source, at: int, delimiter: str, width: int, *, marks: bool
) -> int:
    """Take the rows of a block; with `marks` leave out those that begin with #, and return how many."""
    i = comments = 0
    while i < len(block):
        if marks and block[i][:1] == "#":
            comments += 1
            i += 1
            continue
        row, used = _record(block, i, source, delimiter)
        if isinstance(row, str):
            shown = block[i].rstrip("\r\n")
            batch.broken.append((RowProblem(at + i, None, shown[:500], "bad-quotes", row), (shown,)))
        else:
            _take(batch, at + i, row, width)
        i += used
    return comments


def _take(batch: Batch, line: int, row: list[str], width: int) -> None:
    """Take a row, also one with empty cells too many; tell one whose cells are not as many as the headers."""
    filled = len(row)
    while filled and not row[filled - 1].strip():
        filled -= 1
    if not filled:
        return
    rows = batch.rows
    assert isinstance(rows, list)
    if len(row) == width or (len(row) > width and filled <= width):
        if len(row) > width:
            batch.longer.append(len(rows))
        batch.lines.append(line)
        rows.append(row[:width])
        return
    why = "a cell with the delimiter in it needs quotes" if len(row) > width else "empty cells need their delimiter too"
    message = f"the row has {len(row)} cells and the header {width}: {why}"
    batch.broken.append((RowProblem(line, None, None, "cell-count", message), tuple(row)))
