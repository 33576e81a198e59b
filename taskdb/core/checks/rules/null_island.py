"""Rule `null-island`: a point at 0° N 0° E."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.checks.columns import once_or_each
from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Severity


def check(survey: Survey) -> Iterator[Draft]:
    """A point stands at 0° N 0° E.

    What: latitude and longitude are both zero (within 0.001 degree), in the Gulf of Guinea.

    Why it matters: it is what a missing position becomes when a program or a spreadsheet reads it as a number.

    How to mend: find the position and put it in, or retire the point.

    Trap: the point is not the only loss: whatever wrote zero here may have written other columns as zero too.

    Example: FIELD7 stands at 0° N 0° E: its position was missing.
    """
    import numpy as np

    found = {}
    for index in np.flatnonzero(survey.is_at_zero).tolist():
        point = survey.waypoints[index]
        draft = Draft(
            Severity.ERROR,
            (point,),
            f"{point.code} {point.name!r} stands at 0° N 0° E: a missing position was read as zero.",
            {"latitude_deg": point.position.latitude_deg, "longitude_deg": point.position.longitude_deg},
        )
        found[index] = (draft,)
    yield from once_or_each(
        survey,
        found,
        np.arange(len(survey.waypoints)),
        name="position",
        told="stand at 0° N 0° E",
        doubt="the columns of the positions were not read. Look at how the source writes them.",
    )


RULE = Rule(
    name="null-island",
    summary="A point stands at 0° N 0° E: its position was missing.",
    function=check,
)
