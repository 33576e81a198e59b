"""Review rule `ends-meet`: start or finish of two classes share ground, or face each other, while both are used."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.judgement.meeting import Kind, Meeting
from taskdb.core.model import Severity
from taskdb.core.quantities import format_short_distance
from taskdb.core.review.meeting_words import codes_of, meeting_evidence, what_is_read, when_words
from taskdb.core.review.rule import Draft, Reviewed, Rule


def check(given: Reviewed) -> Iterator[Draft]:
    """Start or finish lie at those of another class that are used at the same time.

    What: the zone of a start or finish shares ground with one of another class's task on the day, or comes nearer to
    it than the contest's separation, and by the timetable both are in use within its separation in time (from the
    opening of a start to the last start, from the first finish to the last); where times are not known it is told all
    the same. A warning where the courses differ by at least 120° (common practice, no source): finishers fly into
    those who start, or into each other. A note for starts, or a start and a finish, that lie together without facing.
    Finishes that all reach from one side are as they should be.

    Why it matters: before a start many circle in little air, and finishers come through it fast and low.

    How to mend: a start point of its own for each class, starts that open further apart, a finish from another side.

    Trap: sectors and keyholes count as far round as they reach. Where they wait before the start opens is not known.

    Example: The finish of Club (A1) at HOME and the start of Open (A2) at HOME share ground and face each other, on
    courses 176° apart; both can be there from 15:20 to 15:45.
    """
    for meeting in given.meetings:
        if meeting.kind is not Kind.ENDS:
            continue
        lie = "share ground" if meeting.apart_m < 0.5 else f"lie {format_short_distance(meeting.apart_m)} apart"
        face = f" and face each other, on courses {meeting.angle_deg:.0f}° apart" if meeting.is_facing else ""
        told = f"The {_end(meeting, 0)} and the {_end(meeting, 1)} {lie}{face}{when_words(meeting)}."
        severity = Severity.WARNING if meeting.is_facing else Severity.NOTE
        evidence = {**meeting_evidence(meeting, "numbers"), "roles": list(meeting.roles), "facing": meeting.is_facing}
        read = (*what_is_read(meeting, legs=False), meeting.roles, meeting.is_facing)
        yield Draft(severity, codes_of(meeting, legs=False), told, evidence, read)


def _end(meeting: Meeting, side: int) -> str:
    one = meeting.tasks[side]
    return f"{meeting.roles[side]} of {one.who} at {one.task.points[meeting.numbers[side]].place.code}"


RULE = Rule("ends-meet", "Start or finish lie at those of another class that are used at the same time.", check)
