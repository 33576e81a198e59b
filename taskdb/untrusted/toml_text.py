"""TOML that a person wrote or was given, as plain values: bounded in size, line and depth before it is parsed.

The parser of the standard library takes quadratic time over a key of many parts, and what nests too deep cannot even
be shown in a message. What the values mean is decided by whoever asks.
"""

from __future__ import annotations

import re
import tomllib
from typing import Any

LARGEST_LETTERS = 1 << 16
LONGEST_LINE = 1_000
"""A line's keys have at most half as many parts."""
DEEPEST = 10
"""No profile or preset nests deeper than four."""


class BadToml(ValueError):
    """Why a text is no TOML that is read, as the end of a sentence, and on which line, where that is known."""

    def __init__(self, why: str, line: int | None = None) -> None:
        super().__init__(why)
        self.why = why
        self.line = line


def read_toml(text: str) -> dict[str, Any]:
    """Return the values of a TOML text; raises BadToml for what is none, too large, or nested too deep."""
    if len(text) > LARGEST_LETTERS:
        raise BadToml(f"it has {len(text):,} letters; up to {LARGEST_LETTERS:,} are read")
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LONGEST_LINE:
            raise BadToml(f"a line has {len(line):,} letters; up to {LONGEST_LINE:,} are read", number)
    try:
        values = tomllib.loads(text)
    except RecursionError:
        raise BadToml("it nests too deep") from None
    except ValueError as error:
        at = re.search(r" \(at (?:line (\d+), column \d+|end of document)\)$", str(error))
        why = str(error) if at is None else str(error)[: at.start()]
        raise BadToml(why, int(at[1]) if at is not None and at[1] else None) from None
    _require_shallow(values)
    return values


def _require_shallow(values: dict[str, Any]) -> None:
    level: list[Any] = [values]
    for _ in range(DEEPEST):
        held = [item.values() if isinstance(item, dict) else item for item in level if isinstance(item, dict | list)]
        level = [item for items in held for item in items]
    if any(isinstance(item, dict | list) for item in level):
        raise BadToml(f"it nests more than {DEEPEST} deep")
