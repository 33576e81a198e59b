"""Commands that are said to people are made in one place (`core/pasted.py`), or a name would break them in a shell."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import taskdb
from taskdb.cli.commands_table import COMMANDS

PACKAGE = Path(taskdb.__file__).parent
VERBS = "|".join(sorted((re.escape(entry.name) for entry in COMMANDS), key=len, reverse=True))
HAND_MADE = re.compile(rf"taskdb (?:{VERBS})\b[^`.;(]*\x00")
NUMBERS = {"done.operation", "theirs.number", "head.number", "by"}
"""What no shell reads as anything else."""


def told(node: ast.JoinedStr) -> str:
    """Return an f-string with a mark in place of each value that stands there unquoted."""
    values = [ast.unparse(part.value) for part in node.values if isinstance(part, ast.FormattedValue)]
    marks = ["" if value in NUMBERS or value.startswith(("command_line(", "quoted")) else "\x00" for value in values]
    given = iter(marks)
    return "".join(part.value if isinstance(part, ast.Constant) else next(given) for part in node.values)


def hand_made(source: str) -> list[str]:
    return [
        text
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.JoinedStr)
        for text in [told(node)]
        if HAND_MADE.search(text)
    ]


def test_no_command_is_put_together_by_hand():
    found = {str(path.relative_to(PACKAGE)): hand_made(path.read_text("utf-8")) for path in PACKAGE.rglob("*.py")}
    assert {path: texts for path, texts in found.items() if texts} == {}


def test_one_made_by_hand_would_be_found():
    assert hand_made("hint = f'`taskdb set log {name}` lists its revisions.'")
    assert not hand_made("hint = f'`{command_line(\"set log\", name)}` lists its revisions.'")
    assert not hand_made("hint = f'taskdb undo {head.number}'")


def test_no_other_module_quotes_for_a_shell():
    others = [path for path in PACKAGE.rglob("*.py") if re.search(r"\bshlex\b", path.read_text("utf-8"))]
    assert others == []
