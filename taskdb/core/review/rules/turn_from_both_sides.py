"""Review rule `turn-from-both-sides`: two classes enter one turn from opposite sides at one time."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.judgement.meeting import Kind
from taskdb.core.model import Role, Severity
from taskdb.core.review.meeting_words import codes_of, meeting_evidence, what_is_read, when_words
from taskdb.core.review.rule import Draft, Reviewed, Rule


def check(given: Reviewed) -> Iterator[Draft]:
    """A turn is entered from opposite sides by two classes on the same day.

    What: a point of two tasks is one place, or nearer than the contest's separation, and the courses on which both
    arrive there differ by at least 120° (common practice, no source), and by the timetable both can be there within
    the contest's separation in time; where times are not known it is told all the same. A note where one of them is an
    area: pilots turn anywhere in it.

    Why it matters: in a small zone all look at their instruments and turn steeply, and the others come head-on.

    How to mend: turn one task round (`task edit NAME --reverse`), another point for one class, starts further apart.

    Trap: courses are those between the points; who searches for lift arrives from elsewhere. Times are a plan.

    Example: Club (A1) and Open (A2) enter QRY from opposite sides, on courses 168° apart; both can be there from 14:05
    to 14:50.
    """
    for meeting in given.meetings:
        if meeting.kind is not Kind.BOTH_SIDES:
            continue
        first, second = meeting.tasks
        codes = codes_of(meeting, legs=False)
        told = (
            f"{first.who} and {second.who} enter {' and '.join(codes)} from opposite sides, on courses "
            f"{meeting.angle_deg:.0f}° apart{when_words(meeting)}."
        )
        severity = Severity.NOTE if Role.AREA.value in meeting.roles else Severity.WARNING
        evidence = meeting_evidence(meeting, "numbers")
        yield Draft(severity, codes, told, evidence, (*what_is_read(meeting, legs=False), round(meeting.angle_deg)))


RULE = Rule("turn-from-both-sides", "A turn is entered from opposite sides by two classes on the same day.", check)
