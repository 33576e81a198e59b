"""Review rule `misses-the-triangle`: a declared triangle is nearly an FAI triangle."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.course.shape import round_share
from taskdb.core.model import Severity, ShapeKind, TaskType
from taskdb.core.review.rule import Draft, Reviewed, Rule


def check(given: Reviewed) -> Iterator[Draft]:
    """A declared triangle misses the FAI triangle by little.

    What: a declared triangle that is no FAI triangle, with its tightest side less than `triangle_short_percent` percent
    points (2 where nothing is set: common practice, no source) beyond the limit. The limits are the contest's triangle
    rules; from 750 km 25 and 45 %, shorter 28 % (Sporting Code Section 3, 1.4.3d(iii), edition of about 2008).

    Why it matters: for a record over a triangle the geometry decides, to the last metre. Badges ask for no shape.

    How to mend: move the turn point across from the shortest side, or choose another.

    Trap: a triangle just above the large limit may have sides that it could not have just below.

    Example: Sides of 27.6 / 33.9 / 38.5 %: the shortest must have 28 %, 0.4 percent points are missing.
    """
    shape, rules = given.course.shape, given.task.rules.triangle
    margin = shape.fai_margin_percent
    if given.task.type is not TaskType.DECLARED or shape.kind is not ShapeKind.TRIANGLE or margin is None:
        return
    if shape.is_fai_triangle or -margin > given.limits.triangle_short_percent:
        return
    sides = " / ".join(f"{round_share(side, rules):.1f}" for side in shape.side_percent)
    yield Draft(
        Severity.WARNING,
        tuple(dict.fromkeys(point.place.code for point in given.task.points)),
        f"Sides of {sides} %: the triangle misses the FAI triangle by {max(-margin, 0.01):.2f} percent points.",
        {"side_percent": [round(side, 4) for side in shape.side_percent], "fai_margin_percent": round(margin, 4)},
        (tuple(str(round(side, 4)) for side in shape.side_percent),),
    )


RULE = Rule("misses-the-triangle", "A declared triangle misses the FAI triangle by little.", check)
