"""Rule `differs-from-reference`: a point that lies elsewhere in a reference, and no single slip explains it."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.checks.disagreements import Disagreement
from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.rules.typing_slip import evidence, other_label, witnesses
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Severity, Suggestion
from taskdb.core.quantities import format_short_distance


def check(survey: Survey) -> Iterator[Draft]:
    """A reference has the point more than 300 m elsewhere, and no single slip explains it.

    What: the point and its counterpart (same identity, same code and name, same name, or same code where codes have
    been kept) lie more than 300 m apart. A warning; an error where the point stands at the very position of another
    point of the reference, which is a row mixed up.

    Why it matters: one of the two is wrong, or the place was moved: tasks that use the old position lead elsewhere.

    How to mend: look the place up. If it was moved on purpose, `check accept` the finding and say so; else
    `check fix SET FINDING` takes the reference's position.

    Trap: two different places with one name. If the distance is large, look at code, country and elevation first.

    Example: HILL lies 2.4 km from HILL in region@4, and no single slip of the hand explains it.
    """
    for one in survey.disagreements:
        if one.counterpart.slip is None and (one.their_slip is None or one.side != "reference"):
            yield _draft(survey, one)


def _draft(survey: Survey, one: Disagreement) -> Draft:
    point, other = survey.waypoints[one.index], one.other
    told = (
        f"{point.code} {point.name!r} lies {format_short_distance(one.counterpart.distance_m)} from {other_label(one)} "
        f"in {one.reference.name}, and no single slip explains it"
    )
    more = {}
    severity = Severity.WARNING
    if one.counterpart.sits_on is not None:
        host = one.reference.waypoints[one.counterpart.sits_on]
        told += f"; it stands where {host.code} {host.name!r} is: rows mixed up"
        more = {"sits_on": host.code}
        severity = Severity.ERROR
    suggestion = Suggestion(point.code, f"the position of {other.code} in {one.reference.name}", other.position)
    is_theirs = one.side == "reference"
    return Draft(
        Severity.NOTE if is_theirs else severity,
        (point,),
        told + "." + witnesses(one),
        evidence(survey, one) | more,
        None if is_theirs else suggestion,
        (suggestion,) if is_theirs else (),
        (other,),
    )


RULE = Rule(
    name="differs-from-reference",
    summary="A reference has the point elsewhere, and no single slip explains it.",
    function=check,
    reads=("code", "name", "position"),
    needs=frozenset({"reference"}),
)
