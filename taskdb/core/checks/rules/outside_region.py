"""Rule `outside-region`: a point that stands alone, away from all others of its set."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.checks.mends import candidate_words, likely_origins, split
from taskdb.core.checks.region import FAR_OUT_M, OUTSIDE_M
from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Severity
from taskdb.core.quantities import format_short_distance

_LEAST_POINTS = 20
_COMPANY_M = 10_000.0


def check(survey: Survey) -> Iterator[Draft]:
    """A point stands alone, away from all others of the set.

    What: the point is in its country (or no outlines are at hand) and has fewer than three others within eight times
    the distance at which a point of the set in that country usually has its third neighbour, and within 25 km. A
    warning; an error without outlines where the gap is over 300 km; a note on an island or a cape, where four in ten
    of the cells within 40 km are open sea, and where another point stands within 10 km: a slip leads one row away.

    Why it matters: a wrong degree leads away from the region without leaving the country.

    How to mend: look the place up. The alternatives are the places near other points from which one typing slip leads
    here; none is suggested, since the point may be right: then `check accept` it.

    A warning is only a note where a reference has the point at the same place.

    Trap: islands, and the far end of a distance course, stand alone by right; and a slip may lead to a shore. In a
    country of fewer than 20 points nothing can be said about company, and the rule is silent.

    Example: OUTPOST has its nearest neighbours 310 km away, where others have them at 12 km; one degree too small.
    """
    region = survey.region
    if len(survey.waypoints) < _LEAST_POINTS:
        return
    is_alone = (region.outside_m <= OUTSIDE_M) & region.is_lonely & ~survey.is_at_zero
    alone = is_alone.nonzero()[0].tolist()
    mends = likely_origins(survey, alone)
    for index in alone:
        point = survey.waypoints[index]
        gap_m = region.gap_m(survey.points, index)
        is_error = gap_m > FAR_OUT_M and survey.countries is None
        offered = mends.get(index, ())
        is_by_right = not is_error and (survey.is_on_island(index) or survey.has_company(index, _COMPANY_M))
        yield Draft(
            Severity.NOTE if is_by_right else survey.weighed(index, Severity.ERROR if is_error else Severity.WARNING),
            (point,),
            f"{point.code} {point.name!r} stands alone: the nearest points in company lie "
            f"{format_short_distance(gap_m)} away, where a point of this set usually has its third neighbour within "
            f"{format_short_distance(region.spacing_m)}" + candidate_words(offered),
            {"gap_m": round(gap_m, 1), "spacing_m": round(region.spacing_m, 1), "link_m": round(region.link_m, 1)},
            *split(survey, index, offered),
        )


RULE = Rule(
    name="outside-region",
    summary="A point stands alone, away from all others of the set.",
    function=check,
)
