"""Rule `runway-designator`: a runway whose painted numbers fit neither its heading nor each other."""

from __future__ import annotations

import re
from collections.abc import Iterator

from taskdb.core.checks.columns import once_or_each
from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.survey import Survey
from taskdb.core.model import Runway, Severity, Waypoint

_END = re.compile(r"(\d{1,2})\s*([LCRlcr]?)")
_OPPOSITE_SIDE = {"": "", "L": "R", "R": "L", "C": "C"}
_STEP_DEG = 10.0

End = tuple[int, str]


def check(survey: Survey) -> Iterator[Draft]:
    """A runway's designator fits neither its heading nor its other end.

    What: the designator is no number from 01 to 36; or its two ends are not 18 apart (left against right); or the
    heading, made magnetic where the variation is known, lies more than one step of 10° from the number. A warning. More
    than 20 points that are one in five of those with a runway are told once: it is the column.

    Why it matters: a pilot who lands out lines up by it.

    How to mend: look it up in the aeronautical publication of the country, and mend heading or designator.

    Trap: designators are magnetic and drift: one step off is common and no fault. In far northern Canada they are
    true. Headings in a set are true.

    Example: runway 07/25 with heading 107: 3 steps off; or 07/26: the ends are not opposite.

    Source: ICAO Annex 14 Vol I, 5.2.2.4 (as restated in training texts): the whole number nearest one tenth of the
    magnetic azimuth; a heading of 185° may be 18 or 19 (FAA AIM 2-3-3).
    """
    found: dict[int, list[Draft]] = {}
    stated = survey.waypoints.stating("runways")
    for index in stated.tolist():
        point = survey.waypoints[index]
        for number, runway in enumerate(point.runways):
            for told, evidence in _faults(survey, point, runway):
                draft = Draft(
                    Severity.WARNING,
                    (point,),
                    f"{point.code} {point.name!r}, runway {runway.designator}: {told}.",
                    {"runway": number, "designator": runway.designator, **evidence},
                )
                found.setdefault(index, []).append(draft)
    yield from once_or_each(
        survey,
        found,
        stated,
        name="runways",
        told="have a runway whose numbers fit neither its heading nor each other",
        doubt="headings or designators are in doubt as a whole. Look up what the source's column holds.",
    )


def _faults(survey: Survey, point: Waypoint, runway: Runway) -> Iterator[tuple[str, dict[str, float]]]:
    if not runway.designator:
        return
    ends = read_ends(runway.designator)
    if ends is None:
        # Grass strips go by names too ("N", "main"): only what looks like a number is judged.
        if re.match(r"\s*\d", runway.designator):
            yield "the designator is no number from 01 to 36", {}
        return
    if len(ends) == 2 and not are_opposite(ends[0], ends[1]):
        yield f"the ends are not opposite, {_opposite_words(ends[0])} would be", {}
    if runway.heading_true_deg is None:
        return
    variation = survey.given.variation_deg(point.position) if survey.given.variation_deg is not None else None
    magnetic = runway.heading_true_deg - (variation or 0.0)
    steps = min(steps_apart(end[0], magnetic) for end in ends)
    if steps > 1:
        known = f" ({magnetic % 360:.0f}° magnetic)" if variation is not None else ""
        yield (
            f"its heading {runway.heading_true_deg:.0f}°{known} is {steps} steps of 10° off",
            {"heading_true_deg": runway.heading_true_deg, "steps": steps},
        )


def read_ends(designator: str) -> tuple[End, ...] | None:
    """Return one end or both as number and side; None where the text is no designator."""
    parts = re.split(r"\s*[/\-]\s*", designator.strip())
    found: list[End] = []
    for part in parts:
        match = _END.fullmatch(part)
        if match is None or not 1 <= int(match[1]) <= 36:
            return None
        found.append((int(match[1]), match[2].upper()))
    return tuple(found) if 1 <= len(found) <= 2 else None


def are_opposite(one: End, other: End) -> bool:
    """Say whether two ends differ by 18, and left stands against right."""
    return abs(one[0] - other[0]) == 18 and _OPPOSITE_SIDE[one[1]] == other[1]


def steps_apart(number: int, heading_deg: float) -> int:
    """Return how many steps the number lies from the nearest one for a heading; of 5° halves the nearer counts."""
    off = abs((heading_deg - number * _STEP_DEG + 180.0) % 360.0 - 180.0)
    return max(0, -int(-(off - _STEP_DEG / 2) // _STEP_DEG))


def _opposite_words(end: End) -> str:
    return f"{end[0]:02d}{end[1]}/{(end[0] + 17) % 36 + 1:02d}{_OPPOSITE_SIDE[end[1]]}"


RULE = Rule(
    name="runway-designator",
    summary="A runway's designator fits neither its heading nor its other end.",
    function=check,
    reads=("runways", "position"),
)
