"""Rule `one-name-two-places`: one name for places that lie apart."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.survey import Survey
from taskdb.core.geodesy import distance_m
from taskdb.core.model import Severity
from taskdb.core.quantities import format_short_distance


def check(survey: Survey) -> Iterator[Draft]:
    """Two places far apart bear one name.

    What: points whose names are the same once case, accents and punctuation are dropped lie further apart than the
    distance at which they would be one place (250 m, or `--within`).

    Why it matters: on the briefing and over the radio the name is all that is said, and instruments list by name.

    How to mend: make the names differ by what tells the places apart (`waypoint edit SET:CODE --name`): the valley,
    the nearest town, "north" and "south". If they have been confused for one place, see `same-place`.

    Trap: a moved or mistyped copy of one place looks just like this; look at how the positions differ before renaming.

    Example: "Neustadt" at 12 NEU1 and "Neustadt" at NEU2 lie 87 km apart: name them after their rivers.
    """
    for name, members in sorted(survey.folded_names.repeated().items()):
        if not name:
            continue
        spread = _spread(survey, members)
        if spread is None:
            continue
        points = tuple(survey.waypoints[index] for index in members)
        codes = ", ".join(point.code for point in points)
        yield Draft(
            Severity.NOTE,
            points,
            f"{codes} bear one name, {points[0].name!r}, and lie up to {format_short_distance(spread)} apart: "
            "make the names differ, or only one of them will be flown to.",
            {"name": points[0].name, "apart_m": round(spread, 3), "count": len(points)},
        )


def _spread(survey: Survey, members: list[int]) -> float | None:
    """Return the largest distance from the first of the points; None where all are near enough to be one place."""
    places = [survey.waypoints.position(index) for index in members]
    furthest = max(distance_m(places[0], place) for place in places[1:])
    return furthest if furthest >= survey.given.within_m else None


RULE = Rule(
    name="one-name-two-places",
    summary="Two places far apart bear one name.",
    function=check,
    reads=("position", "name"),
)
