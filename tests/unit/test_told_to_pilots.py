"""What stands on a class's page of the others on its day: each kind of meeting, as it is seen from either side."""

from __future__ import annotations

from dataclasses import replace

import pytest

from taskdb.core.model import Acceptance, Task
from taskdb.core.review.rules import run_review
from taskdb.core.review.told_to_pilots import is_meeting, told_to_pilots
from tests.unit.review_examples import beside, reviewed, task
from tests.unit.review_meetings import FROM_S30, ROUND, TURNED

THROUGH, BACK = (
    "W40 line 1km; HOME cylinder 500m; E60 cylinder 500m; S30 line 1km",
    "E60 line 1km; HOME cylinder 500m; N60 cylinder 500m; S30 line 1km",
)


def pages(words: str, other: str, opens: tuple[str | None, str | None] = ("13:00", "13:00")) -> tuple[str, str]:
    """What is told to Club, and what to Open."""
    given = beside(words, other, opens)
    found = run_review(given)
    club, open_ = given.task, replace(task(other), name="O", class_name="Open")
    return " ".join(told_to_pilots(found, club)), " ".join(told_to_pilots(found, open_))


@pytest.mark.parametrize(
    ("words", "other", "opens", "club", "open_"),
    [
        (ROUND, TURNED, ("13:00", "13:00"),
         "Class Open (O) comes against you on your leg from E60 to N60 between 13:36 and 15:27.",
         "Class Club (C) comes against you on your leg from N60 to E60 between 13:36 and 15:27."),
        (ROUND, TURNED, ("13:00", None),
         "Class Open (O) comes against you on your leg from E60 to N60 at times that are not known.",
         "Class Club (C) comes against you on your leg from N60 to E60 at times that are not known."),
        (THROUGH, BACK, ("13:00", "13:00"),
         "Class Open (O) enters HOME from the opposite side between 13:36 and 14:24.",
         "Class Club (C) enters HOME from the opposite side between 13:36 and 14:24."),
        ("W40 line 1km; E60 line 1km", FROM_S30, ("13:00", "13:06"),
         "Class Open (O) comes across your leg from W40 to E60, near S30, between 13:24 and 14:24.",
         "Class Club (C) comes across your leg from S30 to N60, near S30, between 13:24 and 14:24."),
        ("E60 line 1km; HOME line 1km", "HOME line 1km; N60 line 1km", ("12:00", "13:00"), "", ""),
        ("E60 line 1km; HOME line 1km", "HOME line 1km; E60 line 1km", ("12:00", "13:00"),
         "Class Open (O) starts towards your finish at HOME between 13:00 and 14:00.",
         "Class Club (C) finishes against your start at HOME between 13:00 and 14:00."),
    ],
)  # fmt: skip
def test_each_side_reads_who_comes_where_and_when(
    words: str, other: str, opens: tuple[str | None, str | None], club: str, open_: str
) -> None:
    told = pages(words, other, opens)
    assert club in told[0] and open_ in told[1]
    if not club:
        assert told == ("", "")


def test_an_accepted_meeting_is_told_and_another_finding_never_is() -> None:
    given = beside(ROUND, TURNED)
    accepted = {one.id: Acceptance("setter", "told at the briefing") for one in run_review(given)}
    assert len(told_to_pilots(run_review(given, accepted=accepted), given.task)) == 3
    ring = reviewed("HOME cylinder 10km; E8 cylinder 500m; N60 cylinder 500m; HOME line 1km")
    found = run_review(ring)
    assert found and not any(map(is_meeting, found))
    assert told_to_pilots(found, ring.task) == ()


def test_a_meeting_of_two_others_is_none_of_a_tasks_own() -> None:
    third: Task = replace(task(ROUND), name="S")
    assert told_to_pilots(run_review(beside(ROUND, TURNED)), third) == ()
