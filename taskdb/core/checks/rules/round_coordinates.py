"""Rule `round-coordinates`: a position that is much rounder than those of its set."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from taskdb.core.checks.rule import Draft, Rule
from taskdb.core.checks.survey import Survey
from taskdb.core.matching.points import Points
from taskdb.core.model import E7, Severity

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

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
_WHOLE_DEGREE, _WHOLE_MINUTE = 0, 5
_LEAST_OF_MOST = 5
_NAMED = 10
"""Of a whole set that is round so many points are named."""


def check(survey: Survey) -> Iterator[Draft]:
    """A position is suspiciously round, or most of a set is.

    What: both coordinates are whole degrees, halves, tenths or hundredths, or whole minutes, in a set of which less
    than 5 % is so round. A note; a warning for whole and half degrees. Where more than half of the set stands on whole
    degrees (a warning) or whole minutes (a note) that is one finding, which names the first of them.

    Why it matters: it was read off a map's grid, or cut by a program: it may be a kilometre off, or fifty. A whole set
    on whole degrees has lost its minutes, most likely in columns that were left aside.

    How to mend: measure the position, at best on a map of 1:50 000; import a whole set again, with its minutes.

    Trap: one position in many is round by chance: of points to a thousandth of a minute one in a million is a whole
    minute in both coordinates, of points to a tenth one in a hundred.

    Example: PEAK stands at 47°30.000′N 11°10.000′E, both ten minutes, where the set is given to a metre.
    """
    rounds = roundness(survey.points)
    yield from _most_of_all(survey, rounds)
    if len(survey.waypoints) < _LEAST_POINTS:
        return
    count = len(rounds)
    usual = _usual_minutes(rounds)
    for step, (minutes, words, size_m) in enumerate(_STEPS):
        so_round = (rounds <= step).nonzero()[0].tolist()
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


def _most_of_all(survey: Survey, rounds: NDArray[np.int8]) -> Iterator[Draft]:
    """Yield one finding where most of the set stands on whole degrees, else where it stands on whole minutes."""
    for step, severity in ((_WHOLE_DEGREE, Severity.WARNING), (_WHOLE_MINUTE, Severity.NOTE)):
        so_round = (rounds <= step).nonzero()[0].tolist()
        if len(so_round) < _LEAST_OF_MOST or 2 * len(so_round) <= len(rounds):
            continue
        words, size_m = _STEPS[step][1:]
        what = words.removeprefix("a ") + "s"
        yield Draft(
            severity,
            tuple(survey.waypoints[index] for index in so_round[:_NAMED]),
            f"Most of the set, {len(so_round)} of {len(rounds)} points, stands on {what}: each may be off by "
            f"{size_m / 2000:.1f} km. Were minutes or seconds left aside?",
            {"multiple_of": words, "as_round": len(so_round), "points": len(rounds)},
        )
        return


def _usual_minutes(rounds: NDArray[np.int8]) -> float:
    """Return the finest step of which half of the set are multiples, in minutes; 0 where there is none.

    In a set of whole minutes one point in a hundred is a multiple of ten minutes by chance.
    """
    for number in range(len(_STEPS)):
        if (rounds <= number).sum() > len(rounds) / 2:
            return _STEPS[number][0]
    return 0.0


def roundness(points: Points) -> NDArray[np.int8]:
    """Return the coarsest step of which both coordinates are multiples, by number; beyond all steps where none is."""
    import numpy as np

    found = np.full(len(points), len(_STEPS), dtype=np.int8)
    for number in reversed(range(len(_STEPS))):
        size = _STEPS[number][0] * E7 / 60
        both = (points.latitude_e7, points.longitude_e7)
        is_round = [np.abs(value - np.rint(value / size) * size) <= 1.0 for value in both]
        found[is_round[0] & is_round[1]] = number
    return found


RULE = Rule(
    name="round-coordinates",
    summary="A position is suspiciously round, or most of a set is.",
    function=check,
)
