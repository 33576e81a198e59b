"""Text to positions and back: `angles` for one coordinate, `columns` for a file's columns, `pairs` for a position.

An ambiguous notation is refused with its readings; nothing here guesses.
"""

from __future__ import annotations

from taskdb.core.notation.angles import EXAMPLES, PARTS, Angle, Axis, Notation, Trouble, format_angle, read_angle
from taskdb.core.notation.columns import ColumnReading, Decision, decide, read_column

__all__ = [
    "EXAMPLES",
    "PARTS",
    "Angle",
    "Axis",
    "ColumnReading",
    "Decision",
    "Notation",
    "Trouble",
    "decide",
    "format_angle",
    "read_angle",
    "read_column",
]
