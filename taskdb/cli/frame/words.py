"""The words of a command line before click reads them: positions that begin with a minus sign, and near misses.

click takes `-33.9,151.2` for an option. Letting it ignore unknown options would turn a mistyped option into a
point, so exactly the words that begin with a minus sign and a digit are marked; no option begins with a digit.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

_MINUS_NUMBER = re.compile(r"-\s*[.,]?\d")
# A private-use character, so that a marked word is no option to click and cannot be meant by a person.
_MARK = "\ue0ff"


def mark_minus_numbers(args: Iterable[str]) -> list[str]:
    """Return the words with those marked that begin with a minus sign and a number."""
    return [_MARK + word if _MINUS_NUMBER.match(word) else word for word in args]


def unmark(value: Any) -> Any:
    """Return a parsed value (text, or nested lists, tuples and dicts of it) without the marks."""
    if isinstance(value, str):
        return value.removeprefix(_MARK)
    if isinstance(value, tuple):
        return tuple(unmark(item) for item in value)
    if isinstance(value, list):
        return [unmark(item) for item in value]
    if isinstance(value, dict):
        return {key: unmark(item) for key, item in value.items()}
    return value


def is_text(value: Any) -> bool:
    """Say whether a parsed value is proper text: bytes that are no UTF-8 reach us as lone surrogates.

    Such a word can name a file, but cannot be kept or shown.
    """
    if isinstance(value, str):
        return value.isascii() or not any("\ud800" <= letter <= "\udfff" for letter in value)
    if isinstance(value, (tuple, list)):
        return all(is_text(item) for item in value)
    return True


def nearest(word: str, known: Iterable[str], limit: int = 3) -> list[str]:
    """Return the known words most like `word`, best first; empty where none is near."""
    from difflib import get_close_matches

    return get_close_matches(word.lower(), sorted(known), n=limit, cutoff=0.6)


def did_you_mean(names: Iterable[str]) -> str | None:
    """Return `Did you mean a or b?`, None for no names."""
    quoted = list(names)
    if not quoted:
        return None
    return f"Did you mean {' or '.join(quoted)}?"
