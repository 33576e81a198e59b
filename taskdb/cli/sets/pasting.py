"""The line to paste after a refusal: the command as it was given, with the options that decide what was left open."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from taskdb.core.pasted import command_line
from taskdb.errors import InputError

_OPTIONS = (
    "format", "notation", "encoding", "delimiter", "decimal", "elevation_unit", "letter_o", "heading", "profile",
    "rejects", "codes", "terrain", "mode", "empty", "on_error",
)  # fmt: skip
_USUAL = {"mode": "merge", "on_error": "stop"}
_FLAGS = ("check", "codes_as_written", "fill_elevation", "preview", "yes")


def import_lines(given: Mapping[str, Any], ways: Sequence[Sequence[str]]) -> list[str]:
    """Return a line for each way: `set import` as given, its options replaced by those of the way."""
    return [_line(given, way) for way in ways]


def _line(given: Mapping[str, Any], way: Sequence[str]) -> str:
    decided = {name for name in way if name.startswith("--") and name != "--column"}
    fields = {_field(word) for flag, word in pairwise(way) if flag == "--column"}
    words = ["--into", given["into"]]
    for name in _OPTIONS:
        option, value = f"--{name.replace('_', '-')}", given.get(name)
        if value is not None and value != _USUAL.get(name) and option not in decided:
            words += [option, value]
    for column in given["columns"]:
        if _field(column) not in fields:
            words += ["--column", column]
    words += [f"--{name.replace('_', '-')}" for name in _FLAGS if given.get(name)]
    return command_line("set import", given["path"], options=[*words, *way])


def _field(column: str) -> str:
    """Return the field of `FIELD=HEADER`, by one name for its several."""
    from taskdb.formats.text.headers import recognise

    name = column.partition("=")[0].strip()
    known = recognise(name)
    return name.lower() if known is None else known.field


def with_lines(error: InputError, given: Mapping[str, Any]) -> InputError:
    """Return a refusal whose hint is the lines to paste, where it knows what would decide; else the refusal itself."""
    lines = import_lines(given, error.details.get("ways") or ())
    if not lines:
        return error
    aside = import_lines(given, error.details.get("aside") or ())
    told = "Paste this line:" if len(lines) == 1 else "Paste the line that is right:"
    hint = "\n  ".join([told, *lines])
    if aside:
        hint = "\n  ".join([f"{hint}\nIf it is no part of a coordinate:", *aside])
    details = {**error.details, "paste": [*lines, *aside]}
    return InputError(error.code, error.message, hint=hint, details=details)
