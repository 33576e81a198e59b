"""What a command hands back, and the JSON envelopes around it and around failures.

One JSON document: indented by two where standard output is a terminal, compact on one line where it is not (the
compact form is ten times faster to write for a long list). Non-ASCII letters are kept; characters that could steer
a terminal, and lone surrogates, are written as \\u escapes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from taskdb.errors import ExitCode

if TYPE_CHECKING:
    from taskdb.cli.render.console import Printer

# C1 controls and DEL steer terminals, bidirectional controls reorder what a person reads, lone surrogates are no text.
_STEERING = "[\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]"


class Answer(NamedTuple):
    """A command's answer: the plain result for JSON, how people see it, the exit code."""

    # A tuple rather than a dataclass, here and in `command`: completion imports these modules for every letter typed.
    result: Mapping[str, Any]
    people: Callable[[Printer], None]
    exit_code: ExitCode = ExitCode.DONE


def acts_if(there_is: object) -> ExitCode:
    """Return the exit code that says whether there is something to act on."""
    return ExitCode.ACT if there_is else ExitCode.DONE


def records(keys: Sequence[str], rows: Iterable[Sequence[Any]]) -> list[dict[str, Any]]:
    """Return the rows of a table as they stand in a result."""
    return [dict(zip(keys, row, strict=True)) for row in rows]


def limited(key: str, listed: Sequence[Any], total: int) -> dict[str, Any]:
    """Return a list as it stands in a result: with how many there are, and whether some were left out."""
    return {key: listed, "total": total, "truncated": len(listed) < total}


def schema_name(command_name: str) -> str:
    """Return the schema of a command's JSON: `set import` gives `taskdb.set-import/1`."""
    return f"taskdb.{command_name.replace(' ', '-')}/1"


def success(command_name: str, result: Mapping[str, Any], warnings: Sequence[str]) -> dict[str, Any]:
    """Return the envelope of an answer."""
    return {"schema": schema_name(command_name), "ok": True, "result": dict(result), "warnings": list(warnings)}


def failure(code: str, message: str, hint: str | None, details: Mapping[str, Any]) -> dict[str, Any]:
    """Return the envelope of a failure."""
    error = {"code": code, "message": message, "hint": hint, "details": dict(details)}
    return {"schema": "taskdb.error/1", "ok": False, "error": error}


def to_json(document: Mapping[str, Any], *, indented: bool) -> str:
    """Return the document as JSON text without a line end. ValueError for a number that JSON does not have."""
    import json
    import re

    if indented:
        text = json.dumps(document, ensure_ascii=False, allow_nan=False, indent=2)
    else:
        text = json.dumps(document, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return re.sub(_STEERING, lambda match: f"\\u{ord(match[0]):04x}", text)
