"""Which mends are almost surely right, and which come next: the order in which a librarian takes findings up.

Judges findings by what stands in them; computes no finding and mends nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from taskdb.core.findings import severity_rank
from taskdb.core.geodesy import distance_m
from taskdb.core.matching.limits import MEASURED_AGAIN_WITHIN_M
from taskdb.core.model import Finding, Position, Severity

_LIKE_PERCENT = 80
_CHANCE_AT_MOST = 0.01
_FAR_ENOUGH_M = 2_000.0
"""Nearer than this two makers' positions of one field differ by chance by what looks like a slip of a late digit: four
of 1,240 that differ (OurAirports and airportsdata, eleven countries).
"""
_PUBLIC = "airports"
"""A public list has slips of its own: against it a second witness has to say which side is wrong. Of three such slips
in 30,089 fields of OurAirports one, at George Lake in Nunavut, was the list's (107° W, from memory; it has 102°).
"""


def sure_mends(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return the open findings whose first mend is almost surely right, one a point, in the order given.

    Errors that one slip explains (`evidence.slip`, `evidence.explained`) and that offer one place only; no other error
    may move the point elsewhere, and a counterpart has to share code or name and lie 2 km away: among thousands of
    towns and aerodromes coordinates alone agree by chance. A public list needs a second witness.

    Measured on planted slips (airportsdata, eight regions): all of 1,433 mends right against a list of last season, all
    of 816 without any reference.
    """
    errors: dict[str, list[Finding]] = {}
    for finding in findings:
        if finding.severity is Severity.ERROR and finding.accepted is None:
            errors.setdefault(finding.codes[0], []).append(finding)
    found: dict[str, Finding] = {}
    for finding in findings:
        code = finding.codes[0]
        if code not in found and _is_explained(finding) and _is_unopposed(finding, errors[code]):
            found[code] = finding
    return tuple(found.values())


def by_certainty(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return the open findings that have a first mend, the most certain first, one a point."""
    sure = {finding.id for finding in sure_mends(findings)}
    ranked = sorted(
        (finding for finding in findings if finding.accepted is None and finding.suggestion is not None),
        key=lambda one: (
            one.id not in sure, severity_rank(one.severity), len(one.alternatives), one.rule, one.codes, one.id
        ),
    )  # fmt: skip
    first: dict[str, Finding] = {}
    for finding in ranked:
        first.setdefault(finding.codes[0], finding)
    return tuple(first.values())


def _is_explained(finding: Finding) -> bool:
    place = _place(finding)
    if finding.accepted is not None or finding.severity is not Severity.ERROR or place is None:
        return False
    evidence = finding.evidence
    if not (evidence.get("slip") or evidence.get("explained")):
        return False
    if evidence.get("by_chance", 0.0) > _CHANCE_AT_MOST or evidence.get("distance_m", math.inf) < _FAR_ENOUGH_M:
        return False
    if evidence.get("reference") == _PUBLIC and evidence.get("side") != "checked":
        return False
    if evidence.get("matched_by") == "coordinates" and evidence.get("name_likeness_percent", 0) < _LIKE_PERCENT:
        return False
    return all(other.position is None or _is_one(other.position, place) for other in finding.alternatives)


def _is_unopposed(finding: Finding, errors: Sequence[Finding]) -> bool:
    """Say whether no other error of the point moves it to another place."""
    place, others = _place(finding), [_place(other) for other in errors]
    return place is not None and all(other is None or _is_one(other, place) for other in others)


def _place(finding: Finding) -> Position | None:
    mend = finding.suggestion
    return mend.position if mend is not None and mend.field is None else None


def _is_one(place: Position, other: Position) -> bool:
    return distance_m(place, other) <= MEASURED_AGAIN_WITHIN_M
