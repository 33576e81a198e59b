"""Rule `round-coordinates`: a position that is much rounder than those of its set."""

from __future__ import annotations

from collections.abc import Iterator

from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.survey import Survey
from taskdb.core.model import E7, Severity, Waypoint

_STEPS = (
    (60 * 1.0, "a whole degree", 111_000.0),
    (30.0, "a half degree", 55_500.0),
    (10.0, "ten minutes", 18_500.0),
    (6.0, "a tenth of a degree", 11_100.0),
    (5.0, "five minutes", 9_260.0),
    (1.0, "a whole minute", 1_852.0),
    (0.6, "a hundredth of a degree", 1_111.0),
)
_RARE = 0.05
_LEAST_POINTS = 20


def check(survey: Survey) -> Iterator[Draft]:
    """A position is suspiciously round.

    What: both coordinates are whole degrees, halves, tenths or hundredths, or whole minutes, in a set of which less
    than 5 % is so round. A note; a warning for whole and half degrees.

    Why it matters: it was read off a map's grid, or cut by a program: it may be a kilometre off, or fifty.

    How to mend: measure the position, at best on a map of 1:50 000.

    Trap: one position in many is round by chance: of points to a thousandth of a minute one in a million is a whole
    minute in both coordinates, of points to a tenth one in a hundred.

    Example: PEAK stands at 47°30.000′N 11°10.000′E, both ten minutes, where the set is given to a metre.
    """
    if len(survey.waypoints) < _LEAST_POINTS:
        return
    rounds = [roundness(point) for point in survey.waypoints]
    count = len(rounds)
    usual = _usual_minutes(rounds)
    for step, (minutes, words, size_m) in enumerate(_STEPS):
        so_round = [index for index, level in enumerate(rounds) if level is not None and level <= step]
        if len(so_round) > _RARE * count:
            return
        if len(so_round) <= 4 * count * (usual / minutes) ** 2:
            continue
        for index in so_round:
            if rounds[index] == step:
                point = survey.waypoints[index]
                yield Draft(
                    Severity.WARNING if step < 2 else Severity.NOTE,
                    (point,),
                    f"{point.code} {point.name!r} is suspiciously round: both coordinates are multiples of {words}, as "
                    f"{len(so_round)} of {count} points are; it may be off by {size_m / 2000:.1f} km.",
                    {"multiple_of": words, "as_round": len(so_round), "points": count},
                )


def _usual_minutes(rounds: list[int | None]) -> float:
    """Return the finest step of which half of the set are multiples, in minutes; 0 where there is none.

    In a set of whole minutes one point in a hundred is a multiple of ten minutes by chance.
    """
    for number in range(len(_STEPS)):
        if sum(level is not None and level <= number for level in rounds) > len(rounds) / 2:
            return _STEPS[number][0]
    return 0.0


def roundness(point: Waypoint) -> int | None:
    """Return the coarsest step of which both coordinates are multiples, by number; None where there is none."""
    both = (point.position.latitude_e7, point.position.longitude_e7)
    for number, (minutes, _, _) in enumerate(_STEPS):
        size = minutes * E7 / 60
        if all(abs(value - round(value / size) * size) <= 1.0 for value in both):
            return number
    return None


RULE = Rule(
    name="round-coordinates",
    summary="A position is suspiciously round.",
    function=check,
)
