"""Review rule `classes-meet`: two classes come through one place at one time, crossing or the same way."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.judgement.meeting import OPPOSITE_WITHIN_DEG, Kind
from taskdb.core.model import Severity
from taskdb.core.review.meeting_words import (
    apart_words,
    codes_of,
    meeting_evidence,
    on_legs,
    planned_words,
    what_is_read,
    when_words,
)
from taskdb.core.review.rule import Draft, Reviewed, Rule

SAME_WAY_DEG = 30.0
"""Up to this angle two classes fly the same way (common practice, no source)."""


def check(given: Reviewed) -> Iterator[Draft]:
    """Another class comes through the same place at the same time.

    What: legs of two classes come nearer than the contest's separation where both can be within its separation in time
    of each other by the timetable: from the first of a class, who start at the opening and fly fastest, to the last.
    Legs that follow each other in both tasks are one finding, at the nearest place. A warning where the courses cross
    at more than 30° (common practice, no source) and two flights as planned, each begun when its start opens, come so
    near to each other too; else a note. Legs that oppose each other, turns from both sides, starts and finishes have
    rules of their own.

    Why it matters: a full thermal of one class becomes that of two, with others arriving from the side.

    How to mend: starts that open further apart, another first leg for one class; or nothing, if all know of it.

    Trap: times are a plan and grow wider with every leg: far from the start this says little. Without an opening of the
    start and a speed for both classes nothing is told. Areas are looked at over three ways through them.

    Example: Club (A1) from HOME to QRY and Open (A2) from CST to QRY cross at 85°, 0.0 km apart at the closest, near
    QRY; both can be there from 14:05 to 14:50, and two flights as planned meet at 14:12.
    """
    for meeting in given.meetings:
        if meeting.kind is not Kind.PASSING:
            continue
        first, second = on_legs(meeting)
        is_crossing = meeting.angle_deg > SAME_WAY_DEG
        how = _how(meeting.angle_deg)
        told = (
            f"{first} and {second} {how}, {apart_words(meeting)}{when_words(meeting)}"
            f"{planned_words(meeting, given.limits.separation_m)}."
        )
        is_planned = is_crossing and bool(planned_words(meeting, given.limits.separation_m))
        evidence = meeting_evidence(meeting, "legs")
        severity = Severity.WARNING if is_planned else Severity.NOTE
        yield Draft(
            severity, codes_of(meeting, legs=True), told, evidence, (*what_is_read(meeting, legs=True), is_planned)
        )


def _how(angle_deg: float) -> str:
    if angle_deg >= 180 - OPPOSITE_WITHIN_DEG:
        return f"meet nearly head-on, on courses {angle_deg:.0f}° apart"
    return f"cross at {angle_deg:.0f}°" if angle_deg > SAME_WAY_DEG else "fly the same way"


RULE = Rule("classes-meet", "Another class comes through the same place at the same time.", check)
