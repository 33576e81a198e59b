"""Numbers as programs write them (`5e-05`, `0.`, `1.2E+01`) in plain digits, so that they are read as people's are."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,2})?")
_IN_TABLES = re.compile(r"[+-]?(?:\d+\.|(?:\d+\.?\d*|\.\d+)[eE][+-]\d{1,2})")


def plain_number(text: str) -> str:
    """Return a number in plain digits, all that it had; any other text as it is.

    For formats in which nothing but a number can stand: the exponent needs no sign.
    """
    if not text or text.isdigit() or (text[0] != "." and text[-1] != "." and "e" not in text and "E" not in text):
        return text
    return format(Decimal(text), "f") if _NUMBER.fullmatch(text) else text


def plain_numbers(texts: Sequence[str]) -> Sequence[str]:
    """Return a table's cells with numbers that end in a point, or have a signed exponent, in plain digits.

    `11E5` stays: in a table the E may be a hemisphere.
    """
    joined = "\n".join(texts)
    if "e" in joined or "E" in joined or ".\n" in joined or joined.endswith("."):
        return [format(Decimal(text), "f") if _IN_TABLES.fullmatch(text) else text for text in texts]
    return texts
