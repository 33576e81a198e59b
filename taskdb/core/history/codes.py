"""What becomes of codes between two catalogues: a code that comes to name another place was moved on, or used again.

Judges a finished matching; whether a reuse is taken is the caller's decision, or a person's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from taskdb.core.geodesy import distance_m
from taskdb.core.matching.match import SAME_CODE_WITHIN_M, Matching
from taskdb.core.model import Waypoint
from taskdb.core.names import fold


class CodeFate(StrEnum):
    """What happened to a code whose holder in the new catalogue is not matched to its holder in the old one."""

    RENUMBERED = "renumbered"
    """Its old holder goes on under another code: counted and said."""

    REUSED = "reused"
    """Its old holder is matched to nothing, and the new one is another place (over 1 km away, another name)."""

    DOUBTFUL = "doubtful"
    """Its old holder is matched to nothing, but the new one lies within 1 km or has its name."""


@dataclass(frozen=True, slots=True)
class CodeMove:
    """A code with its holders, as numbers into the old and the new sequence, and how far apart they lie."""

    code: str
    old_index: int
    new_index: int
    distance_m: float
    fate: CodeFate


def moved_codes(old: Sequence[Waypoint], new: Sequence[Waypoint], matching: Matching) -> tuple[CodeMove, ...]:
    """Return every code that comes to name another waypoint, in order of the new sequence; empty where none does.

    A code that only one side has is no move. Where a side repeats a code, its first holder counts.
    """
    holders: dict[str, int] = {}
    for index, waypoint in enumerate(old):
        holders.setdefault(waypoint.code, index)
    partner = {pair.new_index: pair.old_index for pair in matching.pairs}
    unmatched = set(matching.unmatched_old)
    moves = []
    seen: set[str] = set()
    for j, waypoint in enumerate(new):
        i = holders.get(waypoint.code)
        if i is None or waypoint.code in seen:
            continue
        seen.add(waypoint.code)
        if partner.get(j) == i:
            continue
        before = old[i]
        off = 0.0 if before.position == waypoint.position else distance_m(before.position, waypoint.position)
        fate = _fate(before, waypoint, off) if i in unmatched else CodeFate.RENUMBERED
        moves.append(CodeMove(waypoint.code, i, j, off, fate))
    return tuple(moves)


def _fate(before: Waypoint, after: Waypoint, off_m: float) -> CodeFate:
    same_name = bool(fold(before.name)) and fold(before.name) == fold(after.name)
    return CodeFate.DOUBTFUL if same_name or off_m <= SAME_CODE_WITHIN_M else CodeFate.REUSED


def reused_codes(old: Sequence[Waypoint], new: Sequence[Waypoint], matching: Matching) -> tuple[CodeMove, ...]:
    """Return the codes that were used again: what needs a person's word in replacing, and is refused in merging."""
    return tuple(move for move in moved_codes(old, new, matching) if move.fate is CodeFate.REUSED)
