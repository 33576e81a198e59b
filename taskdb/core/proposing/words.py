"""What people read of proposals: shapes, figures, and which figures lift or lower a course against all others."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from taskdb.core.kinds import HomeAt, ProposedShape
from taskdb.core.proposing import criteria as by
from taskdb.core.proposing.criteria import BY_NAME
from taskdb.core.quantities import Units, format_distance, format_duration, format_speed, format_wind

if TYPE_CHECKING:
    from taskdb.core.judgement.fit import Asked, Figures

_SHAPES: Mapping[ProposedShape, str] = {
    ProposedShape.FAI_TRIANGLE: "FAI triangles",
    ProposedShape.OUT_AND_RETURN: "Out-and-returns",
    ProposedShape.TRIANGLE: "Triangles",
    ProposedShape.QUADRILATERAL: "Quadrilaterals",
}
_MOST_FOR, _MOST_AGAINST = 3, 2
_CALM = 0.5
"""The value of a wind that neither helps nor hinders."""
_TELLS = 0.02
"""By so much a figure must lift or lower the score against the mean of all courses to be worth a word."""


def asked_words(shape: ProposedShape, home: HomeAt, least_m: float, most_m: float, units: Units) -> str:
    """Return what was asked for: `FAI triangles with home on a side, 290 to 310 km`."""
    where = " with home on a side" if home is HomeAt.SIDE else ""
    least = format_distance(least_m, units).removesuffix(f" {units.value}").removesuffix(".0")
    return f"{_SHAPES[shape]}{where}, {least} to {format_distance(most_m, units).replace('.0 ', ' ')}"


def chosen_words(shown: int, total: int, apart_m: float, units: Units, *, is_fewer: bool, is_fitted: bool) -> str:
    """Return how those that are shown were chosen among all; `is_fewer`: fewer than asked for differ, or suit areas."""
    apart = format_distance(apart_m, units, 0)
    if shown == total:
        return "All that there are."
    if is_fewer and is_fitted:
        return f"Only {shown} of {total:,} shown: areas suit no other that was tried."
    if is_fewer:
        return f"Only {shown} of {total:,} shown: no other lies {apart} from all of these."
    return f"The best {shown} of {total:,} of which no two lie nearer than {apart} to each other."


def weighed_words(weights: Mapping[str, float]) -> str:
    """Return by what was weighed: `weighed by into-wind 1, wind-home 1`."""
    if not weights:
        return "weighed by nothing: no criterion counts, so these come first in the list and are no better than others"
    return f"weighed by {', '.join(f'{name} {weight:g}' for name, weight in weights.items())}"


def suited_words(asked: Asked, units: Units) -> str:
    """Return what areas were to suit: a minimum time, speeds, the wind."""
    speeds = " to ".join(format_speed(speed, units) for speed in (asked.slowest_kmh, asked.fastest_kmh))
    wind = f"wind {format_wind(asked.wind)}" if asked.wind.speed_kmh > 0 else "calm air"
    return f"areas of one radius for a minimum time of {format_duration(round(asked.time_s))}, {speeds}, {wind}"


def sized_words(size: str) -> str:
    """Return `areas of 12 km` for a radius as it is typed: `12km`."""
    number = size.rstrip("abcdefghijklmnopqrstuvwxyz")
    return f"areas of {number} {size[len(number) :]}"


def areas_words(size: str, figures: Figures, units: Units) -> str:
    """Return what areas of a proposal are: `areas of 12 km: 238.0 to 331.0 km, for minimum times from 2:46 to 3:21`."""
    least, most = (format_distance(one.distance_m, units) for one in (figures.slowest, figures.fastest))
    first, last = figures.window_s
    said = f"{sized_words(size)}: {least.removesuffix(f' {units.value}')} to {most}"
    if first is None or last is None:
        return said
    times = (format_duration(math.ceil(first / 60) * 60), format_duration(math.floor(last / 60) * 60))
    return f"{said}, for minimum times from {times[0]} to {times[1]}"


def tried_words(tried: int, too_long: int, too_short: int, time_that_fits_s: float | None) -> str:
    """Return how areas went: of how many courses none suits, for whom, and what time would suit the best of those."""
    if not too_long and not too_short:
        return f"Areas suit all of the {tried} best that were tried."
    lacks = [
        f"{count} too {what}"
        for count, what in ((too_long, "long for the slowest"), (too_short, "short for the fastest"))
        if count
    ]
    said = f"Areas tried on the {tried} best that differ: {', '.join(lacks)}, however large."
    if time_that_fits_s is None:
        return said
    return f"{said} --time {format_duration(round(time_that_fits_s))} would suit the best of these."


def left_out_words(left_out: Mapping[str, str]) -> tuple[str, ...]:
    """Return which criteria did not count, those of one reason together."""
    names: dict[str, list[str]] = {}
    for name, reason in left_out.items():
        names.setdefault(reason, []).append(name)
    return tuple(f"not counted: {', '.join(some)} ({reason})" for reason, some in names.items())


def reasons(
    values: Mapping[str, float | None], usual: Mapping[str, float], weights: Mapping[str, float]
) -> tuple[Sequence[str], Sequence[str]]:
    """Return the criteria that lift a course most above the mean of all, and those that lower it, the most first."""
    total = sum(weights.values())
    gains = {
        name: weights[name] * (value - usual[name]) / total
        for name, value in values.items()
        if value is not None and name in usual
    }
    ranked = sorted(gains, key=lambda name: -gains[name])
    good = [name for name in ranked if gains[name] >= _TELLS and not _is_wind(name, values, below=True)]
    bad = [name for name in reversed(ranked) if gains[name] <= -_TELLS and not _is_wind(name, values, below=False)]
    return good[:_MOST_FOR], bad[:_MOST_AGAINST]


def _is_wind(name: str, values: Mapping[str, float | None], *, below: bool) -> bool:
    """Say whether it is a wind from the wrong side (`below`), or from the right one.

    Where all courses have it wrong, the least wrong one is above their mean: no pilot would call it a point in favour.
    """
    value = values[name]
    if name not in (by.INTO_WIND, by.WIND_HOME) or value is None:
        return False
    return value < _CALM if below else value > _CALM


def figure_words(name: str, figure: float | None, turn_points: int, units: Units) -> str:
    """Return a figure in words: `head wind on the first leg 14.0 km/h`; None is one that is not known."""
    if name == by.LAST_FLOWN:
        return "nothing alike was flown" if figure is None else f"something alike flown {figure:.0f} months ago"
    if figure is None:
        return f"{BY_NAME[name].words}: not known"
    of_points = {by.FEATURES: "with a clear feature", by.INSPECTED: "inspected lately", by.LANDABLE: "landable"}
    if name in of_points:
        return f"{figure:.0f} of {turn_points} turn points {of_points[name]}"
    if name in (by.INTO_WIND, by.WIND_HOME):
        is_ahead = (figure >= 0) is (name == by.INTO_WIND)
        leg = "first" if name == by.INTO_WIND else "last"
        return f"{'head' if is_ahead else 'tail'} wind on the {leg} leg {format_speed(abs(figure), units)}"
    if name == by.OUT_OF_REACH:
        return (
            f"{format_distance(figure, units, 0)} out of reach of fields"
            if figure > 0
            else "fields in reach all the way"
        )
    if name == by.AIRSPACE:
        more = "more than " if figure >= by.CLEAR_OF_AIRSPACE_M else ""
        return f"airspace {more}{format_distance(figure, units)} away" if figure > 0 else "through airspace"
    if name == by.SUN:
        return f"sun {figure:.0f}° beside the last leg"
    if name == by.FINISHERS:
        return f"{figure:.0f} % came home when something alike was flown"
    if name == by.ANGLE:
        return f"smallest angle {figure:.0f}°"
    return f"{figure:.1f} % inside the triangle's limits"
