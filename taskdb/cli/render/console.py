"""Text for people: lines, pairs and tables on standard output, talk on standard error.

Plain aligned text. On a terminal what is wider is folded between words, or where not even words fit, a row of a table
takes a few lines; nothing is cropped. Not a terminal: no colour, nothing folded. Every text that comes from data passes
through `safe`.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import zip_longest
from typing import TYPE_CHECKING, TextIO, TypeVar

if TYPE_CHECKING:
    from taskdb.core.quantities import Units

GAP = "  "
MISSING = "–"
_FEWEST_FOR_LINES = 4
"""A table of so many columns whose words do not fit is shown in lines of titles and values."""
_LEAST_WIDTH = 40
"""On a narrower terminal prose is not folded, and tables keep their columns."""
_NARROWEST = 4
"""No column is narrower, however narrow the terminal."""
# C0 and C1 controls and DEL steer a terminal; bidirectional controls reorder what is read; the separators U+2028 and
# U+2029 break lines in some terminals. (Bidi_Control, Unicode Standard Annex 9: 061C 200E 200F 202A-202E 2066-2069.)
_STEERING = re.compile("[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")

_STYLES = {"heading": "\x1b[1m", "error": "\x1b[1;31m", "warning": "\x1b[33m", "dim": "\x1b[2m", "good": "\x1b[32m"}
_RESET = "\x1b[0m"

K = TypeVar("K")
Cell = str | int | None
Rows = Sequence[Sequence[str]]


def safe(text: str) -> str:
    """Return `text` with characters that could steer a terminal written as visible escapes."""
    if text.isascii() and text.isprintable():
        return text
    return _STEERING.sub(lambda match: match[0].encode("unicode_escape").decode("ascii"), text)


def display_width(text: str) -> int:
    """Return how many columns `text` takes: wide letters take two, combining marks none."""
    if text.isascii():
        return len(text)
    return sum(map(_letter_width, text))


@cache
def _letter_width(letter: str) -> int:
    import unicodedata

    if unicodedata.category(letter) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(letter) in "WF" else 1


@dataclass(frozen=True)
class Column:
    """A column of a table; numbers stand to the right."""

    title: str
    right: bool = False


def gathered(said: Iterable[tuple[K, str]]) -> dict[K, list[str]]:
    """Return what is said with all whom it is said of, in order."""
    holders: dict[K, list[str]] = {}
    for what, whom in said:
        holders.setdefault(what, []).append(whom)
    return holders


def right(*titles: str) -> list[Column | str]:
    """Return columns whose cells stand to the right."""
    return [Column(title, right=True) for title in titles]


def padded(cells: Sequence[str], widths: Sequence[int], heads: Sequence[Column] | None = None) -> str:
    """Return cells side by side, each as wide as its column; what is to the right by its head stands there."""
    there = []
    for number, (cell, width) in enumerate(zip(cells, widths, strict=True)):
        pad = " " * (width - display_width(cell))
        there.append(pad + cell if heads is not None and heads[number].right else cell + pad)
    return GAP.join(there).rstrip()


def aligned(rows: Sequence[Sequence[str]]) -> list[str]:
    """Return rows as lines whose cells stand below each other."""
    widths = [max(map(display_width, column)) for column in zip(*rows, strict=True)]
    return [padded(row, widths) for row in rows]


class Printer:
    """Where a result for people goes. `terminal` and `width` are told, never looked up in between."""

    def __init__(
        self,
        stream: TextIO,
        *,
        color: bool = False,
        width: int | None = None,
        units: Units | None = None,
    ) -> None:
        """Print on `stream`; `width` is the terminal's, None where it is no terminal and nothing is folded."""
        self.stream = stream
        self.color = color
        self.width = width
        self._units = units

    @property
    def units(self) -> Units:
        """Return the unit of distance that the person asked for."""
        from taskdb.core.quantities import Units

        return self._units or Units.KM

    def styled(self, text: str, style: str) -> str:
        """Return `text` in a style (heading, error, warning, dim, good) where colour is wanted. Not made safe here."""
        return f"{_STYLES[style]}{text}{_RESET}" if self.color and text else text

    def line(self, text: str = "", *, style: str | None = None, end: str = "\n") -> None:
        """Print one line, on a terminal folded between words; a line end within `text` is shown, not obeyed."""
        shown = safe(text)
        for part in self._folded(shown, " " * (len(shown) - len(shown.lstrip(" ")) + len(GAP))):
            self.stream.write((self.styled(part, style) if style else part) + end)

    def _folded(self, text: str, indent: str) -> list[str]:
        if self.width is None or len(text) <= self.width // 2:  # wide letters take two columns
            return [text]
        return _folded_line(text, self.width, indent)

    def heading(self, text: str) -> None:
        """Print a heading."""
        self.line(text, style="heading")

    def block(self, text: str) -> None:
        """Print a text of our own that has line ends (help, a script); steering characters are shown."""
        for line in text.splitlines():
            self.stream.write(safe(line) + "\n")

    def pairs(self, rows: Iterable[tuple[str, Cell]]) -> None:
        """Print labels and values, one pair a line, aligned; a pair whose value is None is left out."""
        kept = [(safe(label), safe(str(value))) for label, value in rows if value is not None]
        width = max((display_width(label) for label, _ in kept), default=0)
        for label, value in kept:
            pad = " " * (width - display_width(label))
            first, *rest = self._folded(f"{label}{pad}{GAP}{value}", " " * (width + len(GAP)))
            self.stream.write(f"{self.styled(label, 'dim')}{first[len(label) :]}\n")
            self.stream.writelines(f"{part}\n" for part in rest)

    def table(self, columns: Sequence[Column | str], rows: Iterable[Sequence[Cell]]) -> None:
        """Print a table with a heading line; None is shown as a dash. Nothing is cropped.

        Where it is wider than the terminal, a column that has nothing to say is left out and the others are folded.
        """
        heads = [column if isinstance(column, Column) else Column(column) for column in columns]
        body: Rows = [[MISSING if cell is None else safe(str(cell)) for cell in row] for row in rows]
        widths = _widths(heads, body)
        if self.width is None or sum(widths) <= _room(heads, self.width):
            self._columns(heads, body, widths)
            return
        told = [i for i in range(len(heads)) if not body or any(row[i] != MISSING for row in body)]
        heads, body = [heads[i] for i in told], [[row[i] for i in told] for row in body]
        least = _widths(heads, body, by_word=True)
        room = _room(heads, self.width)
        if sum(least) > room and len(heads) >= _FEWEST_FOR_LINES and self.width >= _LEAST_WIDTH:
            for row in body:
                self._lines(heads, row, self.width)
        else:
            self._columns(heads, body, _shared(least, _widths(heads, body), room))

    def _columns(self, heads: Sequence[Column], body: Rows, widths: Sequence[int]) -> None:
        for number, row in enumerate([[head.title for head in heads], *body]):
            folded = [_folded(cell, width) for cell, width in zip(row, widths, strict=True)]
            for cells in zip_longest(*folded, fillvalue=""):
                line = padded(cells, widths, heads)
                self.stream.write((self.styled(line, "heading") if number == 0 else line) + "\n")

    def _lines(self, heads: Sequence[Column], row: Sequence[str], width: int) -> None:
        """Print a row as its titles and values, as many a line as fit; further lines are indented."""
        indent, line, used = "", "", 0
        for head, cell in zip(heads, row, strict=True):
            if cell == MISSING:
                continue
            for part, text in enumerate(_folded(cell, max(1, width - len(GAP) - display_width(head.title) - 1))):
                label = f"{head.title} " if part == 0 else ""
                takes = display_width(label + text)
                if line and (part or used + len(GAP) + takes > width):
                    self.stream.write(line + "\n")
                    indent, line, used = GAP, "", 0
                before = GAP if line else indent
                line += before + (self.styled(label, "dim") if label else "") + text
                used += len(before) + takes
        self.stream.write(line + "\n")

    def shown(self, shown: int, total: int, what: str) -> None:
        """Say that a list was limited: `showing 20 of 347 waypoints`; nothing where it is whole."""
        if shown < total:
            self.line(f"showing {shown} of {total} {what}", style="dim")


def _widths(heads: Sequence[Column], body: Rows, *, by_word: bool = False) -> list[int]:
    """Return how wide the widest cell of each column is, or its widest word."""
    columns = [[head.title, *(row[i] for row in body)] for i, head in enumerate(heads)]
    return [max(display_width(part) for cell in column for part in _parts(cell, by_word)) for column in columns]


def _parts(cell: str, by_word: bool) -> Sequence[str]:
    return (cell.split() if by_word else [cell]) or [""]


def _room(heads: Sequence[Column], width: int) -> int:
    return width - len(GAP) * (len(heads) - 1)


def _shared(least: Sequence[int], whole: Sequence[int], room: int) -> list[int]:
    """Return widths that share the room: the most to the column that lacks most; too little is taken off the widest."""
    widths = list(least)
    while sum(widths) > room and max(widths) > _NARROWEST:
        widths[widths.index(max(widths))] -= 1
    for _ in range(room - sum(widths)):
        lacking = [want - have for want, have in zip(whole, widths, strict=True)]
        if max(lacking, default=0) <= 0:
            break
        widths[lacking.index(max(lacking))] += 1
    return widths


def _folded_line(text: str, width: int, indent: str) -> list[str]:
    """Return a line of prose within `width`, folded between words, further lines behind `indent`.

    A line that holds a command is left as it is: folded it could not be copied out in one piece.
    """
    if display_width(text) <= width or "taskdb " in text or width < _LEAST_WIDTH:
        return [text]
    first = text[: len(text) - len(text.lstrip(" "))]
    lines = _folded(text.lstrip(" "), width - max(display_width(indent), display_width(first)))
    return [first + lines[0].rstrip(), *(indent + line.rstrip() for line in lines[1:])]


def _folded(text: str, width: int) -> list[str]:
    """Return a text in lines of at most `width` columns, broken between words and, where one is longer, within it."""
    if display_width(text) <= width:
        return [text]
    from rich.console import Console
    from rich.text import Text

    # rich is loaded by what has to be folded alone: it would be a tenth of the time of a short command.
    lines = Text(text).wrap(Console(width=width, file=sys.stderr), width, overflow="fold")
    return [line.plain.strip() for line in lines if line.plain.strip()] or [""]


def stream_width(stream: TextIO) -> int | None:
    """Return the width of the terminal that `stream` is; None where it is none."""
    if not stream.isatty():
        return None
    import os

    columns = os.environ.get("COLUMNS", "")
    if columns.isdigit() and int(columns) > 0:
        return int(columns)
    try:
        return os.get_terminal_size(stream.fileno()).columns or 80
    except (OSError, ValueError):
        return 80


def talk(text: str, *, label: str = "", style: str = "warning", color: bool = False, end: str = "\n") -> None:
    """Say `text` on standard error, behind a label; a standard error that is gone is no reason to fail."""
    try:
        printer = Printer(sys.stderr, color=color and sys.stderr.isatty())
        if label:
            sys.stderr.write(printer.styled(label, style) + " ")
        printer.line(text, end=end)
        sys.stderr.flush()
    except (OSError, ValueError, AttributeError):
        return
