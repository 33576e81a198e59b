"""Tables that are wider than the terminal: their cells are folded onto further lines, by rich. Nothing is cropped."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.console import Console
from rich.table import Table
from rich.text import Text

if TYPE_CHECKING:
    from taskdb.cli.render.console import Column, Printer


def print_folded(printer: Printer, heads: Sequence[Column], body: Sequence[Sequence[str]]) -> None:
    """Print a table folded into the printer's width; a terminal too narrow for a letter a column gets more width."""
    least = 6 * len(heads)
    console = Console(
        file=printer.stream,
        width=max(printer.width or 80, least),
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
