"""Rule `not-inspected`: a place to land at that nobody has looked at since a date."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Landable, Severity


def check(survey: Survey) -> Iterator[Draft]:
    """A landable place has not been inspected since the date asked for.

    What: an aerodrome, a field or an emergency field whose `inspected_on` is before the date, or empty. A note.

    Why it matters: fields are ploughed, fenced, planted and built on; the set says that one can land there.

    How to mend: go and look, then `waypoint edit SET:CODE --inspected-on DATE`; or set `landable` to what is true.

    Trap: the date says when it was looked at, not that it was fit.

    Example: FIELD9, an emergency field, was last inspected on 2021-04-02, before 2025-01-01.
    """
    since = survey.given.inspected_since
    assert since is not None
    landable, inspected = (survey.waypoints.column(name) for name in ("landable", "inspected_on"))
    is_told = landable.where(one not in (None, Landable.NO) for one in landable.values)
    is_told &= inspected.where((date or "") < since for date in inspected.values)
    for index in is_told.nonzero()[0].tolist():
        point = survey.waypoints[index]
        last = f"was last inspected on {point.inspected_on}" if point.inspected_on else "has no date of inspection"
        yield Draft(
            Severity.NOTE,
            (point,),
            f"{point.code} {point.name!r}, landable as {point.landable}, {last}; asked for: since {since}.",
            {"landable": str(point.landable), "inspected_on": point.inspected_on, "since": since},
        )


RULE = Rule(
    name="not-inspected",
    summary="A landable place has not been inspected since the date asked for.",
    function=check,
    reads=("landable", "inspected_on"),
    needs=frozenset({"inspected-since"}),
)
