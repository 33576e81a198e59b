"""By what proposals are weighed: each criterion with its figure, the scale from figure to value, and its weight.

A figure says something of a course in its own unit; its scale makes a value of it, from 0 to 1; the weights add the
values up. Scales and weights are opinions that can be read here and changed at the command: none has a source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from taskdb.errors import UsageError


class Per(StrEnum):
    """What a figure is divided by before it is laid on its scale."""

    ONE = "one"
    TURN_POINT = "turn point"
    METRE = "metre of the course"
    WIDEST_MARGIN = "widest margin that a triangle can have"


@dataclass(frozen=True, slots=True)
class Criterion:
    """One figure of a course. `worst` has the value 0 and `best` the value 1, straight in between and clipped beyond.

    `words` says what the figure is, `good` why one end is better, `scale` in words what makes 0 and 1. `is_directed`:
    it differs between the two ways round.
    """

    name: str
    unit: str
    words: str
    good: str
    weight: float
    worst: float
    best: float
    scale: str
    is_directed: bool = False
    per: Per = Per.ONE


INTO_WIND = "into-wind"
WIND_HOME = "wind-home"
FEATURES = "features"
INSPECTED = "inspected"
LANDABLE = "landable"
OUT_OF_REACH = "out-of-reach"
SUN = "sun"
AIRSPACE = "nearest-airspace"
LAST_FLOWN = "last-flown"
FINISHERS = "finishers"
ANGLE = "angle"
MARGIN = "margin"

FULL_WIND_KMH = 20.0
SHORT_LEG_SHARE = 0.1
"""The wind on a leg that is a smaller share of the course counts in proportion, down to a value of 0.5."""
RECENT_MONTHS = 12
"""A turn point that was inspected within so many months was inspected lately."""
OUT_OF_REACH_SHARE = 0.2
CLEAR_OF_AIRSPACE_M = 10_000.0
"""From here on the distance to airspace adds nothing."""
SUN_ASIDE_DEG = 60.0
FRESH_MONTHS = 12.0

CRITERIA: tuple[Criterion, ...] = (
    Criterion(
        INTO_WIND, "km/h", "head wind on the first leg",
        "into the wind first, while height and time are there: what is hardest is done early",
        1.0, -FULL_WIND_KMH, FULL_WIND_KMH,
        "0 with 20 km/h from behind, 1 with 20 km/h from ahead; less on a leg below a tenth of the course", True,
    ),
    Criterion(
        WIND_HOME, "km/h", "tail wind on the last leg",
        "home with the wind, when the day grows weak",
        1.0, -FULL_WIND_KMH, FULL_WIND_KMH,
        "0 with 20 km/h from ahead, 1 with 20 km/h from behind; less on a leg below a tenth of the course", True,
    ),
    Criterion(
        FEATURES, "turn points", "turn points known by a feature that cannot be mistaken, or an aerodrome",
        "a pilot sees where to turn", 1.0, 0.0, 1.0, "the share of the turn points",
        per=Per.TURN_POINT,
    ),
    Criterion(
        INSPECTED, "turn points", f"turn points inspected within {RECENT_MONTHS} months",
        "what the list says of them is still so", 0.5, 0.0, 1.0, "the share of the turn points",
        per=Per.TURN_POINT,
    ),
    Criterion(
        LANDABLE, "turn points", "turn points known as aerodrome or field",
        "a pilot who gets low at the far end has somewhere to go", 1.0, 0.0, 1.0, "the share of the turn points",
        per=Per.TURN_POINT,
    ),
    Criterion(
        OUT_OF_REACH, "m", "course from which no landable point is within glide",
        "less of it is over land where a glider in trouble has nowhere to go", 2.0, OUT_OF_REACH_SHARE, 0.0,
        "1 for none, 0 for a fifth of the course and more", per=Per.METRE,
    ),
    Criterion(
        SUN, "deg", "angle between the last leg and the sun",
        "nobody flies home blind", 1.0, 0.0, SUN_ASIDE_DEG, "0 straight into it, 1 from 60 degrees beside it on", True,
    ),
    Criterion(
        AIRSPACE, "m", "distance from the legs to the nearest airspace that may matter",
        "there is room for a slip of navigation", 1.0, 0.0, CLEAR_OF_AIRSPACE_M,
        "0 where one touches it, 1 from 10 km on",
    ),
    Criterion(
        LAST_FLOWN, "months", "months since something alike was flown",
        "pilots see another part of the country", 0.5, 0.0, FRESH_MONTHS,
        "0 for today, 1 from a year on or where nothing alike was flown",
    ),
    Criterion(
        FINISHERS, "%", "finishers among the starters when something alike was flown",
        "it has been shown that it can be done", 0.5, 0.0, 100.0, "0 for none, 1 for all",
    ),
    Criterion(
        ANGLE, "deg", "smallest angle between two legs",
        "legs part widely, and gliders that come do not meet those that go", 0.5, 0.0, 60.0,
        "0 for none, 1 for 60 degrees and more",
    ),
    Criterion(
        MARGIN, "%", "how far inside its limits the triangle is, in percent points",
        "it stays a triangle of the rules when a point is changed", 0.5, 0.0, 1.0,
        "0 on a limit, 1 with all sides alike", per=Per.WIDEST_MARGIN,
    ),
)  # fmt: skip
BY_NAME: Mapping[str, Criterion] = {criterion.name: criterion for criterion in CRITERIA}


def weights_with(given: Mapping[str, float]) -> dict[str, float]:
    """Return every criterion's weight with what was given in place of its own; 0 leaves one out.

    UsageError for a name that is no criterion, a negative weight, or weights that leave nothing to go by.
    """
    for name, weight in given.items():
        if name not in BY_NAME:
            raise UsageError(
                "unknown-criterion", f"There is no criterion {name!r}.", hint=f"Criteria: {', '.join(BY_NAME)}."
            )
        if not 0 <= weight <= 1000:
            raise UsageError(
                "bad-weight", f"The weight {weight:g} of {name} is no weight.", hint="Give a number from 0 to 1000."
            )
    weights = {criterion.name: given.get(criterion.name, criterion.weight) for criterion in CRITERIA}
    if not any(weights.values()):
        raise UsageError("no-weights", "With every weight 0 nothing tells proposals apart.", hint="Leave one above 0.")
    return weights
