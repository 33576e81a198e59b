"""Review rule `saved-already`: the same course is in the store under another name."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.model import Severity
from taskdb.core.review.rule import Draft, Reviewed, Rule
from taskdb.core.review.sameness import Sameness, sameness


def check(given: Reviewed) -> Iterator[Draft]:
    """The same course is saved already, perhaps the other way round or begun elsewhere.

    What: another task has the same points in the same order, in the opposite order, or the same loop begun at another
    of its points. A warning where everything is the same (the fingerprints are equal), else a note.

    Why it matters: two names for one task make two files and two sheets, and sooner or later two versions. And last
    season's record of the same course tells how it went.

    How to mend: use the task that is there, or retire one of the two (`task retire NAME`).

    Trap: variants of a day with the same points and other zones are meant to be alike: a note.

    Example: The same course as Cup 2026:A is flown the other way round.
    """
    for other in given.others:
        how = sameness(given.task, other.task)
        if how is None:
            continue
        is_twin = other.fingerprint == given.fingerprint
        words = {
            Sameness.SAME: f"{other.label} has the same points in the same order, with other zones, type or time.",
            Sameness.REVERSED: f"{other.label} is the same course, flown the other way round.",
            Sameness.SHIFTED: f"{other.label} is the same course, begun at another of its points.",
            Sameness.SHIFTED_REVERSED: f"{other.label} is the same course, begun at another of its points and flown "
            "the other way round.",
        }
        yield Draft(
            Severity.WARNING if is_twin else Severity.NOTE,
            tuple(dict.fromkeys(point.place.code for point in given.task.points)),
            f"{other.label} is the same task: the same points, zones, type and time." if is_twin else words[how],
            {"task": other.label, "how": how.value, "fingerprint": other.fingerprint},
            (other.label, how.value, other.fingerprint, given.fingerprint),
        )


RULE = Rule("saved-already", "The same course is saved already, perhaps reversed or begun elsewhere.", check)
