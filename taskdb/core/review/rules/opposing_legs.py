"""Review rule `opposing-legs`: two classes are flown against each other on legs that lie beside each other."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.judgement.meeting import Kind
from taskdb.core.model import Severity
from taskdb.core.quantities import format_distance
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


def check(given: Reviewed) -> Iterator[Draft]:
    """A leg is flown against a leg of another class's task on the same day.

    What: two legs of different classes lie beside each other, nearer than the contest's separation (1 km unless
    `contest limits NAME --separation 2km` sets another) for a stretch of five times that, on courses within 30° of
    opposite ones (common practice, no source); and by the timetable both can be there within 10 minutes of each other
    (`--separation-time`). The first of a class start when its start opens and fly at its fastest speed, the last start
    when it closes, or an hour after it opens, and fly at the slowest; wind acts. Where the times are not known, the
    legs are told all the same. Evidence: the legs, how far along each they are beside each other, how near and where,
    from when to when, and where two flights as planned are nearest.

    Why it matters: under one line of clouds two classes fly head-on at a closing speed of 300 km/h.

    How to mend: turn one task round (`task edit NAME --reverse`), move a point, open the starts further apart; or keep
    it, accept the finding, and say so at the briefing: it stands on the sheets.

    Trap: nobody flies straight, and times are a plan. A leg between areas is looked at over the minimum, task and
    maximum distance; pilots turn anywhere in them. Of a class of which none is issued every proposal is looked at.
    Accepted once, it is accepted for both tasks.

    Example: Club (A1) from QRY to CST and Open (A2) from CST to HOME fly against each other for 23.4 km, 0.4 km apart
    at the closest, near CST; both can be there from 13:40 to 14:10.
    """
    for meeting in given.meetings:
        if meeting.kind is not Kind.OPPOSED or meeting.stretches_m is None:
            continue
        first, second = on_legs(meeting)
        shared = format_distance(min(end - begin for begin, end in meeting.stretches_m))
        told = (
            f"{first} and {second} fly against each other for {shared}, {apart_words(meeting)}"
            f"{when_words(meeting)}{planned_words(meeting, given.limits.separation_m)}."
        )
        evidence = meeting_evidence(meeting, "legs")
        yield Draft(Severity.WARNING, codes_of(meeting, legs=True), told, evidence, what_is_read(meeting, legs=True))


RULE = Rule("opposing-legs", "A leg is flown against a leg of another class's task on the same day.", check)
