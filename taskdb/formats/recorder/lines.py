"""The lines of a flight recorder's file, found all at once, and the date among them.

IGC Technical Specification for GNSS Flight Recorders, Appendix A (text of 2008): 2.1 lines, 3.3 the H records. Says
where lines are; only those that are asked for become text.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from taskdb.formats.recorder.records import date_in

if TYPE_CHECKING:
    import numpy.typing as npt

    Bytes = npt.NDArray[np.uint8]
    Ints = npt.NDArray[np.intp]

_LINE_FEED, _RETURN = 10, 13


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Where each line of a file begins and how long it is, its end not counted (2.1: CR LF; either alone is read)."""

    content: Bytes
    start: Ints
    length: Ints

    @staticmethod
    def of(content: bytes) -> Lines:
        held = np.frombuffer(content, dtype=np.uint8)
        end = _LINE_FEED if b"\n" in content else _RETURN
        ends = np.flatnonzero(held == end)
        start = np.concatenate([[0], ends + 1])
        stop = np.concatenate([ends, [len(held)]])
        filled = np.flatnonzero(stop > start)
        stop[filled] -= held[stop[filled] - 1] == _RETURN
        return Lines(held, start, stop - start)

    def beginning_with(self, letter: str) -> Ints:
        """Return the numbers, from 0, of the lines that begin with a letter."""
        there = np.flatnonzero(self.length > 0)
        found: Ints = there[self.content[self.start[there]] == ord(letter)]
        return found

    def text(self, number: int) -> str:
        """Return a line; a byte is a letter, whatever the file's encoding."""
        first = int(self.start[number])
        return self.content[first : first + int(self.length[number])].tobytes().decode("latin-1")


def date_of(lines: Lines) -> str | None:
    """Return the ISO date of a file's first fix, the first that its headers give (3.3); None for none, or no date."""
    for number in lines.beginning_with("H").tolist():
        day = date_in(lines.text(number))
        if day is not None:
            return day.isoformat()
    return None
