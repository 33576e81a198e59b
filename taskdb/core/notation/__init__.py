"""Text to positions and back: `angles` for one coordinate, `columns` for a file's columns, `pairs` for a position.

An ambiguous notation is refused with its readings; nothing here guesses.
"""

from __future__ import annotations

from taskdb.core.notation.angles import EXAMPLES, PARTS, Angle, Axis, Notation, Trouble, format_angle, read_angle
from taskdb.core.notation.columns import ColumnReading, Decision, decide, read_column
from taskdb.core.notation.pairs import (
    PairColumn,
    ReadPair,
    decide_pairs,
    format_position,
    looks_like_position,
    parse_position,
    read_pairs,
)

__all__ = [
    "EXAMPLES",
    "PARTS",
    "Angle",
    "Axis",
    "ColumnReading",
    "Decision",
    "Notation",
    "PairColumn",
    "ReadPair",
    "Trouble",
    "decide",
    "decide_pairs",
    "format_angle",
    "format_position",
    "looks_like_position",
    "parse_position",
    "read_angle",
    "read_column",
    "read_pairs",
]
