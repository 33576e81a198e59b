"""Review rule `points-changed`: what the task was saved with has moved on."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.model import Severity
from taskdb.core.review.rule import Draft, Reviewed, Rule


def check(given: Reviewed) -> Iterator[Draft]:
    """A point or a default that the task was saved with has changed since.

    What: the task is stale: a point that it uses was moved, renamed or retired in the set revision that counts, or a
    zone default that it took was changed in its contest.

    Why it matters: a saved task never changes by itself. Whoever takes the points from the catalogue and whoever
    takes the task's file fly to two places.

    How to mend: `task refresh NAME` brings it up to what counts now, as a new revision; `task carry` onto another set.
    To fly it as it was saved, leave it and hand out its own file.

    Trap: in a contest the pinned set revision counts, not the newest: after mending a point, pin first.

    Example: Point 1 (QRY Quarry) moved 134 m towards 045° in region@3.
    """
    places = [(f"point {number}", point.place) for number, point in enumerate(given.task.points)]
    places += [
        (label, place)
        for label, place in (("the take-off", given.task.take_off), ("the landing", given.task.landing))
        if place is not None
    ]
    for sentence in given.stale:
        # The sentences of `course.staleness` begin with the point that they are about.
        about = next((one for label, one in places if sentence.startswith(f"{label} (")), None)
        yield Draft(
            Severity.WARNING,
            () if about is None else (about.code,),
            f"{sentence[0].upper()}{sentence[1:]}.",
            {"reason": sentence},
            (sentence, None if about is None else about.position),
        )


RULE = Rule("points-changed", "A point or a default that the task was saved with has changed since.", check)
