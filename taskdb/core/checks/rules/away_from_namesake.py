"""Rule `away-from-namesake`: a point named as a settlement that lies elsewhere, where one typing slip leads to it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from taskdb.core.checks.gazetteer import Place
from taskdb.core.checks.mends import distinct
from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.slips import Slip, possible_origins
from taskdb.core.checks.survey import Survey
from taskdb.core.geodesy import distance_m
from taskdb.core.model import Severity, Suggestion, Waypoint
from taskdb.core.quantities import format_short_distance

_HERE_M = 8_000.0
"""A namesake so near is the place itself. Two makers have a town 0.5 km apart at the median; at 5 km three times as
many right points were told."""
_FITS_M = 2_000.0
_FITS_SHARE = 0.1
_CENTRE_SCALE_M = 300.0
"""How fast it becomes less likely, with distance, that a list has the centre of the same town there."""
_M_OF_E7 = 0.0111


class _Fit(NamedTuple):
    """A slip that leads to a namesake, how far it then lies from the centre, and how far that is from the point."""

    slip: Slip
    place: Place
    left_m: float
    away_m: float


def check(survey: Survey) -> Iterator[Draft]:
    """The point is named as a settlement that lies elsewhere, and one typing slip leads there.

    What: a list of settlements (`--against places`) knows the point's name in its country (the one that it states, else
    those of the set), none of that name within 8 km, and one slip of the hand leads from such a settlement to where
    the point stands, within 2 km of its centre and a tenth of the difference. A warning.

    Why it matters: it finds slips that stay inside the region without any list of your own to hold the set against.

    How to mend: look the place up. `check fix SET FINDING` takes the position with the slip put right, which is not the
    centre that the list has.

    Trap: two places of one name, of which the list knows one; and the list has faults of its own. Of a thousand right
    points about one is told. Only names are compared: that a place lies a kilometre from its town says nothing.

    Example: HILLTOWN lies 37 km from Hilltown; longitude minutes 71 look like 17 typed the other way round, which leads
    within 400 m of its centre.
    """
    assert survey.given.places is not None
    by_name = survey.given.places.by_name
    for index in [index for index, name in enumerate(survey.folded_names) if name in by_name]:
        fits = _fits(survey, index)
        if fits:
            yield _draft(survey, survey.waypoints[index], fits)


def _fits(survey: Survey, index: int) -> list[_Fit]:
    """Return the slips that lead to a namesake, the likeliest first; none where a namesake is near or none is known."""
    assert survey.given.places is not None
    point, expected = survey.waypoints[index], survey.region.expected[index]
    away = [
        (distance_m(point.position, place.position), place)
        for place in survey.given.places.by_name.get(survey.folded_names[index], ())
    ]
    if not away or min(metres for metres, _ in away) <= _HERE_M:
        return []
    known = [(metres, place) for metres, place in away if not expected or place.country in expected]
    found = []
    for slip in possible_origins(point.position, point.typed) if known else ():
        for metres, place in known:
            fits_m = min(_FITS_M, _FITS_SHARE * metres)
            if abs(slip.mended.latitude_e7 - place.position.latitude_e7) * _M_OF_E7 <= 1.01 * fits_m:
                left_m = distance_m(slip.mended, place.position)
                if left_m <= fits_m:
                    found.append(_Fit(slip, place, left_m, metres))
    return sorted(found, key=lambda fit: (fit.slip.cost + fit.left_m / _CENTRE_SCALE_M, fit.left_m, fit.place))


def _draft(survey: Survey, point: Waypoint, fits: list[_Fit]) -> Draft:
    assert survey.given.places is not None
    best, source = fits[0], survey.given.places.source
    country = f" ({best.place.country})" if best.place.country else ""
    told = (
        f"{point.code} {point.name!r} lies {format_short_distance(best.away_m)} from {best.place.name}{country} in "
        f"{source}, and nearer none is so called; {best.slip.words}, which leads within "
        f"{format_short_distance(best.left_m)} of its centre."
    )
    mends = distinct(Suggestion(point.code, f"{fit.slip.words}: {fit.place.name}", fit.slip.mended) for fit in fits)
    evidence = {
        "place": best.place.name,
        "place_country": best.place.country,
        "place_latitude_deg": best.place.position.latitude_deg,
        "place_longitude_deg": best.place.position.longitude_deg,
        "distance_m": round(best.away_m, 1),
        "left_over_m": round(best.left_m, 1),
        "slip": {"kind": best.slip.kind.value, "axis": best.slip.axis},
        "source": source,
    }
    return Draft(Severity.WARNING, (point,), told, evidence, mends[0], mends[1:])


RULE = Rule(
    name="away-from-namesake",
    summary="The point is named as a settlement that lies elsewhere, and one typing slip leads there.",
    function=check,
    reads=("name", "position", "country"),
    needs=frozenset({"places"}),
)
