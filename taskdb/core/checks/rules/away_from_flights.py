"""Rule `away-from-flights`: an aerodrome that lies away from where gliders took off on several days."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.checks.flown_places import Misplaced, misplaced_aerodromes
from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Severity, Suggestion
from taskdb.core.numbers import counted
from taskdb.core.quantities import format_short_distance


def check(survey: Survey) -> Iterator[Draft]:
    """An aerodrome lies away from where gliders stood before they took off, on several days.

    What: runs with `--flights DIR` alone. Flight logs tell where gliders stood before take-off and after landing. Where
    they took off on two days or more and no aerodrome of the set lies within 1.5 km, the one within 5 km that has no
    gliders of its own is told; else each one without gliders of its own from which a single typing slip leads within
    1 km of where they stood. A warning; a note where a slip leads there from several aerodromes, and beyond 3 km where
    none explains it.

    Why it matters: who has landed out looks for the nearest aerodrome, and glides to where the list has it.

    How to mend: look the aerodrome up. The suggestion is its position with the slip put right, not where gliders stood.

    Trap: gliders that were launched elsewhere than at the aerodrome whose code they use; a winch field beside it; an
    airfield that the set lacks and a slip of another one explains by chance. A recorder that was switched on in the air
    says nothing. Turn points are no evidence: nobody stands there.

    Example: on 4 days 31 gliders took off 18 km from WOLDFIELD; latitude minutes 43 look like 34 typed the other way
    round, which leads within 300 m of where they stood.
    """
    for found in misplaced_aerodromes(survey.given.flights or (), survey.waypoints):
        yield _draft(found)


def _draft(found: Misplaced) -> Draft:
    point, place, slip = found.waypoint, found.place, found.slip
    said = (
        f"{point.code} {point.name!r} lies {format_short_distance(found.away_m)} from where gliders took off on "
        f"{counted(len(place.take_off_days), 'day')} ({counted(place.take_offs, 'flight')})"
    )
    leads = "" if slip is None else f"; {slip.words}, which leads there"
    others = f"; a slip leads there from {', '.join(found.others)} as well" if found.others else ""
    evidence = {
        "distance_m": round(found.away_m, 1),
        "stood_latitude_deg": place.position.latitude_deg,
        "stood_longitude_deg": place.position.longitude_deg,
        "days": len(place.take_off_days),
        "take_offs": place.take_offs,
        "landings": place.landings,
        "slip": None if slip is None else {"kind": slip.kind.value, "axis": slip.axis},
        "others": list(found.others),
    }
    return Draft(
        Severity.WARNING if found.is_likely else Severity.NOTE,
        (point,),
        f"{said}, and nobody stood at it{leads}{others}.",
        evidence,
        None if slip is None else Suggestion(point.code, f"{slip.words}: gliders took off there", slip.mended),
    )


RULE = Rule(
    name="away-from-flights",
    summary="An aerodrome lies away from where gliders stood before take-off, on several days.",
    function=check,
    needs=frozenset({"flights"}),
)
