"""How a failure is told to people, on standard error: what happened, every problem with its place, the way out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from taskdb.cli.render.console import talk


def print_failure(message: str, hint: str | None, details: Mapping[str, Any], *, color: bool) -> None:
    """Say `error: …`, each rejected row and each further line that the failure brings (all of them), `  hint: …`."""
    talk(message, label="error:", style="error", color=color)
    for row in details.get("rejected", ()):
        talk(rejected_row(row), label=" ", color=color)
    for line in details.get("lines", ()):
        talk(line, label=" ", color=color)
    if hint:
        for number, line in enumerate(hint.splitlines()):
            talk(line, label="       " if number else "  hint:", style="good", color=color)


def print_warnings(warnings: Sequence[str], *, color: bool) -> None:
    """Say each warning on standard error."""
    for text in warnings:
        talk(text, label="warning:", style="warning", color=color)


def rejected_row(row: Mapping[str, Any]) -> str:
    """Return `line 7, latitude, '9512': …; perhaps 4751.2N` for one problem of one row."""
    place = f"line {row['line']}" if row.get("line") is not None else "file"
    if row.get("field"):
        place += f", {row['field']}"
    if row.get("value") is not None:
        place += f", {row['value']!r}"
    text = f"{place}: {row.get('message') or row.get('code')}"
    return f"{text} Perhaps {row['suggestion']}." if row.get("suggestion") else text
