"""Text for people: lines, pairs and tables on standard output, talk on standard error.

Plain aligned text; rich is imported only where a table is wider than the terminal and has to be folded. Not a
terminal: no colour, nothing cropped, nothing folded. Every text that comes from data passes through `safe`.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TextIO

if TYPE_CHECKING:
    from taskdb.core.quantities import Units

GAP = "  "
MISSING = "–"
# C0 and C1 controls and DEL steer a terminal; bidirectional controls reorder what is read; the separators U+2028 and
# U+2029 break lines in some terminals. (Bidi_Control, Unicode Standard Annex 9: 061C 200E 200F 202A-202E 2066-2069.)
_STEERING = re.compile("[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")

_STYLES = {"heading": "\x1b[1m", "error": "\x1b[1;31m", "warning": "\x1b[33m", "dim": "\x1b[2m", "good": "\x1b[32m"}
_RESET = "\x1b[0m"

Cell = str | int | None


def safe(text: str) -> str:
    """Return `text` with characters that could steer a terminal written as visible escapes."""
    if text.isascii() and text.isprintable():
        return text
    return _STEERING.sub(lambda match: match[0].encode("unicode_escape").decode("ascii"), text)


def display_width(text: str) -> int:
    """Return how many columns `text` takes: wide letters take two, combining marks none."""
    if text.isascii():
        return len(text)
    import unicodedata

    wide = sum(unicodedata.east_asian_width(c) in "WF" for c in text)
    return len(text) + wide - sum(unicodedata.category(c) in ("Mn", "Me", "Cf") for c in text)


@dataclass(frozen=True)
class Column:
    """A column of a table; numbers stand to the right."""

    title: str
    right: bool = False


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
        from taskdb.cli.render.folding import folded_line

        return folded_line(text, self.width, indent)

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
        """Print a table with a heading line; None is shown as a dash. Nothing is cropped, here or by rich."""
        heads = [column if isinstance(column, Column) else Column(column) for column in columns]
        body = [[MISSING if cell is None else safe(str(cell)) for cell in row] for row in rows]
        widths = [
            max([display_width(head.title), *(display_width(row[i]) for row in body)]) for i, head in enumerate(heads)
        ]
        if self.width is not None and sum(widths) + len(GAP) * (len(widths) - 1) > self.width:
            self._folded_table(heads, body)
            return
        self.stream.write(self.styled(_aligned([head.title for head in heads], heads, widths), "heading") + "\n")
        for row in body:
            self.stream.write(_aligned(row, heads, widths) + "\n")

    def _folded_table(self, heads: Sequence[Column], body: Sequence[Sequence[str]]) -> None:
        from taskdb.cli.render.folding import print_folded

        print_folded(self, heads, body)

    def shown(self, shown: int, total: int, what: str) -> None:
        """Say that a list was limited: `showing 20 of 347 waypoints`; nothing where it is whole."""
        if shown < total:
            self.line(f"showing {shown} of {total} {what}", style="dim")


def _aligned(cells: Sequence[str], heads: Sequence[Column], widths: Sequence[int]) -> str:
    padded = []
    for cell, head, width in zip(cells, heads, widths, strict=True):
        pad = " " * (width - display_width(cell))
        padded.append(pad + cell if head.right else cell + pad)
    return GAP.join(padded).rstrip()


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
