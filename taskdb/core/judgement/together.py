"""Two tasks of one day against each other: every kind of meeting, each told once."""

from __future__ import annotations

from taskdb.core.judgement.ends import at_their_ends
from taskdb.core.judgement.meeting import DayTask, Meeting
from taskdb.core.judgement.opposing import opposed
from taskdb.core.judgement.passing import passing
from taskdb.core.judgement.sides import from_both_sides


def meetings(a: DayTask, b: DayTask, apart_m: float, within_s: float) -> tuple[Meeting, ...]:
    """Return where two tasks meet within a distance and a time: opposed legs, turns, ends, then in passing.

    What lies next to opposed legs, or to a turn that is entered from both sides, is not told again in passing.
    """
    within_min = within_s / 60
    against = tuple(opposed(a, b, apart_m, within_min))
    sides = tuple(from_both_sides(a, b, apart_m, within_min))
    ends = tuple(at_their_ends(a, b, apart_m, within_min))
    return (*against, *sides, *ends, *passing(a, b, apart_m, within_min, (*against, *sides)))
