"""Review rule `not-closed`: a declared course that returns near its start, but not to it."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.model import Severity, TaskType
from taskdb.core.review.rule import Draft, Reviewed, Rule


def check(given: Reviewed) -> Iterator[Draft]:
    """A declared course ends near its start, but not at it.

    What: start and finish of a declared course with turn points are two places within the contest's tolerance for
    closed courses (1 km where nothing is set).

    Why it matters: for records and badges an out-and-return or a triangle ends where it began; the tolerance of a
    contest does not hold there (Sporting Code Section 3, 1.4.3, edition of about 2008).

    How to mend: declare the same point as start and finish (`task edit NAME --point N=POINT`).

    Trap: two start points of one field, a few hundred metres apart, look like one on the map.

    Example: Start and finish are 412 m apart: for records and badges that is no closed course.
    """
    shape, points = given.course.shape, given.task.points
    if given.task.type is not TaskType.DECLARED or not shape.is_closed or shape.gap_m <= 0 or len(points) < 3:
        return
    yield Draft(
        Severity.WARNING,
        (points[-1].place.code, points[0].place.code),
        f"Start and finish are {shape.gap_m:.0f} m apart: for records and badges that is no closed course.",
        {"gap_m": round(shape.gap_m, 3)},
        (points[0].place.position, points[-1].place.position),
    )


RULE = Rule("not-closed", "A declared course ends near its start, but not at it.", check)
