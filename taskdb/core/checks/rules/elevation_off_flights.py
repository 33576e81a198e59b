"""Rule `elevation-off-flights`: an aerodrome's elevation that is far from what receivers said on its ground."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.checks.flown_places import SEVERAL_DAYS, aerodromes_of, is_elevation_off, marked_by
from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Severity
from taskdb.core.quantities import FOOT_M


def check(survey: Survey) -> Iterator[Draft]:
    """An aerodrome's elevation is more than 100 m from what the receivers of gliders said that stood there.

    What: runs with `--flights DIR` alone, on aerodromes at which gliders stood on two days or more: the median of their
    GNSS altitudes is more than 100 m from the stated elevation. A note.

    Why it matters: a final glide is computed to the elevation of where it ends.

    How to mend: look the elevation up; feet that were taken for metres are said where they fit.

    Trap: receivers give heights above the sea or above the ellipsoid, tens of metres apart, and seldom say which: what
    is nearer than 100 m is not told.

    Example: WOLDFIELD states 1,276 m, receivers said 402 m on 4 days: read in the other unit it is 389 m and fits.
    """
    aerodromes = aerodromes_of(survey.waypoints)
    told: set[str] = set()
    for place in survey.given.flights or ():
        if len(place.days) < SEVERAL_DAYS:
            continue
        for _, point in marked_by(place, aerodromes):
            stated, said = point.elevation_m, place.gnss_altitude_m
            if point.code in told or stated is None or said is None or not is_elevation_off(point, place):
                continue
            told.add(point.code)
            other = next((m for m in (stated * FOOT_M, stated / FOOT_M) if abs(m - said) <= 100.0), None)
            fits = f"; read in the other unit it is {other:.0f} m and fits" if other is not None else ""
            yield Draft(
                Severity.NOTE,
                (point,),
                f"{point.code} {point.name!r} states {stated:.0f} m; the receivers of gliders that stood there said "
                f"{said:.0f} m, above the sea or above the ellipsoid{fits}.",
                {"elevation_m": stated, "gnss_altitude_m": round(said, 1), "days": len(place.days)},
            )


RULE = Rule(
    name="elevation-off-flights",
    summary="An aerodrome's elevation is far from what receivers of gliders said that stood there.",
    function=check,
    reads=("position", "elevation_m"),
    needs=frozenset({"flights"}),
)
