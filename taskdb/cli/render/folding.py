"""Lines and tables that are wider than the terminal: folded between words, or where not even words fit, a few lines a
row.

Nothing is cropped. On a terminal too narrow for words in so few columns rich folds within words.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from taskdb.cli.render.console import GAP, MISSING, display_width

if TYPE_CHECKING:
    from taskdb.cli.render.console import Column, Printer

Rows = Sequence[Sequence[str]]
_FEWEST_FOR_LINES = 4
_LEAST_WIDTH = 40


def print_folded(printer: Printer, heads: Sequence[Column], body: Rows) -> None:
    """Print a table within the printer's width; a column that has nothing to say is left out."""
    told = [i for i in range(len(heads)) if not body or any(row[i] != MISSING for row in body)]
    heads, body = [heads[i] for i in told], [[row[i] for i in told] for row in body]
    width = printer.width or 80
    cells = [[head.title, *(row[i] for row in body)] for i, head in enumerate(heads)]
    least = [max(display_width(word) for cell in column for word in (cell.split() or [""])) for column in cells]
    room = width - len(GAP) * (len(heads) - 1)
    if sum(least) <= room:
        whole = [max(display_width(cell) for cell in column) for column in cells]
        _print_columns(printer, heads, body, _grown(least, whole, room))
    elif len(heads) >= _FEWEST_FOR_LINES and width >= _LEAST_WIDTH:
        for row in body:
            _print_lines(printer, heads, row, width)
    else:
        _print_by_rich(printer, heads, body)


def _grown(least: Sequence[int], whole: Sequence[int], room: int) -> list[int]:
    """Return widths that share what room there is, the most to the column that lacks most."""
    widths = list(least)
    for _ in range(room - sum(widths)):
        lacking = [want - have for want, have in zip(whole, widths, strict=True)]
        if max(lacking, default=0) <= 0:
            break
        widths[lacking.index(max(lacking))] += 1
    return widths


def _print_columns(printer: Printer, heads: Sequence[Column], body: Rows, widths: Sequence[int]) -> None:
    for number, row in enumerate([[head.title for head in heads], *body]):
        folded = [_folded(cell, width) for cell, width in zip(row, widths, strict=True)]
        for level in range(max(map(len, folded))):
            padded = []
            for lines, head, width in zip(folded, heads, widths, strict=True):
                text = lines[level] if level < len(lines) else ""
                pad = " " * (width - display_width(text))
                padded.append(pad + text if head.right else text + pad)
            line = GAP.join(padded).rstrip()
            printer.stream.write((printer.styled(line, "heading") if number == 0 else line) + "\n")


def _print_lines(printer: Printer, heads: Sequence[Column], row: Sequence[str], width: int) -> None:
    """Print a row as its titles and values, as many a line as fit; further lines are indented."""
    indent, line, used = "", "", 0
    for head, cell in zip(heads, row, strict=True):
        if cell == MISSING:
            continue
        for part, text in enumerate(_folded(cell, max(1, width - len(GAP) - display_width(head.title) - 1))):
            label = f"{head.title} " if part == 0 else ""
            takes = display_width(label + text)
            if line and (part or used + len(GAP) + takes > width):
                printer.stream.write(line + "\n")
                indent, line, used = GAP, "", 0
            before = GAP if line else indent
            line += before + (printer.styled(label, "dim") if label else "") + text
            used += len(before) + takes
    printer.stream.write(line + "\n")


def folded_line(text: str, width: int, indent: str) -> list[str]:
    """Return a line of prose within `width`, folded between words, further lines behind `indent`.

    A line that holds a command is left as it is: folded it could not be copied out in one piece.
    """
    if display_width(text) <= width or "taskdb " in text or width < _LEAST_WIDTH:
        return [text]
    first = text[: len(text) - len(text.lstrip(" "))]
    room = width - max(display_width(indent), display_width(first))
    lines = _folded(text.lstrip(" "), room)
    return [first + lines[0].rstrip(), *(indent + line.rstrip() for line in lines[1:])]


def _folded(text: str, width: int) -> list[str]:
    """Return a text in lines of at most `width` columns, broken between words and, where one is longer, within it."""
    lines = [""]
    for word in text.split(" "):
        joined = f"{lines[-1]} {word}" if lines[-1] else word
        if display_width(joined) <= width:
            lines[-1] = joined
            continue
        if lines[-1]:
            lines.append("")
        for letter in word:
            if lines[-1] and display_width(lines[-1] + letter) > width:
                lines.append("")
            lines[-1] += letter
    return lines


def _print_by_rich(printer: Printer, heads: Sequence[Column], body: Rows) -> None:
    """Print a table folded within words; a terminal too narrow for a letter a column gets more width."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console(
        file=printer.stream,
        width=max(printer.width or 80, 6 * len(heads)),
        force_terminal=printer.color,
        no_color=not printer.color,
        highlight=False,
        markup=False,
        emoji=False,
        legacy_windows=False,
    )
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold" if printer.color else "")
    for head in heads:
        table.add_column(Text(head.title), justify="right" if head.right else "left", overflow="fold")
    for row in body:
        table.add_row(*(Text(cell) for cell in row))
    console.print(table)
